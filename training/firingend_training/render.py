"""Renders a set of labelled firing-end photographs.

``python -m firingend_training.render --out SET --plugs 1000``

Builder processes draw scenes as arrays, render processes trace them (one a graphics card is best: kernels are compiled
once and nothing is time-sliced), developer processes take several phone-like pictures of every traced view. A scene
depends on seed and number alone, whatever process it meets; a run can be stopped and resumed.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import queue
import sys
import time
import traceback
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from tqdm import tqdm

from firingend.errors import UserError
from firingend_training.render_stages import (
    Done,
    Failed,
    build_scenes,
    develop_views,
    one_thread_each,
    trace_scenes,
)
from firingend_training.scenes.composition import KINDS, ScenePlan, SceneSettings, plan_scene
from firingend_training.truth import write_truth

HOPELESS = 30
"""So many scenes failing from the first on mean that something is missing, and that waiting brings nothing."""


@dataclass(frozen=True, slots=True)
class RenderSettings:
    """Everything a rendered set depends on; saved beside it as ``settings.json``."""

    scenes: SceneSettings
    plugs: int = 100
    first_scene: int = 0
    variant: str = "auto"
    close_samples: int = 64
    wide_samples: int = 12
    passes: int = 2
    plain_passes: int = 0
    denoise: bool = False
    depth: int = 6


@dataclass(frozen=True, slots=True)
class Machine:
    """How the work is spread; does not change the pictures."""

    builders: int
    renderers: int
    developers: int
    device_index: int | None
    minutes: float | None


def plan_run(settings: RenderSettings) -> list[ScenePlan]:
    """Scenes until the asked number of distinct plugs is reached."""
    plans: list[ScenePlan] = []
    plugs, number = 0, settings.first_scene
    while plugs < settings.plugs:
        plan = plan_scene(settings.scenes, number)
        plans.append(plan)
        plugs += len(plan.labels)
        number += 1
    return plans


def render_set(out: Path, settings: RenderSettings, machine: Machine, quiet: bool = False) -> dict[str, Any]:
    """Render what is missing of a set.

    Returns
    -------
    Counts and seconds: ``pictures``, ``scenes``, ``failed``, ``seconds``, ``pictures_per_second`` and the seconds
    the stages were busy.

    Raises
    ------
    UserError
        When the first `HOPELESS` scenes fail.
    """
    _prepare(out, settings)
    finished = _finished_scenes(out)
    plans = [p for p in plan_run(settings) if p.number not in finished]
    if not plans:
        print("nothing left to render", file=sys.stderr)
    run = _Run(out, settings, machine)
    try:
        return run.work(plans, quiet)
    finally:
        run.stop()


def _prepare(out: Path, settings: RenderSettings) -> None:
    for folder in (out / "pictures", out / "masks"):
        folder.mkdir(parents=True, exist_ok=True)
    file = out / "settings.json"
    text = json.dumps(asdict(settings), indent=1) + "\n"
    if file.exists():
        before, now = json.loads(file.read_text()), json.loads(text)
        before.setdefault("plain_passes", 0)  # sets begun before there were any
        for free in ("plugs", "variant", "close_samples", "wide_samples", "denoise"):
            before.pop(free, None)
            now.pop(free, None)
        if before != now:
            raise SystemExit(
                f"{file}: was made with other settings; give the same settings to go on with it, or another --out"
            )
    file.write_text(text)


def _finished_scenes(out: Path) -> set[int]:
    file = out / "scenes-done.txt"
    return {int(line) for line in file.read_text().split()} if file.exists() else set()


class _Run:
    """The processes of a run and the queues between them."""

    def __init__(self, out: Path, settings: RenderSettings, machine: Machine) -> None:
        context = multiprocessing.get_context("spawn")
        self.out, self.settings, self.machine = out, settings, machine
        self.plans: Any = context.Queue()
        self.built: Any = context.Queue(maxsize=2 * machine.builders + 2)
        self.traced: Any = context.Queue(maxsize=6 * machine.developers + 6)
        self.reports: Any = context.Queue()
        self.stopping = context.Event()
        args = (settings, self.stopping)
        self.processes = [
            *(
                context.Process(target=build_scenes, args=(*args, self.plans, self.built, self.reports), daemon=True)
                for _ in range(machine.builders)
            ),
            *(
                context.Process(
                    target=trace_scenes,
                    args=(*args, machine.device_index, self.built, self.traced, self.reports),
                    daemon=True,
                )
                for _ in range(machine.renderers)
            ),
            *(
                context.Process(target=develop_views, args=(*args, out, self.traced, self.reports), daemon=True)
                for _ in range(machine.developers)
            ),
        ]

    def work(self, plans: list[ScenePlan], quiet: bool) -> dict[str, Any]:
        start = time.monotonic()
        deadline = start + 60 * self.machine.minutes if self.machine.minutes else None
        for plan in plans:
            self.plans.put(plan)
        if plans:
            with one_thread_each():
                for process in self.processes:
                    process.start()
        busy = {"build": 0.0, "trace": 0.0, "develop": 0.0}
        pictures = scenes = failed = 0
        with tqdm(total=len(plans), unit="scene", disable=quiet) as bar:
            while scenes < len(plans) and (deadline is None or time.monotonic() < deadline):
                report = self._next_report()
                if report is None:
                    break
                if isinstance(report, Failed):
                    failed += 1
                    self._log(report)
                else:
                    pictures += self._keep(report)
                    for stage, seconds in report.seconds.items():
                        busy[stage] += seconds
                scenes += 1
                if scenes == failed == HOPELESS:
                    raise UserError(
                        f"the first {HOPELESS} scenes failed, the last one in its {report.stage} stage: "
                        f"{report.reason.strip().splitlines()[-1]}",
                        f"mend that; {self.out / 'failed.txt'} tells it of every scene",
                    )
                bar.update()
                bar.set_postfix(pictures=pictures, failed=failed, refresh=False)
        seconds = time.monotonic() - start
        return {
            "pictures": pictures,
            "scenes": scenes,
            "failed": failed,
            "seconds": round(seconds, 1),
            "pictures_per_second": round(pictures / max(seconds, 1e-6), 2),
            **{f"{stage}_busy_seconds": round(value, 1) for stage, value in busy.items()},
        }

    def _next_report(self) -> Done | Failed | None:
        while True:
            try:
                report: Done | Failed = self.reports.get(timeout=2)
                return report
            except queue.Empty:
                tracers = self.processes[self.machine.builders :][: self.machine.renderers]
                if not any(p.is_alive() for p in tracers):
                    print("every render process has ended; see failed.txt", file=sys.stderr)
                    return None

    def _keep(self, done: Done) -> int:
        write_truth(self.out / "truth.jsonl", done.truths)
        with (self.out / "scenes-done.txt").open("a", encoding="utf-8") as file:
            file.write(f"{done.scene}\n")
        return len(done.truths)

    def _log(self, failed: Failed) -> None:
        with (self.out / "failed.txt").open("a", encoding="utf-8") as file:
            file.write(f"scene {failed.scene}, {failed.stage}:\n{failed.reason}\n")

    def stop(self) -> None:
        self.stopping.set()
        # Plans nobody took would keep this process waiting at its end.
        self.plans.cancel_join_thread()
        alive = [p for p in self.processes if p.pid is not None]
        for process in alive:
            process.terminate()
        for process in alive:
            process.join(5)
            if process.is_alive():
                process.kill()


# --------------------------------------------------------------------------------------------- command line


def _pixels(text: str) -> tuple[int, int]:
    width, _, height = text.partition("x")
    return int(width), int(height or width)


def _kind_shares(text: str) -> tuple[float, ...]:
    """Shares like ``close=0.5,row=0.2``; kinds left out get none."""
    given = dict(item.split("=") for item in text.split(","))
    unknown = set(given) - set(KINDS)
    if unknown:
        raise argparse.ArgumentTypeError(f"unknown kind {', '.join(sorted(unknown))}; kinds are {', '.join(KINDS)}")
    return tuple(float(given.get(kind, 0)) for kind in KINDS)


def parser() -> argparse.ArgumentParser:
    """The command line."""
    scenes = SceneSettings()
    plain = RenderSettings(scenes)
    make = argparse.ArgumentParser(prog="firingend_training.render", description=__doc__.splitlines()[0])
    make.add_argument("--out", type=Path, required=True, help="folder of the set; an unfinished one is resumed")
    make.add_argument("--plugs", type=int, default=plain.plugs, help="distinct plugs")
    make.add_argument("--seed", type=int, default=scenes.seed)
    make.add_argument(
        "--split", choices=("train", "test"), default="train", help="test: reserved shapes, places, lights"
    )
    make.add_argument(
        "--first-scene", type=int, default=0, help="number of the first scene (to spread one set over runs)"
    )
    make.add_argument("--kinds", type=_kind_shares, default=scenes.kind_shares, help="shares, e.g. close=0.5,row=0.2")
    make.add_argument("--variant", default="auto", choices=("auto", "cuda_ad_rgb", "llvm_ad_rgb", "scalar_rgb"))
    make.add_argument("--samples", type=int, default=plain.close_samples, help="a pixel, close pictures")
    make.add_argument("--wide-samples", type=int, default=plain.wide_samples, help="a pixel, rows and whole plugs")
    make.add_argument("--close-size", type=_pixels, default=scenes.close_pixels, help="e.g. 288x288")
    make.add_argument("--wide-size", type=_pixels, default=scenes.wide_pixels, help="e.g. 640x480")
    make.add_argument("--passes", type=int, default=plain.passes, help="pictures developed of each traced view")
    make.add_argument(
        "--plain-passes",
        type=int,
        default=plain.plain_passes,
        help="more of each view, without what a phone adds to it",
    )
    make.add_argument("--detail", type=float, default=1.0, help="mesh resolution")
    make.add_argument("--denoise", action="store_true", help="with pyoidn, on the processor")
    make.add_argument("--workers", type=int, default=1, help="builder and developer processes each")
    make.add_argument("--developers", type=int, default=None, help="developer processes if not as many as workers")
    make.add_argument("--renderers", type=int, default=1, help="render processes")
    make.add_argument("--device-index", type=int, default=None, help="graphics card")
    make.add_argument("--minutes", type=float, default=None, help="stop after this time; resume later")
    return make


def main(argv: list[str] | None = None) -> int:
    """Run the command line; returns the exit status."""
    args = parser().parse_args(argv)
    scenes = SceneSettings(
        seed=args.seed,
        split=args.split,
        kind_shares=tuple(args.kinds),
        close_pixels=args.close_size,
        wide_pixels=args.wide_size,
        detail=args.detail,
    )
    settings = replace(
        RenderSettings(scenes),
        plugs=args.plugs,
        first_scene=args.first_scene,
        variant=args.variant,
        close_samples=args.samples,
        wide_samples=args.wide_samples,
        passes=args.passes,
        plain_passes=args.plain_passes,
        denoise=args.denoise,
    )
    machine = Machine(args.workers, args.renderers, args.developers or args.workers, args.device_index, args.minutes)
    try:
        result = render_set(args.out, settings, machine)
    except UserError as error:
        print(error, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("stopped; the same command goes on where it ended", file=sys.stderr)
        return 130
    except OSError:
        traceback.print_exc()
        return 1
    print(json.dumps(result))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
