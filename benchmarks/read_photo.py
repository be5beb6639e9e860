"""How fast a photograph is read, as ratios measured side by side in one run.

    python benchmarks/read_photo.py [--one PLUG.jpg] [--row ROW.jpg] [--rounds 15] [--out read_photo.json]

Four bars. Warm, networks already open: a 12-megapixel JPEG of one plug, and one of a row of four, from the file to
what ``firingend read --json`` prints, outlines and colours of the parts and all, against Pillow's plain full decode of
the same file. Cold, a fresh process each time: ``firingend read --json`` on the one plug against importing torch and
torchvision and running one mobilenet_v3_small on it, in seconds and in peak memory.

The rivals take turns, and what counts is the median over the rounds of one round's ratio, so that a busy machine slows
both alike. Reading also decodes and cuts in a second thread, which a busy machine has no core for: the ratio of
processor time, whatever the thread, is printed beside it.

Warm, each rival has a process of its own. A decoded photograph is 48 MB that the C library gives back to the system and
fetches again, page by page, each time; whether it does hangs on what else lies in the heap, and is a quarter of the
decoding time. In one process the one would so change the other's time. The bars are for heaps as a program finds them;
a second line says what it would be if the C library kept its memory (glibc only), where the decoder gains most.

Without photographs given, demo ones serve. The one plug is enlarged to 12 megapixels. The row of three becomes one of
four by repeating the strip round its last plug; the whole is shrunk to fit and mirrored below. Both get a sensor's
grain, without which renders are smaller files and decode faster than photographs. A third photograph, of the same row
so far off that its firing ends are some 150 px wide and need the full scale, has no bar.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from itertools import pairwise
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.cli.as_json import as_text, photo_reading
from firingend.photo.load import load_finer, load_picture
from firingend.reading.finder import Finder
from firingend.reading.reader import Reader, read_photo
from firingend.shipped import demo_dir

WIDTH, HEIGHT = 4000, 3000
SEED = 12
FAR = 0.36  # how much smaller the far row is

KEPT_HEAP = {"MALLOC_TRIM_THRESHOLD_": str(1 << 30), "MALLOC_MMAP_THRESHOLD_": str(1 << 25)}

Seconds = tuple[float, float]
"""Wall-clock and processor seconds."""

BARS = {"one": 0.7, "row": 1.5, "cold": 0.35, "memory": 0.35}

MOBILENET = """
import sys, torch, torchvision
from PIL import Image
from torchvision.transforms.functional import to_tensor
network = torchvision.models.mobilenet_v3_small(weights=None).eval()
photo = Image.open(sys.argv[1]).convert("RGB").resize((224, 224))
with torch.inference_mode():
    network(to_tensor(photo)[None])
