"""Measure exported networks and write what the model card quotes: ``python -m firingend_training.evaluate``.

The networks run as a technician runs them (ONNX Runtime, whole photographs, the public reader), never in torch.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from tqdm import tqdm

from firingend.errors import UserError
from firingend.evaluation.as_json import as_json, plain
from firingend.evaluation.evaluation import Evaluation, evaluate
from firingend.evaluation.judging import Judged
from firingend.evaluation.load_set import load_set
from firingend.evaluation.page import render_page
from firingend.evaluation.run import Progress, reader_of, try_set
from firingend.evaluation.scores import score
from firingend.evaluation.slices import FIRST
from firingend.labels import LABELS
from firingend.reading.conformal import label_set
from firingend.reading.networks import ReaderCard, read_card
from firingend_training.library_photos import write_library_set
from firingend_training.part_masks import part_overlap

Json = dict[str, Any]

SPOILT_PICTURES = 150
"""Pictures behind the corruption curve."""


@dataclass(frozen=True, slots=True)
class EvaluateSettings:
    """What to measure, with which networks.

    Attributes
    ----------
    set
        A rendered set, or any set that ``firingend evaluate`` takes.
    models
        Folder of the exported networks.
    corrupt
        Pictures to spoil; 0 leaves the corruption curve out.
    library_photos
        Whether to try the sample photographs of image libraries.
    workers
        Pictures read at a time.
    seed
        Of every draw.
    """

    set: Path
    models: Path
    corrupt: int = 0
    library_photos: bool = False
    workers: int = 2
    seed: int = 0


def measure(settings: EvaluateSettings) -> tuple[Json, Evaluation]:
    """Run the harness; the second result is for the page.

    Returns
    -------
    dict
        What ``docs/evaluate.md`` describes, and besides: ``networks`` (version and SHA-256 of each), ``label_sets``
        (by the share that may miss the right label, as the networks state limits: share that holds it, of all plugs
        and by label, and mean size), ``parts`` (mean intersection over union of the part masks; None without masks),
        ``library_photos`` (share refused; None when not tried). Slices are limited to those every set has. Finds are
        measured three times: as they are read, among what a person can make out (``…_visible``, ``…_one_row``), and
        with all that was left out of the readings as no plug (``…_before_keeping``).
    """
    photo_set = load_set(settings.set)
    read = reader_of(settings.models)
    done = evaluate(
        photo_set,
        read,
        corrupt=settings.corrupt,
        workers=settings.workers,
        seed=settings.seed,
        progress=bar,
    )
    slices = tuple(each for each in done.scores.slices if each.nuisance in FIRST)
    result = as_json(replace(done, scores=replace(done.scores, slices=slices)))
    result["networks"] = {name: _network(settings.models / f"{name}.json") for name in ("finder", "reader")}
    result["label_sets"] = label_sets(done.trial.judged, read_card(settings.models / "reader.json", ReaderCard))
    result["parts"] = _parts(settings) if photo_set.kind == "rendered" else None
    result["library_photos"] = _library_photos(settings) if settings.library_photos else None
    return result, done


def bar(name: str) -> Progress:
    """A progress bar for one task."""
    shown = tqdm(desc=name)

    def told(done: int, of: int) -> None:
        shown.total = of
        shown.update(done - shown.n)
        if done == of:
            shown.close()

    return told


def _network(card: Path) -> Json:
    stated = json.loads(card.read_text(encoding="utf-8"))
    return {key: stated[key] for key in ("version", "sha256")}


def label_sets(judged: Sequence[Judged], card: ReaderCard) -> Json:
    """How often the sets of labels hold the right one, for every share of misses the networks state a limit for.

    Over readable labelled plugs that were found, refused ones among them.
    """
    read = [answer for photo in judged for answer in photo.answers if answer.readable and answer.truth in LABELS]
    pairs = [(answer.truth, answer.reading.probabilities) for answer in read if answer.reading]
    found: Json = {}
    for miss, limit in card.conformal.items() if pairs else ():
        sets = [(truth, label_set(probabilities, limit)) for truth, probabilities in pairs]
        held = {label: [truth in could_be for truth, could_be in sets if truth == label] for label in LABELS}
        found[miss] = {
            "right": plain(float(np.mean([truth in could_be for truth, could_be in sets]))),
            "right_by_label": {label: plain(float(np.mean(of))) for label, of in held.items() if of},
            "size": plain(float(np.mean([len(could_be) for _, could_be in sets]))),
            "count": len(sets),
        }
    return found


def _parts(settings: EvaluateSettings) -> Json:
    folder = settings.set if settings.set.is_dir() else settings.set.parent
    found = part_overlap(folder, settings.models, workers=settings.workers, progress=bar("part masks"))
    return {
        "mean_iou": plain(found.mean),
        "iou": {part: plain(value) for part, value in found.of_part.items()},
        "plugs": found.plugs,
    }


def _library_photos(settings: EvaluateSettings) -> Json:
    with tempfile.TemporaryDirectory(prefix="firingend-") as folder:
        library = write_library_set(Path(folder))
        trial = try_set(
            library, reader_of(settings.models), workers=settings.workers, progress=bar("library photographs")
        )
    refused = score(trial.judged, seed=settings.seed).measures["not_a_plug_refused"]
    return {
        "photographs": len({picture.group for picture in library.pictures}),
        "pictures": len(library.pictures),
        "refused": plain(refused.value),
        "low": plain(refused.low),
        "high": plain(refused.high),
    }


def summary(result: Json) -> str:
    """The numbers a training run is judged by, one a line with what stands behind it."""
    lines = [
        f"{name}: {measure['value']} ({measure['low']} to {measure['high']}; {measure['count']})"
        for name, measure in result["measures"].items()
    ]
    if result["parts"]:
        lines.append(f"part masks, mean IoU: {result['parts']['mean_iou']} ({result['parts']['plugs']} plugs)")
    if result["library_photos"]:
        tried = result["library_photos"]
        lines.append(f"library photographs refused: {tried['refused']} ({tried['pictures']} pictures)")
    if result["corruptions"]:
        means = result["corruptions"]["mean_by_severity"]
        lines.append(f"balanced accuracy by severity: {[row['balanced_accuracy'] for row in means.values()]}")
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Parse the command line, measure, write."""
    parser = argparse.ArgumentParser(prog="firingend_training.evaluate", description=__doc__)
    parser.add_argument("--set", type=Path, required=True, help="rendered test set, or any set with labels")
    parser.add_argument("--models", type=Path, default=Path("models"), help="folder of the exported networks")
    parser.add_argument("--out", type=Path, default=Path("models/metrics.json"), help="file for the metrics")
    parser.add_argument("--page", type=Path, help="file for the HTML page with the worst mistakes")
    parser.add_argument("--corrupt", type=int, nargs="?", const=SPOILT_PICTURES, default=0, metavar="N",
                        help=f"also spoil N pictures (default {SPOILT_PICTURES}) in 35 ways")  # fmt: skip
    parser.add_argument("--library-photos", action="store_true", help="also try image libraries' sample photographs")
    parser.add_argument("--workers", type=int, default=2, help="pictures read at a time")
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args(arguments)
    settings = EvaluateSettings(
        chosen.set, chosen.models, chosen.corrupt, chosen.library_photos, chosen.workers, chosen.seed
    )
    try:
        result, done = measure(settings)
    except UserError as error:
        parser.exit(1, f"{error}\n")
    chosen.out.parent.mkdir(parents=True, exist_ok=True)
    chosen.out.write_text(json.dumps(result, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    if chosen.page:
        chosen.page.write_text(render_page(done), encoding="utf-8")
    print(summary(result))
    print(f"wrote {chosen.out}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
