"""Every measure of a judged set, each with its interval and the number of plugs behind it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.evaluation import calibration_measures as cal
from firingend.evaluation import metrics
from firingend.evaluation.answer_codes import codes, first_guesses, priors, probabilities
from firingend.evaluation.bootstrap import REPEATS, Floats, Measure, Resampling, interval
from firingend.evaluation.judging import NOT_FOUND, Answer, Finds, Judged
from firingend.evaluation.photo_set import ASH, COOLANT_CLEAN, NOT_A_PLUG, TRUTHS, UNUSED
from firingend.evaluation.slices import bands, nuisance_names
from firingend.labels import LABELS, UNREADABLE

SAID: Final = (*LABELS, UNREADABLE, NOT_FOUND)
"""Columns of the confusion table."""

STATED_ERROR: Final = 0.02
"""Error at which the coverage is given beside the risk–coverage curve."""

_SLICE_REPEATS: Final = 200  # slices are there to be compared at a glance; their intervals may be rougher
_CURVE_POINTS: Final = 101


@dataclass(frozen=True, slots=True)
class Bin:
    """One bar of a reliability diagram: answers with a confidence above ``low`` up to ``high``."""

    low: float
    high: float
    count: int
    confidence: float
    accuracy: float


@dataclass(frozen=True, slots=True)
class Slice:
    """Plugs that share one band of one nuisance."""

    nuisance: str
    band: str
    plugs: int
    accuracy: Measure
    balanced_accuracy: float
    refused: float
    error_answered: float
    found: float


@dataclass(frozen=True, slots=True)
class Scores:
    """What came out of a set.

    Attributes
    ----------
    measures
        By name; the names are explained in ``docs/evaluate.md``.
    recall, recall_answered
        By label: refusals counted as wrong, and among those that were given a label.
    confusion
        Counts by truth and by what was said (``SAID``); readable plugs and photographs without plugs.
    refusals
        Counts of reason codes by truth.
    reliability
        Bins that hold any answer.
    risk_coverage
        (coverage, risk), at most 101 points.
    slices
        In the order of `slices.nuisance_names`.
    """

    measures: Mapping[str, Measure]
    recall: Mapping[str, Measure]
    recall_answered: Mapping[str, Measure]
    confusion: Mapping[str, Mapping[str, int]]
    refusals: Mapping[str, Mapping[str, int]]
    reliability: tuple[Bin, ...]
    risk_coverage: tuple[tuple[float, float], ...]
    slices: tuple[Slice, ...] = field(default_factory=tuple)


def score(judged: Sequence[Judged], *, repeats: int = REPEATS, seed: int = 0) -> Scores:
    """Compute every measure.

    Parameters
    ----------
    judged
        One a photograph.
    repeats, seed
        Of the bootstrap.
    """
    answers = [answer for photo in judged for answer in photo.answers if answer.readable]
    finds = [photo.finds for photo in judged if photo.finds is not None]
    before = [photo.before_keeping for photo in judged if photo.before_keeping is not None]
    labelled = [answer for answer in answers if answer.truth in LABELS]
    read = [answer for answer in labelled if answer.reading is not None]
    by_label = _label_measures(labelled, repeats, seed)
    confidence, right = _first_guesses(read)
    return Scores(
        measures={
            **by_label,
            **_trust_measures(read, repeats, seed),
            **_off_label_measures(answers, repeats, seed),
            **_finder_measures(_found(finds), finds, repeats, seed),
            **_finder_measures(_found_of_some(finds), finds, repeats, seed),
            **_finder_measures(_found_before_keeping(before), before, repeats, seed),
        },
        recall=_recalls(labelled, repeats, seed, lambda table: table),
        recall_answered=_recalls(labelled, repeats, seed, metrics.answered),
        confusion=_confusion(answers),
        refusals=_refusals(answers),
        reliability=_reliability(confidence, right),
        risk_coverage=_thinned(*cal.risk_coverage(confidence, ~right)),
        slices=tuple(_slices(labelled, seed)),
    )


def _label_measures(answers: Sequence[Answer], repeats: int, seed: int) -> dict[str, Measure]:
    """Measures that follow from the confusion table of plugs with one of the five labels."""
    if not answers:
        return {}
    drawn = Resampling([a.group for a in answers], repeats, seed)
    truth, said = codes(answers)
    cells = metrics.one_hot_cells(truth, said)
    guessed = metrics.one_hot_cells(truth, first_guesses(answers))
    without_prior = metrics.one_hot_cells(truth, first_guesses(answers, equal_prior=True))

    def of(rows: Floats, measure: Callable[[Floats], Floats]) -> Measure:
        return drawn.measure(rows, lambda totals: measure(metrics.as_table(totals)))

    given = cells * np.array([a.answered for a in answers])[:, None]
    return {
        "balanced_accuracy": of(cells, metrics.balanced_accuracy),
        "macro_f1": of(cells, metrics.macro_f1),
        "balanced_accuracy_answered": of(given, metrics.balanced_accuracy),
        "macro_f1_answered": of(given, metrics.macro_f1),
        "accuracy": of(cells, metrics.accuracy),
        "refused": of(cells, metrics.refused_share),
        "error_answered": of(given, metrics.error_among_answered),
        "balanced_accuracy_first_guess": of(guessed, metrics.balanced_accuracy),
        "macro_f1_first_guess": of(guessed, metrics.macro_f1),
        "balanced_accuracy_first_guess_equal_prior": of(without_prior, metrics.balanced_accuracy),
        "macro_f1_first_guess_equal_prior": of(without_prior, metrics.macro_f1),
    }


def _recalls(
    answers: Sequence[Answer], repeats: int, seed: int, kept: Callable[[Floats], Floats]
) -> dict[str, Measure]:
    if not answers:
        return {}
    drawn = Resampling([a.group for a in answers], repeats, seed)
    truth, said = codes(answers)
    cells = kept(metrics.as_table(metrics.one_hot_cells(truth, said))).reshape(len(answers), -1)
    found = {}
    for index, label in enumerate(LABELS):
        mine = cells * (truth == index)[:, None]
        if mine.any():
            found[label] = drawn.measure(mine, lambda t, i=index: metrics.recalls(metrics.as_table(t))[..., i])  # type: ignore[misc]
    return found


def _first_guesses(read: Sequence[Answer]) -> tuple[Floats, NDArray[np.bool_]]:
    """Confidence of the likeliest label, and whether it is the true one."""
    stated, (truth, _) = probabilities(read), codes(read)
    return stated.max(axis=1, initial=0), stated.argmax(axis=1) == truth


def _trust_measures(read: Sequence[Answer], repeats: int, seed: int) -> dict[str, Measure]:
    """Measures of the probabilities, over plugs that were found, refused ones among them."""
    if not read:
        return {}
    drawn = Resampling([a.group for a in read], repeats, seed)
    truth, _ = codes(read)
    stated = probabilities(read)
    shares = np.bincount(truth, minlength=len(LABELS)) / len(truth)
    matched = cal.with_prior(stated, priors(read), np.maximum(shares, 1e-9))

    def ece(p: Floats) -> Measure:
        return drawn.measure(cal.binned(p.max(axis=1), p.argmax(axis=1) == truth), cal.expected_calibration_error)

    def mean(values: Floats) -> Measure:
        return drawn.measure(np.stack([values, np.ones_like(values)], axis=1), metrics.share)

    confidence, wrong = stated.max(axis=1), stated.argmax(axis=1) != truth
    area = interval(
        float(cal.area_under_risk_coverage(confidence, wrong)),
        cal.area_under_risk_coverage(confidence, wrong, drawn.weights()),
        len(read),
        drawn.groups,
    )
    at_stated = cal.coverage_at_risk(*cal.risk_coverage(confidence, wrong), STATED_ERROR)
    return {
        "ece": ece(stated),
        "ece_at_set_prior": ece(matched),
        "brier": mean(cal.brier(stated, truth)),
        "brier_at_set_prior": mean(cal.brier(matched, truth)),
        "log_loss": mean(cal.log_loss(stated, truth)),
        "aurc": area,
        "coverage_at_2_percent_error": Measure(at_stated, np.nan, np.nan, len(read), drawn.groups),
        **_set_measures(read, mean),
    }


def _set_measures(read: Sequence[Answer], mean: Callable[[Floats], Measure]) -> dict[str, Measure]:
    """How often the set of labels it could be holds the true one, and how many it holds; nothing without sets."""
    sets = [answer.reading.label_set if answer.reading else () for answer in read]
    if not all(sets):
        return {}
    right = [answer.truth in could_be for answer, could_be in zip(read, sets, strict=True)]
    return {
        "label_set_right": mean(np.array(right, np.float64)),
        "label_set_size": mean(np.array([len(could_be) for could_be in sets], np.float64)),
    }


def _off_label_measures(answers: Sequence[Answer], repeats: int, seed: int) -> dict[str, Measure]:
    """Plugs that carry none of the five labels, and photographs of something else."""
    wanted: dict[str, tuple[str, Callable[[Answer], bool]]] = {
        "unused_not_lean": (UNUSED, _not_lean),
        "unused_refused": (UNUSED, _refused),
        "ash_not_lean": (ASH, _not_lean),
        "coolant_clean_not_lean": (COOLANT_CLEAN, _not_lean),
        "not_a_plug_refused": (NOT_A_PLUG, _refused),
    }
    measures = {}
    for name, (truth, good) in wanted.items():
        of_kind = [answer for answer in answers if answer.truth == truth]
        if of_kind:
            drawn = Resampling([a.group for a in of_kind], repeats, seed)
            rows = np.array([(good(answer), 1.0) for answer in of_kind], np.float64)
            measures[name] = drawn.measure(rows, metrics.share)
    return measures


def _not_lean(answer: Answer) -> bool:
    return answer.said != "lean-white"


def _refused(answer: Answer) -> bool:
    return not answer.answered


Shares = list[tuple[float, float]]
"""For each photograph how many, and of how many."""


def _found(finds: Sequence[Finds]) -> dict[str, Shares]:
    """What is found as it is read."""
    return {
        "finder_recall": [(f.found, f.plugs) for f in finds],
        "false_finds_per_picture": [(f.extra, 1) for f in finds],
        "false_labels_per_picture": [(f.extra_labelled, 1) for f in finds],
        "rows_all_found": _rows(finds, _whole),
        "row_order_right": _order_right(finds),
        "rows_all_found_in_order": _rows(finds, _whole_in_order),
        "rows_exactly_right": _rows(finds, lambda f: _whole_in_order(f) and not f.extra),
    }


def _found_of_some(finds: Sequence[Finds]) -> dict[str, Shares]:
    """The same of what a person could make out, and of single rows; nothing where that is everything."""
    of_some: dict[str, Shares] = {}
    if not all(_all_visible(f) for f in finds):
        of_some |= {
            "finder_recall_visible": [(f.found_visible, f.visible) for f in finds],
            "rows_all_found_visible": _rows(finds, _whole, _all_visible),
            "row_order_right_visible": _order_right(finds, _all_visible),
            "rows_all_found_in_order_visible": _rows(finds, _whole_in_order, _all_visible),
        }
    if not all(f.one_row for f in finds):
        of_some |= {
            "row_order_right_one_row": _order_right(finds, lambda f: f.one_row),
            "rows_all_found_in_order_visible_one_row": _rows(
                finds, _whole_in_order, lambda f: _all_visible(f) and f.one_row
            ),
        }
    return of_some


def _found_before_keeping(finds: Sequence[Finds]) -> dict[str, Shares]:
    """The same with everything that was left out of the readings."""
    return {
        "finder_recall_before_keeping": [(f.found, f.plugs) for f in finds],
        "false_finds_per_picture_before_keeping": [(f.extra, 1) for f in finds],
        "row_order_right_before_keeping": _order_right(finds),
        "rows_all_found_in_order_before_keeping": _rows(finds, _whole_in_order),
    }


def _finder_measures(
    shares: Mapping[str, Shares], finds: Sequence[Finds], repeats: int, seed: int
) -> dict[str, Measure]:
    """Measures of the finder, over photographs whose true boxes are known."""
    if not finds:
        return {}
    drawn = Resampling([f.group for f in finds], repeats, seed)
    measures = {}
    for name, pairs in shares.items():
        totals = np.array(pairs, np.float64)
        if totals[:, 1].any():
            measures[name] = drawn.measure(totals, metrics.share, count=int(totals[:, 1].sum()))
    return measures


def _rows(
    finds: Sequence[Finds], good: Callable[[Finds], bool], counts: Callable[[Finds], bool] = lambda _: True
) -> Shares:
    """The good ones among the rows that count; a photograph of a single plug is no row."""
    return [(good(f), 1) if f.plugs > 1 and counts(f) else (0, 0) for f in finds]


def _order_right(finds: Sequence[Finds], counts: Callable[[Finds], bool] = lambda _: True) -> Shares:
    return _rows(finds, lambda f: f.in_order, lambda f: f.found > 1 and counts(f))


def _whole(finds: Finds) -> bool:
    return finds.found == finds.plugs


def _whole_in_order(finds: Finds) -> bool:
    return _whole(finds) and finds.in_order


def _all_visible(finds: Finds) -> bool:
    return finds.visible == finds.plugs


def _confusion(answers: Sequence[Answer]) -> dict[str, dict[str, int]]:
    counted = Counter((answer.truth, answer.said) for answer in answers)
    present = [truth for truth in TRUTHS if any(t == truth for t, _ in counted)]
    return {truth: {said: counted[truth, said] for said in SAID} for truth in present}


def _refusals(answers: Sequence[Answer]) -> dict[str, dict[str, int]]:
    found: dict[str, Counter[str]] = {}
    for answer in answers:
        if answer.said == UNREADABLE and answer.reading:
            found.setdefault(answer.truth, Counter()).update(reason.code for reason in answer.reading.reasons)
    return {truth: dict(found[truth].most_common()) for truth in TRUTHS if truth in found}


def _reliability(confidence: Floats, right: NDArray[np.bool_]) -> tuple[Bin, ...]:
    table = cal.as_bins(cal.binned(confidence, right).sum(axis=0))
    width = 1 / len(table)
    return tuple(
        Bin(i * width, (i + 1) * width, int(count), float(total / count), float(correct / count))
        for i, (count, total, correct) in enumerate(table)
        if count
    )


def _thinned(coverage: Floats, risk: Floats) -> tuple[tuple[float, float], ...]:
    if len(coverage) == 0:
        return ()
    kept = np.unique(np.round(np.linspace(0, len(coverage) - 1, _CURVE_POINTS)).astype(int))
    return tuple((float(coverage[i]), float(risk[i])) for i in kept)


def _slices(answers: Sequence[Answer], seed: int) -> list[Slice]:
    nuisances = [answer.nuisance for answer in answers]
    found = []
    for name in nuisance_names(nuisances):
        for band, items in bands(name, nuisances).items():
            found.append(_slice(name, band, [answers[i] for i in items], seed))
    return found


def _slice(name: str, band: str, answers: Sequence[Answer], seed: int) -> Slice:
    truth, said = codes(answers)
    cells = metrics.one_hot_cells(truth, said)
    table = metrics.as_table(cells.sum(axis=0))
    drawn = Resampling([a.group for a in answers], _SLICE_REPEATS, seed)
    return Slice(
        nuisance=name,
        band=band,
        plugs=len(answers),
        accuracy=drawn.measure(cells, lambda totals: metrics.accuracy(metrics.as_table(totals))),
        balanced_accuracy=float(metrics.balanced_accuracy(table)),
        refused=float(metrics.refused_share(table)),
        error_answered=float(metrics.error_among_answered(table)),
        found=sum(a.said != NOT_FOUND for a in answers) / len(answers),
    )
