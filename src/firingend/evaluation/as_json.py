"""An evaluation as plain data; ``docs/evaluate.md`` describes every key."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, Final

from firingend.evaluation.bootstrap import Measure
from firingend.evaluation.corrupt_set import Spoilt, by_severity
from firingend.evaluation.corruptions import KINDS
from firingend.evaluation.evaluation import Evaluation
from firingend.evaluation.photo_set import NOT_A_PLUG, TRUTHS, PhotoSet
from firingend.evaluation.scores import Bin, Slice

FORMAT: Final = 1

Json = dict[str, Any]


def as_json(evaluation: Evaluation) -> Json:
    """Everything but the photographs; numbers that nothing stands behind are None."""
    scores = evaluation.scores
    return {
        "format": FORMAT,
        "set": {
            **describe(evaluation.photo_set),
            "unopened": [{"file": file, "problem": problem} for file, problem in evaluation.trial.unopened],
        },
        "seconds": round(evaluation.seconds, 2),
        "seed": evaluation.seed,
        "measures": _measures(scores.measures),
        "recall": _measures(scores.recall),
        "recall_answered": _measures(scores.recall_answered),
        "confusion": {truth: dict(row) for truth, row in scores.confusion.items()},
        "refusals": {truth: dict(row) for truth, row in scores.refusals.items()},
        "reliability": [_bin(each) for each in scores.reliability],
        "risk_coverage": [{"coverage": plain(c), "risk": plain(r)} for c, r in scores.risk_coverage],
        "slices": [_slice(each) for each in scores.slices],
        "corruptions": _corruptions(evaluation.spoilt) if evaluation.spoilt else None,
    }


def describe(photo_set: PhotoSet) -> Json:
    """Name of a set and how much is in it."""
    plugs = Counter(plug.label for picture in photo_set.pictures for plug in picture.plugs)
    without = sum(not picture.plugs for picture in photo_set.pictures)
    counted = {**plugs, **({NOT_A_PLUG: without} if without else {})}
    return {
        "name": photo_set.name,
        "kind": photo_set.kind,
        "pictures": len(photo_set.pictures),
        "groups": len({picture.group for picture in photo_set.pictures}),
        "plugs": sum(plugs.values()),
        "rows": sum(len(picture.plugs) > 1 for picture in photo_set.pictures),
        "by_truth": {truth: counted[truth] for truth in TRUTHS if truth in counted},
        "not_readable": sum(not plug.readable for picture in photo_set.pictures for plug in picture.plugs),
    }


def plain(number: float) -> float | None:
    """Rounded to six digits after the point; None for not-a-number."""
    return None if math.isnan(number) else round(float(number), 6)


def _measures(measures: Mapping[str, Measure]) -> Json:
    return {name: _measure(measure) for name, measure in measures.items()}


def _measure(measure: Measure) -> Json:
    return {
        "value": plain(measure.value),
        "low": plain(measure.low),
        "high": plain(measure.high),
        "count": measure.count,
        "groups": measure.groups,
    }


def _bin(each: Bin) -> Json:
    return {
        "from": plain(each.low),
        "to": plain(each.high),
        "count": each.count,
        "confidence": plain(each.confidence),
        "accuracy": plain(each.accuracy),
    }


def _slice(each: Slice) -> Json:
    return {
        "nuisance": each.nuisance,
        "band": each.band,
        "plugs": each.plugs,
        "accuracy": _measure(each.accuracy),
        "balanced_accuracy": plain(each.balanced_accuracy),
        "refused": plain(each.refused),
        "error_answered": plain(each.error_answered),
        "found": plain(each.found),
    }


def _corruptions(lines: tuple[Spoilt, ...]) -> Json:
    def of_kind(kind: str) -> list[Json]:
        return [
            {k: plain(v) if isinstance(v, float) else v for k, v in asdict(line).items() if k != "kind"}
            for line in lines
            if line.kind == kind
        ]

    return {
        "unspoilt": of_kind("none")[0],
        "kinds": {kind: of_kind(kind) for kind in KINDS},
        "mean_by_severity": {
            str(severity): {
                name: plain(by_severity(lines, name)[severity])
                for name in (
                    "balanced_accuracy",
                    "balanced_accuracy_answered",
                    "balanced_accuracy_first_guess",
                    "refused",
                )
            }
            for severity in by_severity(lines)
        },
    }