"""


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, print a table and write the numbers as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--one", type=Path, help="JPEG of one plug, about 12 megapixels")
    parser.add_argument("--row", type=Path, help="JPEG of a row of four plugs, about 12 megapixels")
    parser.add_argument("--models", type=Path, help="folder of the networks, for the warm part; default: shipped")
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--out", type=Path, default=Path("read_photo.json"))
    parser.add_argument("--no-cold", action="store_true", help="leave the cold starts out (they need torch)")
    chosen = parser.parse_args(arguments)
    finder, reader = Finder(chosen.models), Reader(chosen.models)
    with tempfile.TemporaryDirectory() as scratch:
        photos = photographs(chosen.one, chosen.row, Path(scratch), finder)
        result = {
            "machine": {"cores": os.cpu_count(), "python": platform.python_version(), "cpu": platform.machine()},
            "load_before": os.getloadavg() if hasattr(os, "getloadavg") else None,
            "warm": warm(photos, chosen.models, finder, reader, chosen.rounds),
        }
        if not chosen.no_cold:
            result["cold"] = cold(photos["one"], max(5, chosen.rounds // 2))
        result["load_after"] = os.getloadavg() if hasattr(os, "getloadavg") else None
    print_table(result)
    chosen.out.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


def photographs(one: Path | None, row: Path | None, scratch: Path, finder: Finder) -> dict[str, Path]:
    """The photographs to read: those given, or made from the demo ones."""
    photos = {
        "one": one or saved(np.asarray(twelve_megapixels(demo_photo(row=False))), scratch / "one.jpg"),
        "row": row or saved(row_of_four(demo_photo(row=True), finder), scratch / "row.jpg"),
    }
    if row is None:
        photos["far"] = saved(far_off(photos["row"]), scratch / "far.jpg")
    return photos


def demo_photo(*, row: bool) -> Path:
    """The largest shipped photograph for a row, the smallest for a single plug."""
    photos = sorted(file for file in demo_dir().rglob("*") if file.suffix.lower() in (".jpg", ".jpeg"))
    if not photos:
        sys.exit("no demo photographs are shipped here; give --one and --row")

    def size(file: Path) -> int:
        with Image.open(file) as photo:
            return photo.width * photo.height

    return max(photos, key=size) if row else min(photos, key=size)


def twelve_megapixels(photo: Path) -> Image.Image:
    """A photograph at 4000 x 3000."""
    with Image.open(photo) as opened:
        return opened.convert("RGB").resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)


def row_of_four(photo: Path, finder: Finder) -> NDArray[np.uint8]:
    """Pixels of a row of four plugs, out of a photograph of two or three side by side."""
    with tempfile.TemporaryDirectory() as scratch:
        large = twelve_megapixels(photo)
        large.save(Path(scratch) / "row.png", compress_level=0)
        ends = finder.find(load_picture(Path(scratch) / "row.png"))
    pixels = np.asarray(large)
    missing = 4 - len(ends)
    if missing <= 0:
        return pixels
    centres = [(end.box[0] + end.box[2]) / 2 for end in ends]
    apart = round(np.mean([b - a for a, b in pairwise(centres)])) if len(ends) > 1 else 0
    if not apart:
        sys.exit(f"{photo} is no row that a fourth plug can be added to; give --row")
    left = min(round(centres[-1] - apart / 2), WIDTH - apart)
    strip = pixels[:, left : left + apart]
    wide = np.concatenate((pixels[:, : left + apart], *[strip] * missing, pixels[:, left + apart :]), axis=1)
    small = Image.fromarray(wide).resize(
        (WIDTH, round(wide.shape[0] * WIDTH / wide.shape[1])), Image.Resampling.LANCZOS
    )
    below = HEIGHT - small.height
    return np.concatenate((np.asarray(small), np.asarray(small)[-below:][::-1]), axis=0)


def far_off(row: Path) -> NDArray[np.uint8]:
    """The row from farther away: small in the middle of a larger picture of its own background."""
    pixels = np.asarray(Image.open(row).convert("RGB"))
    small = np.asarray(Image.fromarray(pixels).resize((round(WIDTH * FAR), round(HEIGHT * FAR)), Image.Resampling.BOX))
    far = np.tile(pixels[: HEIGHT // 4], (4, 1, 1))  # above the plugs
    top, left = (HEIGHT - small.shape[0]) // 2, (WIDTH - small.shape[1]) // 2
    far[top : top + small.shape[0], left : left + small.shape[1]] = small
    return far


def saved(pixels: NDArray[np.uint8], to: Path) -> Path:
    """A JPEG with a sensor's grain."""
    grain = np.random.default_rng(SEED).normal(0, 4, (*pixels.shape[:2], 1))
    Image.fromarray(np.clip(pixels + grain, 0, 255).astype(np.uint8)).save(to, quality=90)
    return to


def spent(work: Callable[[], object]) -> Seconds:
    """Wall-clock and processor seconds of one call."""
    wall, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - wall, time.process_time() - processor


