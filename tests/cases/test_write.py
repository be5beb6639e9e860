"""A case written down reads back as the same case."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firingend.cases.case import Case, PlacedPhoto, TypedPlug
from firingend.cases.load import parse_case
from firingend.cases.write import case_text, write_case
from firingend.diagnosis.evidence import Measurement, RunBefore
from firingend.engine.build import build_engine
from firingend.engine.engine import SharedPart
from firingend.errors import UserError
from firingend.labels import LABELS, SIGNS, UNREADABLE

FOLDER = Path("/shop/job")
ENGINES = (
    build_engine(1, strokes=2, fuel_system="carburettor", ignition="magneto"),
    build_engine(4, name="pump", ignition="wasted-spark", firing_order=(1, 3, 4, 2)),
    build_engine(4, layout="flat", banks={"left bank": (1, 2), 'the "right"': (3, 4)}),
    build_engine(2, fuel_system="carburettor", ignition="magneto", one_each=("carburettor",), aircraft=True),
    build_engine([2, 1], shared=(SharedPart("coil", "Spule ä", (1, 2)),), one_each=("head",)),
)

text = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
typed_plugs = st.builds(
    TypedPlug,
    st.sampled_from((*LABELS, UNREADABLE)),
    st.floats(0.2, 1),
    st.lists(st.sampled_from(SIGNS), unique=True).map(tuple),
)


@st.composite
def cases(draw) -> Case:
    engine = draw(st.sampled_from(ENGINES))
    one, *others = engine.cylinders
    photos: tuple[PlacedPhoto, ...] = (PlacedPhoto(FOLDER / "plug 1.jpg", (one,)),)
    if len(others) > 1:
        photos = (PlacedPhoto(FOLDER / "sub" / "row.jpg", tuple(others[:2]), draw(st.booleans())), *photos)
        others = others[2:]
    return Case(
        name=draw(text.filter(bool)),
        engine=engine,
        complaint=draw(text),
        symptoms=draw(st.dictionaries(st.sampled_from(("rough-idle", "hard-hot-start")), st.booleans())),
        photos=photos,
        typed={cylinder: draw(typed_plugs) for cylinder in others},
        measurements=(Measurement("compression-dry", f"cylinder {one}", draw(st.floats(0, 3000)), "kPa", "warm"),),
        run=RunBefore(draw(st.sampled_from(("idled", "ridden", "unknown"))), draw(st.sampled_from((None, 7.5))), "E10"),
        rate_per_hour=draw(st.floats(0, 500)),
        currency=draw(st.sampled_from(("EUR", "SEK"))),
        file=FOLDER / "case.toml",
    )


@settings(max_examples=60)
@given(cases())
def test_round_trip(case: Case):
    assert parse_case(case_text(case, FOLDER), FOLDER / "case.toml") == case


def test_photographs_elsewhere_keep_their_full_name(tmp_path: Path):
    case = Case("x", ENGINES[0], photos=(PlacedPhoto(tmp_path / "a.jpg", (1,)),))
    file = tmp_path / "jobs" / "case.toml"
    file.parent.mkdir()
    write_case(case, file)
    assert parse_case(file.read_text(encoding="utf-8"), file).photos[0].file == tmp_path / "a.jpg"


def test_folder_that_is_not_there_is_named(tmp_path: Path):
    with pytest.raises(UserError, match="cannot be written"):
        write_case(Case("x", ENGINES[0]), tmp_path / "gone" / "case.toml")
