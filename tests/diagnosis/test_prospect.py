"""The numbers beside a step: exact, and the same as in the table of causes before and after it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from engines import done, inline, plugs

from firingend.cases.load import load_case
from firingend.cases.run import run_case
from firingend.diagnosis.diagnose import diagnose
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause
from firingend.diagnosis.evidence import Evidence, Outcome
from firingend.diagnosis.knowledge import load
from firingend.diagnosis.posterior import weigh
from firingend.diagnosis.prospect import prospects
from firingend.diagnosis.suspects import HEALTHY, NOTHING_LISTED, suspects
from firingend.diagnosis.tables import tables
from firingend.diagnosis.weighing import check_term, repaired_by, terms
from firingend.engine.engine import SharedPart
from firingend.shipped import demo_dir

BOOK = Path(__file__).parent / "casebook"
WASTED = inline(
    4,
    ignition="wasted-spark",
    shared=(SharedPart("coil", "coil A", (1, 4)), SharedPart("coil", "coil B", (2, 3))),
)
TWO_STROKE = inline(2, fuel="carburettor", ignition="magneto", strokes=2)
TRIED = Evidence(
    WASTED,
    plugs(WASTED, {1: "wet", 4: "wet"}),
    {"steady-misfire": True},
    (Outcome("repair:weak-coil", "coil A", "better"), done("compression-dry", "good")),
)
UNTRIED = Evidence(TWO_STROKE, plugs(TWO_STROKE, {2: "oil-fouled"}))
SHOWN = [f"demo {file.stem}" for file in sorted(demo_dir().glob("*.toml"))]
SHOWN += ["bare-choke", "bare-pale-ends", "bare-plenum", "bare-rain", "bare-two-stroke", "bare-worn-engine"]
SHOWN += ["dusty-season", "one-starved", "shared-coil-pair", "two-neighbours"]
SHOWN += ["a repair tried"]
RAISED = re.compile(r"“(?P<said>[^”]+)” \((?P<likely>\d+)% likely\) would raise (?P<moves>.+? from \d+% to \d+%)\.")
LOWERED = re.compile(r"“(?P<said>[^”]+)” would lower (?P<moves>.+)\.$")
MOVE = re.compile(r"(?:^| and )(?P<name>.+?) from (?P<before>\d+)% to (?P<after>\d+)%")
HALF = 0.005 + 1e-9


@pytest.mark.parametrize("evidence", [TRIED, UNTRIED])
def test_every_outcome_of_every_check_is_as_if_weighed_in_afresh(evidence):
    found = suspects(load(), evidence.engine)
    mended = np.zeros(len(found), dtype=bool)
    for outcome in evidence.outcomes:
        mended |= repaired_by(found, outcome)
    items = list(terms(found, evidence))
    now = weigh(found, items)
    choices = tables(found)
    foreseen = prospects(now, choices, mended)
    assert len(foreseen) == len(choices.choices) > 40
    for choice, prospect in zip(choices.choices, foreseen, strict=True):
        assert prospect.chance.sum() == pytest.approx(1, abs=1e-12)
        assert prospect.chance @ prospect.at_fault == pytest.approx(now.at_fault(), abs=1e-12)
        for k, outcome in enumerate(choice.check.outcomes):
            term = check_term(found, choice.check.id, choice.place, outcome, mended)
            chance = now.single @ term.single() + (now.pair * term.pair()).sum()
            chance += np.dot((now.healthy, now.nothing_listed), term.neither())
            assert prospect.chance[k] == pytest.approx(chance, abs=1e-12)
            assert prospect.at_fault[k] == pytest.approx(weigh(found, [*items, term]).at_fault(), abs=1e-11)


def test_no_check_is_no_prospect():
    found = suspects(load(), TWO_STROKE)
    nothing = tables(found).pick(np.array([], dtype=np.int64))
    assert prospects(weigh(found, []), nothing, np.zeros(len(found), dtype=bool)) == ()


@cache
def shown(name: str) -> tuple[Evidence, Diagnosis]:
    """A case's evidence and what is shown of it."""
    if name == "a repair tried":
        return TRIED, diagnose(TRIED)
    file = demo_dir() / f"{name[5:]}.toml" if name.startswith("demo ") else BOOK / f"{name}.toml"
    result = run_case(load_case(file))
    return result.case.evidence(result.readings), result.diagnosis


def as_named(cause: RankedCause) -> str:
    """The words a reason has for a cause of the table."""
    name = cause.name.split(" (")[0]
    name = name if name[:2].isupper() else name[0].lower() + name[1:]
    return name if cause.where == "engine" else f"{name} ({cause.where})"


def agrees(diagnosis: Diagnosis, name: str, percent: str) -> bool:
    """The percentage is the table's; what the table leaves out is no likelier than the least that it shows."""
    listed = {as_named(c): c.probability for c in diagnosis.causes if c.id not in (HEALTHY, NOTHING_LISTED)}
    said = int(percent) / 100
    return abs(said - listed[name]) <= HALF if name in listed else said <= max(0.002, *listed.values()) + HALF


def afresh(evidence: Evidence, check: str, where: str, said: str) -> Diagnosis:
    """The diagnosis with the outcome of a check that is said in these words."""
    outcomes = load().checks[check].outcomes
    outcome = next(name for name, text in outcomes.items() if text.lower() == said.lower())
    return diagnose(replace(evidence, outcomes=(*evidence.outcomes, Outcome(check, where, outcome))))


@pytest.mark.parametrize("name", SHOWN)
def test_reasons_say_what_the_table_says_now_and_what_it_would_say(name):
    evidence, diagnosis = shown(name)
    checks = [step for step in diagnosis.next if step.kind == "check"]
    assert checks
    for step in checks:
        raised, lowered = RAISED.match(step.why), LOWERED.search(step.why)
        assert raised, step.why
        for told in filter(None, (raised, lowered)):
            then = afresh(evidence, step.id, step.where, told["said"])
            moves = list(MOVE.finditer(told["moves"]))
            assert moves, step.why
            for move in moves:
                assert agrees(diagnosis, move["name"], move["before"]), (step.why, diagnosis.causes)
                assert agrees(then, move["name"], move["after"]), (step.why, then.causes)
    for step in diagnosis.next:
        if step.kind == "repair":
            listed = {(c.id, c.where): c.probability for c in diagnosis.causes}
            said = re.search(r" is (\d+)% likely", step.why)
            assert said and abs(int(said[1]) / 100 - listed[step.id.removeprefix("repair:"), step.where]) <= HALF


def test_a_confirmed_cause_is_as_likely_as_the_table_says():
    engine = inline(4)
    outcomes = (done("spark-test", "none", "cylinder 2"), done("swap-coil", "follows", "cylinder 2"))
    diagnosis = diagnose(Evidence(engine, plugs(engine, {2: "wet"}), {"steady-misfire": True}, outcomes))
    said = re.search(r"is confirmed \((\d+)%\)", diagnosis.advice)
    assert said, diagnosis.advice
    assert int(said[1]) / 100 == pytest.approx(diagnosis.causes[0].probability, abs=HALF)
