"""Fit what the measured colour of a nose says of a label, and calibrate the reader anew with it.

``python -m firingend_training.fit_colour --models models --set SET… --threshold-set SET`` reads rendered sets that the
reader never learned from and writes ``colour``, the labels' temperatures and threshold and the limits of label sets
into ``reader.json``. The colour's say is fitted on dry plugs of all the sets; the rest on the plugs of the threshold
sets, once colour has had its say.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from sklearn.linear_model import LogisticRegression

from firingend.evaluation.load_set import load_set
from firingend.evaluation.run import reader_of, try_set
from firingend.jobs.photo_folder import hash_of
from firingend.labels import CERAMIC, FACTS, LABELS
from firingend.reading.nose_colour import ceramic_by_colour, terms, with_colour
from firingend.reading.reading import Lab, Reading
from firingend.reading.zone_colour import part_lab
from firingend_training.calibrate import STATED_ERROR, STATED_PRIOR, set_limits, threshold_for_error

WEIGHT: Final = 0.5
"""Of colour against the network among the dry labels. On five rendered sets kept apart and the other renderer's, 0.5
gives the lowest log-loss or one within 0.005 of it (0 to 1.5 tried), at the same balanced accuracy."""
LABEL_HEADS: Final = ("five", "ceramic", "surface")
"""Outputs that make the labels; their temperatures move together."""
_HOLD: Final = 1.0  # C of scikit-learn: thousands of noses, 20 free numbers


@dataclass(frozen=True, slots=True)
class Seen:
    """A labelled plug that was found: its label, what the network alone says, its nose's colour, whether the reading
    was refused for another reason than being unsure."""

    label: int
    network: NDArray[np.float64]
    nose: Lab | None
    refused: bool


@dataclass(frozen=True, slots=True)
class Fit:
    """What was fitted: the colour's coefficients, the factor on the labels' temperatures, the least probability of a
    label, the limits of label sets."""

    coefficients: dict[str, list[float]]
    warmer: float
    label: float
    conformal: dict[str, float]


def seen_plugs(folders: Sequence[Path], models: Path) -> Iterator[Seen]:
    """Readable plugs of rendered sets, as the networks in ``models`` see them.

    Raises
    ------
    ValueError
        If colour already has a say there: what the network alone says could not be told from it.
    """
    if "colour" in _card(models):
        raise ValueError(f"{models / 'reader.json'} has a say of colour already: take it out first")
    for folder in folders:
        for judged in try_set(load_set(folder), reader_of(models)).judged:
            for answer in judged.answers:
                if answer.truth in LABELS and answer.readable and answer.reading:
                    yield _seen(answer.truth, answer.reading)


def refuse_overlap(folders: Sequence[Path]) -> None:
    """Raise where sets share a photograph: its plugs would count twice.

    Raises
    ------
    ValueError
        Names the two sets and the photograph.
    """
    where: dict[str, Path] = {}
    for folder in folders:
        for picture in load_set(folder).pictures:
            first = where.setdefault(hash_of(picture.file), folder)
            if first != folder:
                raise ValueError(f"{picture.file.name} of {folder} is in {first} too: leave one of the sets out")


def _seen(truth: str, reading: Reading) -> Seen:
    return Seen(
        label=LABELS.index(truth),
        network=np.array([reading.probabilities[label] for label in LABELS]),
        nose=part_lab(reading.zones),
        refused=any(reason.code != "unsure" for reason in reading.reasons),
    )


def fit_coefficients(plugs: Sequence[Seen]) -> dict[str, list[float]]:
    """Coefficients of `nose_colour.terms` for each ceramic, from dry plugs; every ceramic counts the same.

    Raises
    ------
    ValueError
        If there is no dry plug with a nose to be seen for one of them.
    """
    carried = [FACTS[LABELS[plug.label]][0] for plug in plugs]
    noses = [plug.nose for plug, carries in zip(plugs, carried, strict=True) if plug.nose and carries]
    which = [CERAMIC.index(carries) for plug, carries in zip(plugs, carried, strict=True) if plug.nose and carries]
    if missing := set(range(len(CERAMIC))) - set(which):
        raise ValueError(f"no dry plug shows a nose that is {CERAMIC[min(missing)]}: give a larger set")
    model = LogisticRegression(C=_HOLD, class_weight="balanced", max_iter=5000, fit_intercept=False)
    model.fit(terms(noses), which)
    return {name: [round(float(c), 4) for c in row] for name, row in zip(CERAMIC, model.coef_, strict=True)}


def with_say(
    plug: Seen, coefficients: Mapping[str, Sequence[float]], weight: float, warmer: float = 1.0
) -> NDArray[np.float64]:
    """Probabilities (5,) of a plug's labels once colour has had its say.

    ``warmer``: factor on the temperatures that the network's word was given at.
    """
    prior = np.array([STATED_PRIOR[label] for label in LABELS])
    network = (plug.network / prior) ** (1 / warmer) * prior
    network = network / network.sum()
    if plug.nose is None:
        return network
    return with_colour(network, ceramic_by_colour(plug.nose, coefficients), weight)


def fit(
    plugs: Sequence[Seen], threshold_plugs: Sequence[Seen], *, weight: float = WEIGHT, stated: float = STATED_ERROR
) -> Fit:
    """Fit all of it; ``weight`` is that of colour, ``stated`` the share of accepted readings that may be wrong."""
    coefficients = fit_coefficients(plugs)
    labels = np.array([plug.label for plug in threshold_plugs])
    rows = np.arange(len(labels))

    def said_at(log_warmer: float) -> NDArray[np.float64]:
        warmer = float(np.exp(log_warmer))
        return np.array([with_say(plug, coefficients, weight, warmer) for plug in threshold_plugs])

    found = minimize_scalar(
        lambda log_warmer: -float(np.log(said_at(log_warmer)[rows, labels] + 1e-12).mean()),
        bounds=(-1.0, 1.0),
        method="bounded",
        options={"xatol": 1e-3},
    )
    said = said_at(found.x)
    given = ~np.array([plug.refused for plug in threshold_plugs])
    return Fit(
        coefficients=coefficients,
        warmer=float(np.exp(found.x)),
        label=round(threshold_for_error(said.max(1)[given], (said.argmax(1) == labels)[given], stated), 4),
        conformal=set_limits(said[rows, labels]),
    )


def changed(card: Mapping[str, Any], found: Fit, weight: float) -> dict[str, Any]:
    """The content of ``reader.json`` with what was fitted in it."""
    temperature = {
        head: round(t * found.warmer, 5) if head in LABEL_HEADS else t for head, t in card["temperature"].items()
    }
    return {
        **card,
        "temperature": temperature,
        "thresholds": {**card["thresholds"], "label": found.label},
        "conformal": found.conformal,
        "colour": {"weight": weight, "coefficients": found.coefficients},
    }


def _card(models: Path) -> dict[str, Any]:
    card: dict[str, Any] = json.loads((models / "reader.json").read_text(encoding="utf-8"))
    return card


def main(arguments: Sequence[str] | None = None) -> None:
    """Parse the command line and write."""
    parser = argparse.ArgumentParser(prog="firingend_training.fit_colour", description=__doc__)
    parser.add_argument("--models", type=Path, default=Path("models"))
    parser.add_argument("--set", dest="sets", type=Path, action="append", required=True, help="set; repeatable")
    parser.add_argument(
        "--threshold-set", type=Path, action="append", default=[], help="set for the threshold too; repeatable"
    )
    parser.add_argument("--weight", type=float, default=WEIGHT, help="0 to 1")
    parser.add_argument(
        "--stated-error",
        type=float,
        default=STATED_ERROR,
        help=f"share of the labels given that may be wrong (default {STATED_ERROR})",
    )
    chosen = parser.parse_args(arguments)
    others = [folder for folder in chosen.sets if folder not in chosen.threshold_set]
    refuse_overlap([*chosen.threshold_set, *others])
    for_threshold = list(seen_plugs(chosen.threshold_set or chosen.sets, chosen.models))
    plugs = for_threshold + (list(seen_plugs(others, chosen.models)) if chosen.threshold_set else [])
    found = fit(plugs, for_threshold, weight=chosen.weight, stated=chosen.stated_error)
    card = changed(_card(chosen.models), found, chosen.weight)
    (chosen.models / "reader.json").write_text(json.dumps(card, indent=2) + "\n", encoding="utf-8")
    print(
        f"{len(plugs)} plugs; on {len(for_threshold)} of them temperatures times {found.warmer:.3f}, "
        f"threshold {found.label}"
    )


if __name__ == "__main__":
    main()