def take_turns(rivals: dict[str, Callable[[], object]], rounds: int) -> dict[str, list[tuple[float, float]]]:
    """Seconds of each rival in each round, run in turn; a first round only warms caches."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in rivals}
    for turn in range(rounds + 1):
        for name, work in rivals.items():
            seconds = spent(work)
            if turn:
                taken[name].append(seconds)
    return taken


def full_decode(file: Path) -> None:
    """What a program does that opens a photograph with Pillow and looks at it."""
    with Image.open(file) as photo:
        photo.load()


def read_to_json(file: Path, finder: Finder, reader: Reader) -> None:
    """What ``firingend read --json`` does with a photograph."""
    as_text([photo_reading(read_photo(file, finder=finder, reader=reader))])


def decodes(pipe: Connection, _models: Path | None) -> None:
    """Process that decodes the files it is told and answers with the seconds it took."""
    while file := pipe.recv():
        pipe.send(spent(partial(full_decode, file)))


def reads(pipe: Connection, models: Path | None) -> None:
    """Process that reads the files it is told and answers with the seconds it took."""
    finder, reader = Finder(models), Reader(models)
    while file := pipe.recv():
        pipe.send(spent(partial(read_to_json, file, finder, reader)))


@contextmanager
def at_work(
    work: Callable[[Connection, Path | None], None], models: Path | None
) -> Iterator[Callable[[Path], Seconds]]:
    """A process of its own that does one kind of work; call what is yielded with a file for the seconds it took."""
    spawn = get_context("spawn")  # a fork would inherit this process's heap
    ours, theirs = spawn.Pipe()
    process = spawn.Process(target=work, args=(theirs, models))
    process.start()
    theirs.close()

    def seconds(file: Path) -> Seconds:
        ours.send(file)
        taken: Seconds = ours.recv()
        return taken

    try:
        yield seconds
    finally:
        ours.send(None)
        process.join()


@contextmanager
def environment(settings: dict[str, str]) -> Iterator[None]:
    """Settings that processes started inside take over."""
    before = {name: os.environ.get(name) for name in settings}
    os.environ.update(settings)
    try:
        yield
    finally:
        for name, value in before.items():
            os.environ.pop(name) if value is None else os.environ.update({name: value})


def in_turn(photos: dict[str, Path], models: Path | None, rounds: int) -> dict[str, dict[str, Any]]:
    """Reading each photograph against decoding it, each in its own process, photograph by photograph in turn."""
    with at_work(reads, models) as read, at_work(decodes, models) as decode:
        taken = {name: ([], []) for name in photos}
        for turn in range(rounds + 2):  # the first opens the networks, the second settles the heaps
            for name, file in photos.items():
                seconds = read(file), decode(file)
                if turn > 1:
                    for kept, one in zip(taken[name], seconds, strict=True):
                        kept.append(one)
    return {name: ratios(ours, theirs) for name, (ours, theirs) in taken.items()}


def warm(
    photos: dict[str, Path], models: Path | None, finder: Finder, reader: Reader, rounds: int
) -> dict[str, dict[str, Any]]:
    """Reading each photograph against decoding it, and where the reading spends its time."""
    usual = in_turn(photos, models, rounds)
    with environment(KEPT_HEAP):
        kept = in_turn(photos, models, rounds)
    return {
        name: {
            **usual[name],
            "kept_heap": kept[name],
            "firing_ends": len(read_photo(file, finder=finder, reader=reader).readings),
            "file_bytes": file.stat().st_size,
            "stages": stages(file, finder, reader, max(5, rounds // 2)),
        }
        for name, file in photos.items()
    }


def ratios(ours: list[tuple[float, float]], theirs: list[tuple[float, float]]) -> dict[str, Any]:
    """Median seconds of both, the median of the rounds' ratios with its quartiles, and that of processor time."""
    by_round = [mine[0] / other[0] for mine, other in zip(ours, theirs, strict=True)]
    return {
        "firingend_s": median(wall for wall, _ in ours),
        "rival_s": median(wall for wall, _ in theirs),
        "ratio": median(by_round),
        "ratio_quartiles": quantiles(by_round, n=4)[::2],
        "processor_ratio": median(mine[1] / other[1] for mine, other in zip(ours, theirs, strict=True)),
    }


