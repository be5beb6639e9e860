"""A case written as text reads back as the same case."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.cases.case import Case, PlacedPhoto, TypedPlug
from firingend.cases.load import parse_case
from firingend.cases.write import case_text
from firingend.diagnosis.evidence import Measurement, RunBefore
from firingend.engine.build import build_engine
from firingend.engine.engine import SharedPart
from firingend.labels import LABELS, SIGNS

ENGINES = (
    build_engine(1, strokes=2, fuel_system="carburettor", ignition="magneto"),
    build_engine(3, one_each=("throttle-body",)),
    build_engine(4, ignition="wasted-spark", firing_order=(1, 3, 4, 2)),
    build_engine(4, layout="flat", banks={"left bank": (2, 4), "right bank": (1, 3)}),
    build_engine(4, fuel_system="carburettor", one_each=("carburettor",)),
    build_engine(6, layout="vee", shared=[SharedPart("carburettor", "front", (1, 2, 3))], fuel_system="carburettor"),
)
words = st.text(st.characters(blacklist_categories=("Cs",)), min_size=1, max_size=30)


def back(case: Case, folder: Path) -> Case:
    """The case as it comes back from its text."""
    return replace(parse_case(case_text(case, folder), folder / "c.toml"), file=case.file)


@pytest.mark.parametrize("engine", ENGINES, ids=lambda e: f"{e.layout}-{len(e.cylinders)}-{e.fuel_system}")
def test_every_kind_of_engine_comes_back(engine, tmp_path):
    case = Case("case", engine)
    assert back(case, tmp_path).engine == engine


@given(
    name=words, complaint=words, label=st.sampled_from(LABELS), sure=st.floats(0.2, 1.0), sign=st.sampled_from(SIGNS)
)
def test_words_and_labels_come_back_whatever_they_are(name, complaint, label, sure, sign):
    typed = {2: TypedPlug(label, sure, (sign,)), 3: TypedPlug("unreadable")}
    case = Case(name, ENGINES[2], complaint, typed=typed)
    assert back(case, Path("/somewhere")) == case


def test_photos_are_named_as_seen_from_the_file(tmp_path):
    photos = (
        PlacedPhoto(tmp_path / "photos" / "row.jpg", (3, 2, 1), across=False),
        PlacedPhoto(tmp_path.parent / 'it"s.jpg', (4,)),
    )
    text = case_text(Case("case", ENGINES[2], photos=photos), tmp_path)
    assert 'file = "photos/row.jpg"' in text
    assert str(tmp_path) not in text
    found = parse_case(text, tmp_path / "c.toml").photos
    assert [(p.file.resolve(), p.cylinders) for p in found] == [(p.file.resolve(), p.cylinders) for p in photos]
    assert not found[0].across


def test_symptoms_measurements_run_and_costs_come_back(tmp_path):
    case = Case(
        "case",
        ENGINES[2],
        measurements=(
            Measurement("compression-dry", "cylinder 2", 1100.0, "kPa"),
            Measurement("ph", "engine", 7.5, ""),
        ),
        run=RunBefore("clean-cut", 25.5, "E10"),
        rate_per_hour=80.0,
        currency="CHF",
    )
    assert back(case, tmp_path) == case
