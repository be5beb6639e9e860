"""Cards as cases, before beside after, and an engine over its jobs."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from firingend.bench.measurement import Measurement
from firingend.cases.load import parse_case
from firingend.engine.build import build_engine
from firingend.errors import CaseError
from firingend.jobs.as_case import assess_job, case_of, fields_of, reading_field
from firingend.jobs.card import Cause, Part, TypedLabel, Work, new_key, to_json
from firingend.jobs.over_time import engine_history, side_by_side
from firingend.jobs.spreadsheet import COLUMNS, as_csv, as_json, guarded, rows_of
from firingend.labels import LABELS
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Zone

ENGINE = build_engine(2, name="pump engine")

CASE = """\
name = "Pump set"
complaint = "Shakes"
[engine]
name = "flat four"
cylinders = 4
layout = "flat"
ignition = "wasted-spark"
firing_order = [1, 4, 3, 2]
[run]
before = "idled"
[symptoms]
rough-idle = "present"
[plugs]
1 = "wet"
2 = { label = "normal-tan", sure = 0.7, signs = ["worn"] }
[[outcomes]]
check = "coil-resistance"
where = "coil A"
outcome = "off"
[[measurements]]
what = "compression-dry"
cylinder = 1
value = 1180
unit = "kPa"
[costs]
rate_per_hour = 72.5
currency = "EUR"
"""


def photo_reading(file, *labels):
    quality = Quality(300.0, 0.01, 0.02, 118.0, 3.5)
    zone = Zone("nose", (((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)),), 0.4, (60.0, 8.0, 12.0), "rag", 0.8)
    readings = tuple(
        Reading(
            FiringEnd((500.0 * i, 10.0, 500.0 * i + 400, 420.0), (0.6, -0.8), 0.97),
            label,
            {each: 0.84 if each == label else 0.04 for each in LABELS},
            quality=quality,
            zones=(zone,),
            severity=0.3,
        )
        for i, label in enumerate(labels)
    )
    return PhotoReading(Path(file), 4000, 3000, quality, readings)


@pytest.fixture
def repaired(store, make_photo):
    """A job with a row photographed before and after the repair."""
    engine = to_json("engine", ENGINE)
    job = store.new_job({"name": "Pump set", "engine": engine, "customer": "=HYPERLINK(1)", "mark": "INV-7"})
    for stage, labels, shade in (("before", ("wet", "normal-tan"), 1), ("after", ("normal-tan", "normal-tan"), 2)):
        job, key = store.add_photo(job, make_photo(shade), cylinders=(1, 2), stage=stage)
        path, value = reading_field(key, photo_reading("plug.jpg", *labels), "plug.jpg", "1")
        job = store.change(job, {path: value})
    return store.change(
        job,
        {
            "found/a": to_json("found/a", Cause("worn-rings", "cylinder 1")),
            "parts/a": to_json("parts/a", Part("ring set", 1, 4550)),
            "work/a": to_json("work/a", Work("rings", 90.0)),
            "measurements/a": to_json("measurements/a", Measurement("compression-dry", "cylinder 1", 640, "kPa")),
            "status": "proved",
        },
    )


def test_a_case_file_becomes_a_card_and_a_case_again(store):
    case = parse_case(CASE)
    job = store.new_job(fields_of(case))
    again, keys = case_of(store.job(job.number).card, {}, "before")
    assert keys == ()
    assert again == case


def test_a_card_without_an_engine_is_no_case(store):
    job = store.new_job({"name": "Pump set"})
    with pytest.raises(CaseError, match="says nothing about the engine"):
        assess_job(store, job)


def test_readings_are_kept_without_outlines(repaired):
    for kept in repaired.card.readings.values():
        assert [zone.outlines for end in kept.reading.readings for zone in end.zones] == [(), ()]
        assert kept.reading.readings[0].zones[0].lab == (60.0, 8.0, 12.0)


def test_kept_readings_are_assessed_without_reading_again(store, repaired):
    def never(file):
        raise AssertionError(file)

    before = assess_job(store, repaired, "before", never)
    after = assess_job(store, repaired, "after", never)
    assert [reading.label for reading in before.readings.values()] == ["wet", "normal-tan"]
    assert [reading.label for reading in after.readings.values()] == ["normal-tan", "normal-tan"]
    assert before.case.measurements
    assert not after.case.measurements


def test_a_photograph_not_read_yet_is_read(store, make_photo):
    job = store.new_job({"engine": to_json("engine", ENGINE)})
    job, _ = store.add_photo(job, make_photo(1), cylinders=(2, 1))
    result = assess_job(store, job, read=lambda file: photo_reading(file, "wet", "lean-white"))
    assert {cylinder: reading.label for cylinder, reading in result.readings.items()} == {2: "wet", 1: "lean-white"}


def test_what_was_written_last_counts(store, make_photo):
    job = store.new_job({"engine": to_json("engine", ENGINE)})
    for label in ("wet", "lean-white"):
        job = store.change(job, {f"typed/{new_key()}": to_json("typed/a", TypedLabel(1, label))})
    assert case_of(job.card, {}, "before")[0].typed[1].label == "lean-white"
    assert case_of(job.card, {}, "after")[0].typed == {}
    job, key = store.add_photo(job, make_photo(1), cylinders=(1,))
    case, keys = case_of(job.card, store.photos_of(job), "before")
    assert (keys, dict(case.typed)) == ((key,), {})


def test_before_and_after_stand_side_by_side(store, repaired):
    found = side_by_side(store, repaired)
    assert {
        cylinder: {stage: seen.reading.label for stage, seen in stages.items()} for cylinder, stages in found.items()
    } == {1: {"before": "wet", "after": "normal-tan"}, 2: {"before": "normal-tan", "after": "normal-tan"}}
    assert found[1]["before"].photo.sha256 != found[1]["after"].photo.sha256


def test_an_engines_history_tells_what_was_found_and_what_it_cost(store, repaired):
    other = store.new_job({"engine": to_json("engine", ENGINE), "mark": "INV-8"})
    visits = engine_history(store, "PUMP engine")
    assert [visit.number for visit in visits] == [repaired.number, other.number]
    [visit] = engine_history(store, "pump engine", mark="inv-7")
    assert (visit.labels, visit.found[0].cause, visit.status) == ({1: "wet", 2: "normal-tan"}, "worn-rings", "proved")
    assert (visit.minutes, visit.spent_minor, visit.currency) == (90.0, 4550 + 9000, "EUR")


def test_rows_for_a_spreadsheet(store, repaired):
    rows = list(rows_of(store, [store.job(repaired.number)]))
    readings = [(row["stage"], row["cylinder"], row["what"]) for row in rows if row["kind"] == "reading"]
    assert readings == [
        ("before", 1, "wet"),
        ("before", 2, "normal-tan"),
        ("after", 1, "normal-tan"),
        ("after", 2, "normal-tan"),
    ]
    assert [(row["where"], row["value"], row["unit"]) for row in rows if row["kind"] == "measurement"] == [
        ("cylinder 1", 640.0, "kPa")
    ]
    read_back = list(csv.DictReader(io.StringIO(as_csv(rows).removeprefix("\ufeff"))))
    assert tuple(read_back[0]) == COLUMNS
    assert {row["customer"] for row in read_back} == {"'=HYPERLINK(1)"}
    assert json.loads(as_json(rows))[0]["customer"] == "=HYPERLINK(1)"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "＝1", "\r=1"])
def test_no_text_is_taken_for_a_formula(text):
    assert guarded(text) == "'" + text


def test_a_plug_photographed_again_leaves_the_others_of_the_row_as_they_were(store, make_photo):
    job = store.new_job({"engine": to_json("engine", ENGINE)})
    job, row = store.add_photo(job, make_photo(1), cylinders=(2, 1))
    job, again = store.add_photo(job, make_photo(2), cylinders=(1,))
    readings = [reading_field(row, photo_reading("a", "wet", "oil-fouled"), "a")]
    readings.append(reading_field(again, photo_reading("b", "normal-tan"), "b"))
    job = store.change(job, dict(readings))
    assert {c: r.label for c, r in assess_job(store, job).readings.items()} == {1: "normal-tan", 2: "wet"}
    assert {c: s["before"].reading.label for c, s in side_by_side(store, job).items()} == {1: "normal-tan", 2: "wet"}
    assert {(r["cylinder"], r["what"]) for r in rows_of(store, [job])} == {(1, "normal-tan"), (2, "wet")}
    label = to_json("typed/a", TypedLabel(2, "lean-white"))
    job = store.change(job, {f"typed/{new_key()}": label})
    assert {c: r.label for c, r in assess_job(store, job).readings.items()} == {1: "normal-tan", 2: "lean-white"}


def test_a_photograph_and_its_reading_come_and_go_together(store, make_photo):
    job = store.new_job({"engine": to_json("engine", ENGINE), "mark": "INV-7"})
    reading = photo_reading("a", "wet")

    def along(key):
        return {**dict([reading_field(key, reading, "a")]), "mark": None}

    job, key = store.add_photo(job, make_photo(1), cylinders=(1,), along=along, what="plug of cylinder 1")
    assert set(job.fields) == {"engine", "status", f"photos/{key}", f"readings/{key}"}
    assert store.history(job.id)[-1].what == "plug of cylinder 1"
    assert set(store.undo(job.id).fields) == {"engine", "status", "mark"}
