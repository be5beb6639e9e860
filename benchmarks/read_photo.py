"""How fast a photograph is read, as ratios measured side by side in one run.

    python benchmarks/read_photo.py [--one PLUG.jpg] [--row ROW.jpg] [--rounds 9] [--out read_photo.json]

Warm, networks already open: reading a 12-megapixel JPEG end to end, against Pillow's plain full decode of the same
file. Cold, a fresh process each time: ``firingend read`` on the photograph, against importing torch and torchvision
and running one mobilenet_v3_small on it. The rivals take turns and medians are compared, so that a busy machine
slows both alike. Without photographs given, demo ones are enlarged to 12 megapixels.
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
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

import numpy as np
from PIL import Image

from firingend.photo.load import load_finer, load_picture
from firingend.reading.finder import Finder
from firingend.reading.reader import Reader, read_photo
from firingend.shipped import demo_dir

TWELVE_MEGAPIXELS = (4000, 3000)
SEED = 12

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
    parser.add_argument("--row", type=Path, help="JPEG of a row of plugs, about 12 megapixels")
    parser.add_argument("--models", type=Path, help="folder of the networks, for the warm part; default: shipped")
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--out", type=Path, default=Path("read_photo.json"))
    parser.add_argument("--no-cold", action="store_true", help="leave the cold starts out (they need torch)")
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as scratch:
        one = chosen.one or enlarged(demo_photo(row=False), Path(scratch) / "one.jpg")
        row = chosen.row or enlarged(demo_photo(row=True), Path(scratch) / "row.jpg")
        result = {
            "machine": {"cores": os.cpu_count(), "python": platform.python_version(), "cpu": platform.machine()},
            "warm": {name: warm(file, chosen.models, chosen.rounds) for name, file in (("one", one), ("row", row))},
        }
        if not chosen.no_cold:
            result["cold"] = cold(one, max(3, chosen.rounds // 2))
    print_table(result)
    chosen.out.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


def demo_photo(*, row: bool) -> Path:
    """The widest shipped photograph for a row, the squarest for a single plug."""
    photos = sorted(file for file in demo_dir().rglob("*") if file.suffix.lower() in (".jpg", ".jpeg"))
    if not photos:
        sys.exit("no demo photographs are shipped here; give --one and --row")

    def shape(file: Path) -> float:
        with Image.open(file) as photo:
            return photo.width * photo.height

    return max(photos, key=shape) if row else min(photos, key=shape)


def enlarged(photo: Path, to: Path) -> Path:
    """A JPEG of 12 megapixels with a sensor's grain, unless the photograph has as many already."""
    with Image.open(photo) as opened:
        if opened.width * opened.height >= 11_000_000:
            return photo
        large = opened.convert("RGB").resize(TWELVE_MEGAPIXELS, Image.Resampling.BICUBIC)
    grain = np.random.default_rng(SEED).normal(0, 4, (large.height, large.width, 1))
    pixels = np.clip(np.asarray(large) + grain, 0, 255).astype(np.uint8)
    Image.fromarray(pixels).save(to, quality=90)
    return to


def seconds(work: Callable[[], object]) -> float:
    """Wall-clock time of one call."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def take_turns(rivals: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Median seconds of each rival, run in turn; the first round only warms caches."""
    taken: dict[str, list[float]] = {name: [] for name in rivals}
    for turn in range(rounds + 1):
        for name, work in rivals.items():
            spent = seconds(work)
            if turn:
                taken[name].append(spent)
    return {name: median(times) for name, times in taken.items()}


def full_decode(file: Path) -> None:
    """What a program does that opens a photograph with Pillow and looks at it."""
    with Image.open(file) as photo:
        photo.load()


def warm(file: Path, models: Path | None, rounds: int) -> dict[str, object]:
    """Reading against decoding one file, and where the reading spends its time."""
    finder, reader = Finder(models), Reader(models)
    times = take_turns(
        {
            "pillow_decode_s": lambda: full_decode(file),
            "read_s": lambda: read_photo(file, finder=finder, reader=reader),
        },
        rounds,
    )
    reading = read_photo(file, finder=finder, reader=reader)
    return {
        **times,
        "ratio": times["read_s"] / times["pillow_decode_s"],
        "firing_ends": len(reading.readings),
        "pixels": reading.width * reading.height,
        "file_bytes": file.stat().st_size,
        "stages": stages(file, finder, reader, rounds),
    }


