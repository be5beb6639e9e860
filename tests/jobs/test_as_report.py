"""A job becomes what a report takes in, with outlines had again from the photographs."""

from __future__ import annotations

from pathlib import Path

import pytest

from firingend.engine.build import build_engine
from firingend.errors import CaseError, PhotoError
from firingend.jobs.as_case import reading_field
from firingend.jobs.as_report import job_facts, job_report
from firingend.jobs.card import Cause, Part, Rates, TypedLabel, Work, new_key, to_json
from firingend.labels import LABELS
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Zone

LOOP = ((40.0, 40.0), (60.0, 40.0), (60.0, 60.0))


def looked_at(file: Path, label: str = "wet", shift: float = 0.0) -> PhotoReading:
    quality = Quality(300.0, 0.01, 0.02, 118.0, 3.5)
    box = (20.0 + shift, 20.0, 80.0 + shift, 80.0)
    zones = (Zone("nose", (LOOP,), 0.3, (50.0, 1.0, 2.0), "grey patch", 0.9), Zone("rim", (), 0.3, None, "", 0.0))
    shares = {each: 0.9 if each == label else 0.025 for each in LABELS}
    reading = Reading(FiringEnd(box, (0.0, -0.5), 0.9), label, shares, quality=quality, zones=zones)
    return PhotoReading(file, 200, 100, quality, (reading,))


@pytest.fixture
def job(sqlite_store, make_photo):
    store = sqlite_store
    job = store.new_job({"engine": to_json("engine", build_engine(2, name="pump engine")), "name": "Pump"}, "ab")
    file = make_photo()
    job, key = store.add_photo(job, file, cylinders=(1,), across=True, stage="before", who="ab")
    path, value = reading_field(key, looked_at(file), file.name)
    typed = {
        f"typed/{new_key()}": to_json("typed/a", TypedLabel(cylinder, "normal-tan", stage=stage))
        for cylinder, stage in ((2, "before"), (1, "after"), (2, "after"))
    }
    return store.change(job, {path: value, **typed}, "ab", "plugs")


def test_outlines_come_back_from_the_photograph(sqlite_store, job):
    kept = next(iter(job.card.readings.values())).reading.readings[0]
    assert kept.zones[0].outlines == ()
    result, _ = job_report(sqlite_store, job, read=looked_at)
    nose, rim = result.readings[1].zones
    assert nose.outlines == (LOOP,)
    assert nose.lab == kept.zones[0].lab
    assert rim.outlines == ()
    assert result.readings[2].zones == ()


def test_outlines_of_another_plug_are_not_taken(sqlite_store, job):
    result, _ = job_report(sqlite_store, job, read=lambda file: looked_at(file, shift=50))
    assert result.readings[1].zones[0].outlines == ()


def test_a_damaged_photograph_costs_only_its_outlines(sqlite_store, job):
    def damaged(file: Path) -> PhotoReading:
        raise PhotoError(f"{file} is damaged", "take it again")

    result, _ = job_report(sqlite_store, job, read=damaged)
    assert result.readings[1].label == "wet"
    assert result.readings[1].zones[0].outlines == ()


def test_later_looks_follow_the_first(sqlite_store, job):
    _, facts = job_report(sqlite_store, job, read=looked_at)
    assert [look.when for look in facts.later] == ["after the repair"]
    assert {c: r.label for c, r in facts.later[0].result.readings.items()} == {1: "normal-tan", 2: "normal-tan"}
    _, facts = job_report(sqlite_store, job, "after", read=looked_at)
    assert facts.later == ()


def test_what_is_written_on_the_card(sqlite_store, job):
    job = sqlite_store.change(
        job,
        {
            "status": "fixed",
            "fixed": "Coil renewed.",
            "customer": "yard 4",
            "rates": to_json("rates", Rates(9000, "JPY")),
            f"found/{new_key()}": to_json("found/a", Cause("dead-coil", "cylinder 1")),
            f"parts/{new_key()}": to_json("parts/a", Part("coil", 1, 5800)),
            f"work/{new_key()}": to_json("work/a", Work("fitting", 20)),
        },
        "ab",
        "written down",
    )
    facts = job_facts(job)
    assert (facts.number, facts.status, facts.fixed, facts.customer) == (job.number, "fixed", "Coil renewed.", "yard 4")
    assert [(each.cause, each.where) for each in facts.found] == [("dead-coil", "cylinder 1")]
    assert [(each.name, each.count, each.cost) for each in facts.parts] == [("coil", 1, 5800.0)]
    assert (facts.minutes, facts.rate, facts.spent, facts.digits) == (20, 9000.0, 8800.0, 0)
    assert facts.repaired


def test_a_job_without_an_engine_has_no_report(sqlite_store):
    with pytest.raises(CaseError, match="says nothing about the engine"):
        job_report(sqlite_store, sqlite_store.new_job({}, "ab"))
