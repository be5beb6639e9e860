"""Readings of one engine against each other: which pattern do they make, and how sure is that?

A pattern at a place says which label every cylinder has, up to the labels themselves. Its likelihood is the
product, over the readable cylinders, of what the reading says for that label: probability divided by the prior
behind it. ``scattered`` stands for every assignment of labels that no pattern covers, most of its prior on mixes
of two labels and the rest on mixes of more, so the posterior is exact over all 5^n assignments.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from math import comb, prod
from typing import Final, get_args

from firingend.comparison.comparison import Comparison, Pattern
from firingend.comparison.hypotheses import ONE_ODD_LABEL, REST_LABEL, TWO_LABEL_SHARE, Assignment, Place, places
from firingend.comparison.sentence import pattern_sentence, too_few_sentence
from firingend.engine.build import list_cylinders
from firingend.engine.engine import Engine
from firingend.errors import UserError
from firingend.labels import LABELS, UNREADABLE
from firingend.reading.reading import Reading

READING_SLIP: Final = 0.02
"""Share of readings taken to be plainly wrong however sure they are: no single plug may decide alone."""

Likelihood = tuple[float, ...]
"""What one reading says for each label of ``LABELS``, scaled to sum to 1."""


@dataclass(frozen=True, slots=True)
class _Explained:
    """One place with the posterior weight of each way the plugs can look under it."""

    place: Place
    weights: Mapping[Assignment, float]

    @property
    def weight(self) -> float:
        return sum(self.weights.values())


def compare(engine: Engine, readings: Mapping[int, Reading]) -> Comparison:
    """Compare the cylinders of one engine.

    Parameters
    ----------
    engine
        The engine.
    readings
        Reading by cylinder number. A cylinder left out counts as unreadable; an unreadable one adds nothing.

    Returns
    -------
    Comparison
        Too few readable when fewer than two plugs, or fewer than half of them, can be read.

    Raises
    ------
    UserError
        A reading of a cylinder the engine does not have.

    Examples
    --------
    >>> from firingend.engine.build import build_engine
    >>> def typed(label):
    ...     return Reading(None, label, {each: 0.92 if each == label else 0.02 for each in LABELS})
    >>> four = build_engine(4, ignition="wasted-spark")
    >>> seen = {1: typed("wet"), 2: typed("normal-tan"), 3: typed("normal-tan"), 4: typed("wet")}
    >>> compare(four, seen).sentence
    'Cylinders 1 and 4 are wet, 2 and 3 are tan; 1 and 4 share coil A, so look at coil A first.'
    """
    if strangers := sorted(set(readings) - set(engine.cylinders)):
        raise UserError(
            f"there is a reading for cylinder {list_cylinders(strangers)}, which {engine.name} does not have",
            f"use only {list_cylinders(engine.cylinders)}",
        )
    readable = tuple(c for c in engine.cylinders if c in readings and readings[c].label != UNREADABLE)
    if len(readable) < 2 or 2 * len(readable) < len(engine.cylinders):
        patterns = {pattern: float(pattern == "too-few-readable") for pattern in get_args(Pattern)}
        sentence = too_few_sentence(engine, readings, readable)
        return Comparison("too-few-readable", 1.0, patterns, "", (), "", sentence)
    likelihoods = {cylinder: label_likelihood(readings[cylinder]) for cylinder in readable}
    explained, scattered = _weigh(engine, likelihoods)
    return _conclude(engine, readings, explained, scattered)


def label_likelihood(reading: Reading) -> Likelihood:
    """What a reading says for each label: its probabilities with the prior behind them divided out.

    Examples
    --------
    >>> sure = Reading(None, "wet", {"wet": 1.0})
    >>> [round(value, 3) for value in label_likelihood(sure)]
    [0.004, 0.004, 0.004, 0.004, 0.984]
    """
    even = 1 / len(LABELS)
    ratios = [reading.probabilities.get(label, 0.0) / (reading.prior.get(label, even) or even) for label in LABELS]
    total = sum(ratios)
    if total <= 0:
        return (even,) * len(LABELS)
    return tuple((1 - READING_SLIP) * ratio / total + READING_SLIP * even for ratio in ratios)


def _weigh(engine: Engine, likelihoods: Mapping[int, Likelihood]) -> tuple[tuple[_Explained, ...], float]:
    """Posterior weight, not yet scaled, of every place and of ``scattered``."""
    readable = tuple(likelihoods)
    all_places, scattered_prior = places(engine, readable)
    covered: dict[tuple[int, ...], float] = {}
    explained = []
    for place in all_places:
        weights = {}
        for assignment, prior in place.assignments(readable):
            labels = assignment.labels
            if labels not in covered:
                covered[labels] = prod(likelihoods[c][label] for c, label in zip(readable, labels, strict=True))
            weights[assignment] = prior * covered[labels]
        explained.append(_Explained(place, weights))
    return tuple(explained), scattered_prior * _scattered_likelihood(likelihoods, covered)


def _scattered_likelihood(likelihoods: Mapping[int, Likelihood], covered: Mapping[tuple[int, ...], float]) -> float:
    """Likelihood of "no pattern": a mix of two-label and many-label assignments that none covers.

    Within two labels, the pair is weighed as a pattern weighs its two labels, and every uncovered split of it is
    equally likely; assignments of more labels are all equally likely.
    """
    labels = range(len(LABELS))
    count = len(likelihoods)
    alike = [prod(likelihood[label] for likelihood in likelihoods.values()) for label in labels]
    two_label_sum, pair_weight_sum, two_label_mean = 0.0, 0.0, 0.0
    for a, b in combinations(labels, 2):
        every_split = prod(each[a] + each[b] for each in likelihoods.values()) - alike[a] - alike[b]
        two_label_sum += every_split
        known = [weight for assigned, weight in covered.items() if set(assigned) == {a, b}]
        if uncovered := 2**count - 2 - len(known):
            pair_weight = REST_LABEL[a] * ONE_ODD_LABEL[b] + REST_LABEL[b] * ONE_ODD_LABEL[a]
            pair_weight_sum += pair_weight
            two_label_mean += pair_weight * max(0.0, every_split - sum(known)) / uncovered
    mean, share = 0.0, 0.0
    if pair_weight_sum:
        mean, share = TWO_LABEL_SHARE * two_label_mean / pair_weight_sum, TWO_LABEL_SHARE
    known = [weight for assigned, weight in covered.items() if len(set(assigned)) > 2]
    many_labels = len(LABELS) ** count - len(LABELS) - comb(len(LABELS), 2) * (2**count - 2)
    if uncovered := many_labels - len(known):
        # Likelihoods sum to 1 a cylinder, so all assignments together weigh exactly 1.
        rest = max(0.0, 1 - sum(alike) - two_label_sum - sum(known))
        mean += (1 - TWO_LABEL_SHARE) * rest / uncovered
        share += 1 - TWO_LABEL_SHARE
    return mean / share if share else 0.0


def _conclude(
    engine: Engine, readings: Mapping[int, Reading], explained: tuple[_Explained, ...], scattered: float
) -> Comparison:
    weights: dict[Pattern, float] = dict.fromkeys(get_args(Pattern), 0.0)
    weights["scattered"] = scattered
    for each in explained:
        weights[each.place.pattern] += each.weight
    total = sum(weights.values())
    patterns: dict[str, float] = {pattern: weight / total for pattern, weight in weights.items()}
    pattern = max(weights, key=weights.__getitem__)
    candidates = sorted((each for each in explained if each.place.pattern == pattern), key=lambda each: -each.weight)
    readable = tuple(c for c in engine.cylinders if c in readings and readings[c].label != UNREADABLE)
    if not candidates:
        seen = {c: readings[c].label for c in readable}
        sentence = pattern_sentence(engine, readings, patterns, "scattered", (), "", seen)
        return Comparison("scattered", patterns["scattered"], patterns, "", (), "", sentence)
    best = candidates[0]
    likeliest = max(best.weights, key=best.weights.__getitem__)
    label = LABELS[likeliest.odd]
    seen = {c: LABELS[index] for c, index in zip(readable, likeliest.labels, strict=True)}
    ties = tuple(each.place for each in candidates if each.weight > 0.25 * best.weight)
    sentence = pattern_sentence(engine, readings, patterns, pattern, ties, label, seen)
    return Comparison(pattern, patterns[pattern], patterns, label, best.place.cylinders, best.place.where, sentence)
