"""From a case to its result: photographs matched to cylinders, then compared and diagnosed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from firingend.cases.case import Case, CaseResult, PlacedPhoto, TypedPlug
from firingend.cases.run import assess, place_readings, run_case, typed_reading
from firingend.engine.build import build_engine
from firingend.errors import BugError, CaseError
from firingend.labels import LABELS, UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Reason

THREE = build_engine(3)
QUALITY = Quality(300.0, 0.0, 0.0, 120.0, 2.0)


def photo_reading(file: str, *labels: str, down: bool = False) -> PhotoReading:
    """What a reader would give for a photograph of plugs in a row; made up here, nothing is read."""
    readings = []
    for i, label in enumerate(labels):
        x, y = (0, 500 * i) if down else (500 * i, 0)
        end = FiringEnd((x, y, x + 300, y + 300), (0.0, -1.0), 0.99)
        readings.append(Reading(end, label, {each: 0.92 if each == label else 0.02 for each in LABELS}))
    return PhotoReading(Path(file), 2000, 2000, QUALITY, tuple(readings))


def labels(case: Case, *photos: PhotoReading) -> dict[int, str]:
    return {cylinder: reading.label for cylinder, reading in place_readings(case, photos).items()}


def test_row_goes_to_cylinders_in_order():
    case = Case("x", THREE, photos=(PlacedPhoto(Path("row.jpg"), (3, 2, 1)),))
    assert labels(case, photo_reading("row.jpg", "wet", "normal-tan", "lean-white")) == {
        1: "lean-white",
        2: "normal-tan",
        3: "wet",
    }


def test_photos_and_typed_labels_come_in_engine_order():
    case = Case(
        "x", THREE, photos=(PlacedPhoto(Path("c.jpg"), (2,)),), typed={3: TypedPlug("wet"), 1: TypedPlug("wet")}
    )
    assert labels(case, photo_reading("c.jpg", "oil-fouled")) == {1: "wet", 2: "oil-fouled", 3: "wet"}


@pytest.mark.parametrize(
    ("seen", "message"),
    [
        (("wet", "wet"), "2 firing ends were found in row.jpg but it is written down for cylinders 1, 2 and 3"),
        (("wet",), "1 firing end was found in row.jpg"),
        ((), "no firing ends were found in row.jpg"),
        (("wet",) * 4, "photograph the plugs again with all of them, and nothing else, in the frame"),
    ],
)
def test_other_than_the_expected_number_of_firing_ends_is_refused(seen, message):
    case = Case("x", THREE, photos=(PlacedPhoto(Path("row.jpg"), (1, 2, 3)),))
    with pytest.raises(CaseError) as error:
        labels(case, photo_reading("row.jpg", *seen))
    assert message in str(error.value)


def test_two_plugs_in_a_photograph_of_one_are_refused():
    case = Case("x", THREE, photos=(PlacedPhoto(Path("c.jpg"), (2,)),))
    with pytest.raises(CaseError, match=r"2 firing ends were found in c\.jpg but it is written down for cylinder 2"):
        labels(case, photo_reading("c.jpg", "wet", "wet"))


def test_what_is_no_plug_is_left_out_where_that_gives_the_number_expected():
    case = Case("x", THREE, photos=(PlacedPhoto(Path("c.jpg"), (2,)),))
    seen = photo_reading("c.jpg", "wet", "oil-fouled")
    bolt, plug = seen.readings
    with_bolt = replace(seen, readings=(replace(bolt, not_a_plug=0.9), plug))
    assert labels(case, with_bolt) == {2: "oil-fouled"}
    both = replace(seen, readings=(replace(bolt, not_a_plug=0.9), replace(plug, not_a_plug=0.9)))
    with pytest.raises(CaseError, match="2 firing ends were found"):
        labels(case, both)


def test_what_is_no_plug_is_not_counted_among_the_plugs_found():
    case = Case("x", THREE, photos=(PlacedPhoto(Path("row.jpg"), (1, 2, 3)),))
    seen = photo_reading("row.jpg", *("wet",) * 4)
    two_bolts = tuple(replace(r, not_a_plug=0.9) if i < 2 else r for i, r in enumerate(seen.readings))
    with pytest.raises(CaseError, match="2 firing ends were found"):
        labels(case, replace(seen, readings=two_bolts))
    # As many as written down: one of them refused as no plug still holds its place in the row.
    assert labels(case, replace(seen, readings=two_bolts[1:])) == {1: "wet", 2: "wet", 3: "wet"}


@pytest.mark.parametrize(("across", "down", "fits"), [(True, False, True), (False, True, True), (True, True, False)])
def test_row_that_runs_the_other_way_is_refused(across: bool, down: bool, fits: bool):
    case = Case("x", THREE, photos=(PlacedPhoto(Path("row.jpg"), (1, 2, 3), across),))
    seen = photo_reading("row.jpg", "wet", "wet", "wet", down=down)
    if fits:
        assert len(labels(case, seen)) == 3
    else:
        with pytest.raises(CaseError, match=r'runs top to bottom.*write first = "top" or "bottom"'):
            labels(case, seen)


def test_photograph_of_one_plug_without_a_firing_end_is_unreadable_with_the_reason():
    case = Case("x", THREE, photos=(PlacedPhoto(Path("c.jpg"), (2,)),))
    reason = Reason("too-dark", "too dark", "use more light")
    dark = PhotoReading(Path("c.jpg"), 10, 10, QUALITY, (), (reason,))
    reading = place_readings(case, (dark,))[2]
    assert (reading.label, reading.reasons) == (UNREADABLE, (reason,))
    plain = place_readings(case, (photo_reading("c.jpg"),))[2]
    assert plain.reasons[0].text == "no firing end was found"


def test_typed_label_becomes_probabilities():
    reading = typed_reading(TypedPlug("wet", 0.8, ("ash",)))
    assert reading.label == "wet"
    assert reading.probabilities == pytest.approx(dict.fromkeys(LABELS, 0.05) | {"wet": 0.8})
    assert reading.signs == {"ash": 0.95}
    assert reading.firing_end is None
    assert typed_reading(TypedPlug(UNREADABLE)).label == UNREADABLE


def test_photo_readings_have_to_match_the_photographs():
    with pytest.raises(BugError):
        assess(Case("x", THREE), (photo_reading("row.jpg", "wet"),))


def test_whole_run_reads_compares_and_diagnoses():
    case = Case(
        "x",
        THREE,
        symptoms={"rough-idle": True},
        photos=(PlacedPhoto(Path("row.jpg"), (1, 2)),),
        typed={3: TypedPlug("normal-tan")},
    )
    asked = []

    def read(file: Path) -> PhotoReading:
        asked.append(file)
        return photo_reading(file.name, "normal-tan", "wet")

    result = run_case(case, read)
    assert isinstance(result, CaseResult)
    assert asked == [Path("row.jpg")]
    assert (result.comparison.pattern, result.comparison.cylinders) == ("one-odd", (2,))
    assert result.photo_file(2) == Path("row.jpg")
    assert result.photo_file(3) is None
    assert sum(cause.probability for cause in result.diagnosis.causes) <= 1 + 1e-9
    assert any(2 in cause.cylinders for cause in result.diagnosis.causes[:3])
    assert result.diagnosis.next
