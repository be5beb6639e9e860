"""Finished cases with drawn photographs, so that a report's tests need neither networks nor knowledge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw

from firingend.cases.case import Case, CaseResult, PlacedPhoto, TypedPlug
from firingend.comparison.comparison import Comparison
from firingend.diagnosis.diagnosis import Diagnosis, RankedCause, RankedStep
from firingend.diagnosis.evidence import Measurement, Outcome, RunBefore
from firingend.diagnosis.knowledge import Check, General, Knowledge, Symptom
from firingend.engine.build import build_engine
from firingend.engine.engine import SharedPart
from firingend.labels import LABELS, UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Reason

CELL = 300
SHARP = Quality(focus=300.0, clipped_bright=0.01, clipped_dark=0.02, mean_luma=110.0, cast_degrees=3.0)


def shares(label: str, share: float) -> dict[str, float]:
    rest = (1 - share) / (len(LABELS) - 1)
    return {each: share if each == label else rest for each in LABELS}


def draw_row(file: Path, count: int) -> None:
    """A row of rings with a dot in each, with a place in the EXIF that must never come out again."""
    picture = Image.new("RGB", (CELL * count, CELL), (96, 104, 110))
    pen = ImageDraw.Draw(picture)
    for i in range(count):
        x, y = CELL * i + CELL // 2, CELL // 2
        pen.ellipse((x - 70, y - 70, x + 70, y + 70), fill=(60, 58, 55), outline=(180, 180, 176), width=12)
        pen.ellipse((x - 28, y - 28, x + 28, y + 28), fill=(214 - 9 * i, 188 - 5 * i, 150))
        pen.rectangle((x - 8, y - 66, x + 8, y), fill=(120, 118, 112))
    exif = Image.Exif()
    exif[0x010F] = "Owner-of-the-camera"
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 11.0, 22.0)})
    picture.save(file, exif=exif, quality=90)


def row_reading(file: Path, readings: tuple[Reading, ...]) -> PhotoReading:
    return PhotoReading(file, CELL * len(readings), CELL, SHARP, readings)


def seen_at(index: int, label: str, share: float, **more: Any) -> Reading:
    """A reading of the ``index``-th ring of a drawn row."""
    x = CELL * index + CELL // 2
    box = (x - 80.0, 70.0, x + 80.0, 230.0)
    return Reading(FiringEnd(box, (0.0, -0.4), 0.98), label, shares(label, share), quality=SHARP, **more)


COMPARISON = Comparison(
    pattern="one-odd",
    probability=0.83,
    patterns={"one-odd": 0.83, "scattered": 0.17},
    label="lean-white",
    cylinders=(2,),
    where="",
    sentence="Cylinder 2 is white, 1 and 4 are tan; it is alone, so look first at what it has to itself."
    " Cylinder 3 could not be read.",
)

DIAGNOSIS = Diagnosis(
    causes=(
        RankedCause("injector-clogged", "Injector clogged", "cylinder 2", 0.52, "Clean or replace it.", (2,)),
        RankedCause("manifold-leak", "Leak at the inlet joint", "cylinder 2", 0.31, "Renew the gasket.", (2,)),
        RankedCause("valve-tight", "Valve too tight", "cylinder 2", 0.004, "", (2,)),
    ),
    next=(
        RankedStep(
            id="leak-smoke",
            name="Intake leak with smoke",
            where="cylinder 2",
            why="Smoke at the joint proves the leak; none makes it unlikely.",
            how=("Engine off and cool.", "Fill the intake with smoke.", "Watch every joint."),
            minutes=20,
            parts_cost=0,
            expected_cost=146.4,
            cautions=("Flammable spray near a running engine can ignite: use smoke.",),
            source="common practice, no source",
        ),
        RankedStep(
            id="injector-balance",
            name="Injector balance",
            where="engine",
            why="A weak one stands out from its peers.",
            how=(),
            minutes=75,
            parts_cost=7.5,
            expected_cost=181,
            cautions=("Release fuel pressure before opening a line.", "Eye protection on."),
            source="common practice, no source",
        ),
    ),
    ruled_out=(RankedCause("coil-weak", "Weak coil", "coil A (1 and 4)", 0.0002, "", (1, 4)),),
    currency="EUR",
    notes=("the plugs ran only 5 minutes: their colour has hardly settled",),
)


@pytest.fixture
def knowledge() -> Knowledge:
    """Names of one symptom and one check, so that these tests do not change with what is known."""
    source = "common practice, no source"
    numbers = [field.name for field in fields(General) if field.name != "source"]
    check = Check(
        id="coil-resistance",
        name="Coil resistance",
        where="engine",
        outcomes={"all-alike": "alike and within the range"},
        otherwise=(1.0,),
        minutes=15,
        how=(),
        source=source,
    )
    return Knowledge(
        general=General(**dict.fromkeys(numbers, 0.1), source=source),
        causes={},
        checks={check.id: check},
        symptoms={"surging-idle": Symptom("surging-idle", "Surging or hunting idle", 0.1, source)},
        profiles={},
        openings={},
        cautions={},
        shifts={},
    )


@pytest.fixture
def result(tmp_path: Path) -> CaseResult:
    """A four with one odd cylinder, one plug out of focus and one label given by hand."""
    photo = tmp_path / "row.jpg"
    draw_row(photo, 3)
    readings = (
        seen_at(0, "normal-tan", 0.93),
        seen_at(1, "lean-white", 0.88, signs={"blisters": 0.71, "ash": 0.1}),
        seen_at(2, UNREADABLE, 0.0, reasons=(Reason("focus", "out of focus", "tap on the plug and take it again"),)),
    )
    by_hand = Reading(None, "normal-tan", shares("normal-tan", 0.9))
    engine = build_engine(
        4,
        name="bench four",
        ignition="wasted-spark",
        firing_order=(1, 3, 4, 2),
        shared=(SharedPart("coil", "coil A", (1, 4)), SharedPart("coil", "coil B", (2, 3))),
    )
    case = Case(
        name="Blue delivery van",
        engine=engine,
        complaint="Hunts at idle.\nPops in the intake.",
        symptoms={"surging-idle": True, "unheard-of": True, "hard-cold-start": False},
        photos=(PlacedPhoto(photo, (1, 2, 3)),),
        typed={4: TypedPlug("normal-tan", 0.9)},
        outcomes=(
            Outcome("coil-resistance", "all", "all-alike"),
            Outcome("plug-gap", "cylinder 2", "too-wide"),
            Outcome("repair:injector-clogged", "cylinder 2", "better"),
        ),
        measurements=(Measurement("coil-primary-resistance", "coil A", 0.8, "Ω", "at 20 °C"),),
        run=RunBefore("idled", 5, "E10"),
    )
    by_cylinder = dict(zip((1, 2, 3), readings, strict=True)) | {4: by_hand}
    return CaseResult(case, (row_reading(photo, readings),), by_cylinder, COMPARISON, DIAGNOSIS)


@pytest.fixture
def engine_of(result: CaseResult, tmp_path: Path) -> Callable[[int], CaseResult]:
    """Make a finished case of an engine with so many cylinders, all in one photograph."""

    def make(count: int) -> CaseResult:
        photo = tmp_path / f"row-of-{count}.jpg"
        draw_row(photo, count)
        readings = tuple(seen_at(i, "rich-carbon", 0.9) for i in range(count))
        cylinders = tuple(range(1, count + 1))
        case = replace(
            result.case,
            engine=build_engine(count, name="engine"),
            photos=(PlacedPhoto(photo, cylinders),),
            typed={},
        )
        by_cylinder = dict(zip(cylinders, readings, strict=True))
        return replace(result, case=case, photo_readings=(row_reading(photo, readings),), readings=by_cylinder)

    return make