def stages(file: Path, finder: Finder, reader: Reader, rounds: int) -> dict[str, float]:
    """Median seconds of each stage by itself."""
    picture = load_picture(file, min_side=int(finder.card.long_side / 1.1))
    ends = finder.find(picture)
    work: dict[str, Callable[[], object]] = {
        "decode_and_measure_s": lambda: load_picture(file, min_side=int(finder.card.long_side / 1.1)),
        "find_s": lambda: finder.find(picture),
    }
    if ends:
        needed = int(reader.scale_for(ends) * max(picture.full_width, picture.full_height) / 1.1)
        finer = load_finer(picture, needed)
        crops = np.stack([reader.crop(finer, end) for end in ends])
        if finer.scale > picture.scale:
            work["finer_decode_s"] = lambda: load_finer(picture, needed)
        work["crop_s"] = lambda: [reader.crop(finer, end) for end in ends]
        work["read_crops_s"] = lambda: reader.read(crops)
    return take_turns(work, rounds)


def cold(file: Path, rounds: int) -> dict[str, float]:
    """Fresh processes: wall-clock seconds and peak memory of both, medians, and their ratios."""
    commands = {
        "firingend": [sys.executable, "-m", "firingend", "read", str(file)],
        "mobilenet": [sys.executable, "-c", MOBILENET, str(file)],
    }
    spent: dict[str, list[tuple[float, int]]] = {name: [] for name in commands}
    for turn in range(rounds + 1):
        for name, command in commands.items():
            run = run_once(command)
            if turn:
                spent[name].append(run)
    result: dict[str, float] = {}
    for name, runs in spent.items():
        result[f"{name}_s"] = median(run[0] for run in runs)
        result[f"{name}_peak_mb"] = median(run[1] for run in runs) / 1024
    result["ratio"] = result["firingend_s"] / result["mobilenet_s"]
    result["memory_ratio"] = result["firingend_peak_mb"] / result["mobilenet_peak_mb"]
    return result


# A child's peak counts what its parent held when it was started, so a small process stands between.
RELAY = """
import json, resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
spent = time.perf_counter() - start
sys.stderr.buffer.write(done.stderr)
print(json.dumps([spent, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss]))
sys.exit(done.returncode)
"""


def run_once(command: list[str]) -> tuple[float, int]:
    """Seconds and peak resident KiB (Linux) of one process."""
    done = subprocess.run([sys.executable, "-c", RELAY, *command], capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{' '.join(command[:4])} failed:\n{done.stderr}")
    spent, peak = json.loads(done.stdout)
    return spent, peak


def print_table(result: dict) -> None:
    """The ratios, and what they are made of."""
    print(f"{'':34}{'firingend':>12}{'rival':>12}{'ratio':>8}")
    for name, title in (("one", "one plug / Pillow decode, ms"), ("row", "row / Pillow decode, ms")):
        part = result["warm"][name]
        ends = f" ({part['firing_ends']} found)"
        print(f"{title + ends:34}{part['read_s'] * 1e3:12.1f}{part['pillow_decode_s'] * 1e3:12.1f}{part['ratio']:8.2f}")
        for stage, spent in part["stages"].items():
            print(f"    {stage.removesuffix('_s').replace('_', ' '):30}{spent * 1e3:12.1f}")
    if cold_part := result.get("cold"):
        print(
            f"{'cold start / torch mobilenet, ms':34}{cold_part['firingend_s'] * 1e3:12.0f}"
            f"{cold_part['mobilenet_s'] * 1e3:12.0f}{cold_part['ratio']:8.2f}"
        )
        print(
            f"{'peak memory, MB':34}{cold_part['firingend_peak_mb']:12.0f}"
            f"{cold_part['mobilenet_peak_mb']:12.0f}{cold_part['memory_ratio']:8.2f}"
        )


if __name__ == "__main__":
    main()