def stages(file: Path, finder: Finder, reader: Reader, rounds: int) -> dict[str, float]:
    """Median seconds of each stage by itself, one after the other in one thread."""
    coarse_side = int(finder.card.long_side / 1.1)
    picture = load_picture(file, min_side=coarse_side)
    ends = finder.find(picture)
    _, enough = finder.glance(picture)
    work: dict[str, Callable[[], object]] = {
        "decode_and_measure_s": lambda: load_picture(file, min_side=coarse_side),
        "glance_s": lambda: finder.glance(picture),
    }
    if not enough:
        work["look_s"] = lambda: finder.look(picture)
    if ends:
        needed = int(reader.scale_for(ends) * max(picture.full_width, picture.full_height) / 1.1)
        within = reader.reach(ends)
        finer = load_finer(picture, needed, within)
        crops = np.stack([reader.crop(finer, end) for end in ends])
        if finer.scale > picture.scale:
            work["finer_decode_s"] = lambda: load_finer(picture, needed, within)
        work["crop_s"] = lambda: [reader.crop(finer, end) for end in ends]
        work["read_crops_s"] = lambda: [reader.read(crop[None]) for crop in crops]
    return {name: median(wall for wall, _ in taken) for name, taken in take_turns(work, rounds).items()}


def cold(file: Path, rounds: int) -> dict[str, Any]:
    """Fresh processes: seconds and peak memory of both, and their ratios."""
    commands = {
        "firingend": [sys.executable, "-m", "firingend", "read", "--json", str(file)],
        "mobilenet": [sys.executable, "-c", MOBILENET, str(file)],
    }
    runs: dict[str, list[tuple[float, float, int]]] = {name: [] for name in commands}
    for turn in range(rounds + 1):
        for name, command in commands.items():
            run = run_once(command)
            if turn:
                runs[name].append(run)
    peaks = {name: median(run[2] for run in taken) / 1024 for name, taken in runs.items()}
    return {
        **ratios([run[:2] for run in runs["firingend"]], [run[:2] for run in runs["mobilenet"]]),
        "firingend_peak_mb": peaks["firingend"],
        "rival_peak_mb": peaks["mobilenet"],
        "memory_ratio": peaks["firingend"] / peaks["mobilenet"],
    }


# A child's peak counts what its parent held when it was started, so a small process stands between.
RELAY = """
import json, resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
spent = time.perf_counter() - start
sys.stderr.buffer.write(done.stderr)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps([spent, used.ru_utime + used.ru_stime, used.ru_maxrss]))
sys.exit(done.returncode)
"""


def run_once(command: list[str]) -> tuple[float, float, int]:
    """Wall-clock and processor seconds and peak resident KiB (Linux) of one process."""
    done = subprocess.run([sys.executable, "-c", RELAY, *command], capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{' '.join(command[:4])} failed:\n{done.stderr}")
    wall, processor, peak = json.loads(done.stdout)
    return wall, processor, peak


def print_table(result: dict[str, Any]) -> None:
    """The ratios, and what they are made of."""
    print(f"{'':36}{'firingend':>11}{'rival':>9}{'ratio':>8}{'quartiles':>14}{'processor':>11}{'bar':>7}")
    titles = {"one": "one plug / Pillow decode, ms", "row": "row / Pillow decode, ms", "far": "far row, ms"}
    for name, part in result["warm"].items():
        print_line(f"{titles[name]} ({part['firing_ends']} found)", part, BARS.get(name))
        print_line("    with heaps that are kept", part["kept_heap"], None)
        for stage, seconds in part["stages"].items():
            print(f"    {stage.removesuffix('_s').replace('_', ' '):32}{seconds * 1e3:11.1f}")
    if part := result.get("cold"):
        print_line("cold start / torch mobilenet, ms", part, BARS["cold"])
        peaks = f"{part['firingend_peak_mb']:11.0f}{part['rival_peak_mb']:9.0f}{part['memory_ratio']:8.2f}"
        print(f"{'peak memory, MB':36}{peaks}{'':25}{BARS['memory']:7.2f}")
    if result["load_before"]:
        print(f"load on {result['machine']['cores']} cores: {result['load_before'][0]:.1f} before, ", end="")
        print(f"{result['load_after'][0]:.1f} after")


def print_line(title: str, part: dict[str, Any], bar: float | None) -> None:
    """One ratio."""
    low, high = part["ratio_quartiles"]
    numbers = f"{part['firingend_s'] * 1e3:11.1f}{part['rival_s'] * 1e3:9.1f}{part['ratio']:8.2f}"
    print(f"{title:36}{numbers}{f'{low:.2f}..{high:.2f}':>14}{part['processor_ratio']:11.2f}", end="")
    print(f"{bar:7.2f}" if bar else "")


if __name__ == "__main__":
    main()
