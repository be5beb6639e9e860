"""Case files: what a good one gives, and what every bad one is told."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from firingend.cases.case import PlacedPhoto, TypedPlug
from firingend.cases.load import load_case, parse_case
from firingend.diagnosis.evidence import Measurement, RunBefore
from firingend.errors import CaseError

DOCS = Path(__file__).parents[2] / "docs" / "case-file.md"
FOUR = "[engine]\ncylinders = 4\n"


def refused(text: str) -> str:
    with pytest.raises(CaseError) as error:
        parse_case(text, Path("job/case.toml"))
    return str(error.value)


def documented_example() -> str:
    found = re.search(r"```toml\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    assert found
    return found[1]


def test_documented_example_says_what_it_seems_to_say():
    case = parse_case(documented_example())
    assert case.name == "Pump set, hard to start"
    assert [part.name for part in case.engine.shared if part.kind == "coil"] == ["coil A", "coil B"]
    assert case.run == RunBefore("idled", 300, "E10")
    assert list(case.symptoms.values()) == [True, True, False]
    assert case.typed[3] == TypedPlug("normal-tan", 0.8)
    assert case.typed[4] == TypedPlug("wet", 0.9, ("worn",))
    assert (case.outcomes[0].where, case.outcomes[0].check) == ("coil A", "coil-resistance")
    assert case.measurements == (Measurement("compression-dry", "cylinder 1", 1180, "kPa", "warm, throttle open"),)
    assert (case.rate_per_hour, case.currency) == (72.0, "EUR")


def test_documented_tables_name_every_key():
    from firingend.cases import form

    text = DOCS.read_text(encoding="utf-8")
    for model in (form.CaseForm, form.EngineForm, form.RunForm, form.PhotoForm, form.OutcomeForm, form.CostsForm):
        for key in model.model_fields:
            assert re.search(rf"[`\[.]{key}[`\]]", text), f"{model.__name__}.{key} is not documented"


def test_least_case_is_an_engine():
    case = parse_case("[engine]\ncylinders = 1\n")
    assert (case.engine.layout, case.photos, case.typed) == ("single", (), {})


@pytest.mark.parametrize(
    ("first", "cylinders", "across"),
    [
        ("left", (1, 2, 3), True),
        ("right", (3, 2, 1), True),
        ("top", (1, 2, 3), False),
        ("bottom", (3, 2, 1), False),
    ],
)
def test_row_photo_is_turned_into_row_order(first: str, cylinders: tuple[int, ...], across: bool):
    text = f'photos = [{{ file = "row.jpg", first = "{first}" }}]\n[engine]\ncylinders = 3\n'
    case = parse_case(text, Path("job/case.toml"))
    assert case.photos == (PlacedPhoto(Path("job/row.jpg"), cylinders, across),)


def test_rows_single_photos_and_labels_mix():
    text = FOUR + '[[photos]]\nfile = "a.jpg"\ncylinders = [2, 1]\n[plugs]\n3 = "c.jpg"\n4 = { photo = "d.png" }\n'
    photos = parse_case(text, Path("case.toml")).photos
    assert [(photo.file.name, photo.cylinders) for photo in photos] == [
        ("a.jpg", (2, 1)),
        ("c.jpg", (3,)),
        ("d.png", (4,)),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('name = "x"\n', "case.toml: engine is missing: add it"),
        ("[engine\n", "case.toml, line 1, column 8: expected ']' at the end of a table"),
        ("[engine]\ncylinders = 4\ncylinders = 4\n", "line 3, column 14: cannot overwrite a value"),
        ("x = 1\n" + FOUR, "case.toml, line 1: there is no key x: use one of: name, complaint, engine"),
        ("int = 1\n" + FOUR, "line 1: there is no key int: use one of: name, complaint, engine"),
        (FOUR + "CaseForm = 1\n", "line 3: there is no key engine.CaseForm: use one of: "),
        (FOUR + 'layuot = "flat"\n', "line 3: there is no key engine.layuot: did you mean layout"),
        (FOUR + 'layout = "falt"\n', 'line 3: engine.layout is "falt": did you mean flat'),
        (FOUR + "strokes = 3\n", "line 3: engine.strokes is 3: write 2 or 4"),
        ('[engine]\ncylinders = "4"\n', 'is "4": write a whole number or a list in square brackets'),
        ('[engine]\ncylinders = [1, "2"]\n', 'line 2: engine.cylinders[2] is "2": write a whole number'),
        ("[engine]\ncylinders = true\n", "engine.cylinders is true: write a whole number"),
        (
            FOUR + "\n# why\nfiring_order = [1, 2]\n",
            "line 5: firing_order [1, 2] does not name every cylinder once",
        ),
        (
            FOUR + '[[engine.shared]]\nkind = "coil"\nname = "A"\ncylinders = [1, 9]\n',
            "does not have: use only 1, 2",
        ),
        (FOUR + "[costs]\ncurrency = 'euro'\n", 'line 4: costs.currency is "euro": write three capitals'),
        (FOUR + "[costs]\nrate_per_hour = -1\n", "line 4: costs.rate_per_hour is -1: it should be greater than"),
        (FOUR + '[run]\nbefore = "idle"\n', 'line 4: run.before is "idle": did you mean idled'),
        (FOUR + "[plugs]\n5 = 'wet'\n", "line 4: plugs.5 speaks of cylinder 5, which the engine does not have"),
        (FOUR + "[plugs]\none = 'wet'\n", "line 4: plugs.one is not a cylinder number: write for example"),
        (
            FOUR + "[plugs]\n1 = 'wett'\n",
            'line 4: plugs.1 is "wett", neither a label nor a photograph: did you mean',
        ),
        (FOUR + "[plugs]\n1 = 5\n", "line 4: plugs.1 is 5: write text in quotes or a table"),
        (FOUR + "[plugs]\n1 = { labl = 'wet' }\n", "line 4: there is no key plugs.1.labl: did you mean label"),
        (FOUR + "[plugs]\n1 = { label = 'oily' }\n", 'line 4: there is no label "oily": use one of: lean-white'),
        (FOUR + "[plugs]\n1 = { label = 'wet', sure = 1.5 }\n", "line 4: plugs.1.sure is 1.5: it should be less"),
        (
            FOUR + "[plugs]\n1 = { label = 'wet', signs = ['ashes'] }\n",
            'there is no sign "ashes": did you mean ash',
        ),
        (
            FOUR + "[plugs]\n1 = { sure = 0.5 }\n",
            "line 4: plugs.1 needs either photo or label: write one of the two",
        ),
        (
            FOUR + "[plugs]\n01 = 'wet'\n1 = 'wet'\n",
            "line 5: plugs.1 speaks of cylinder 1, as plugs.01 does: keep one",
        ),
        (
            FOUR + "[[photos]]\nfile = 'a.jpg'\n[plugs]\n1 = 'wet'\n",
            "line 6: plugs.1 speaks of cylinder 1, as photos[1]",
        ),
        (
            FOUR + "[[photos]]\nfile = 'a.jpg'\ncylinders = [1, 7]\n",
            "line 5: photos[1].cylinders speaks of cylinder 7",
        ),
        (FOUR + "[[photos]]\nfirst = 'left'\n", "line 3: photos[1].file is missing: add it"),
        (
            FOUR + "[symptoms]\nrough-idel = 'present'\n",
            'line 4: no symptom is called "rough-idel": did you mean rough-',
        ),
        (
            FOUR + "[symptoms]\nrough-idle = 'yes'\n",
            'line 4: symptoms.rough-idle is "yes": use one of: present, absent',
        ),
        (FOUR + "[[outcomes]]\ncheck = 'x'\n", "line 3: outcomes[1].outcome is missing: add it"),
        (
            FOUR + "[[measurements]]\nwhat = 'a'\nwhere = 'coil Z'\nvalue = 3\nunit = 'ohm'\n",
            'line 5: nothing on this engine is called "coil Z": say one of: engine, cylinder 1',
        ),
        (
            FOUR + "[[measurements]]\nwhat = 'a'\ncylinder = 8\nvalue = 3\nunit = 'ohm'\n",
            "line 5: measurements[1].cylinder speaks of cylinder 8",
        ),
        (
            FOUR + "[[measurements]]\nwhat = 'a'\ncylinder = 1\nwhere = 'engine'\nvalue = 3\nunit = ''\n",
            "line 3: measurements[1] has both where and cylinder: keep one",
        ),
    ],
)
def test_bad_case_names_line_key_and_remedy(text: str, message: str):
    assert message in refused(text)


@pytest.mark.parametrize(
    ("write", "message"),
    [
        (lambda path: None, "there is no case file"),
        (lambda path: path.mkdir(), "is a folder: name the case file in it"),
        (lambda path: path.write_bytes(b"\xff\xd8\xff\xe0"), "is not text in UTF-8"),
        (lambda path: path.write_bytes(b"#" * 1_000_001), "is too large for a case file"),
        (
            lambda path: path.write_text(FOUR + '[plugs]\n2 = "gone.jpg"\n'),
            "line 4: there is no photograph gone.jpg",
        ),
        (lambda path: path.write_text(FOUR + '[[photos]]\nfile = "gone.jpg"\n'), "line 4: there is no photograph"),
    ],
)
def test_file_that_cannot_be_used_is_named(tmp_path: Path, write, message: str):
    path = tmp_path / "case.toml"
    write(path)
    with pytest.raises(CaseError) as error:
        load_case(path)
    assert message in str(error.value)
    assert "case.toml" in str(error.value)


def test_photograph_beside_the_case_file_is_found(tmp_path: Path):
    (tmp_path / "plug.jpg").touch()
    path = tmp_path / "case.toml"
    path.write_text('[engine]\ncylinders = 1\n[plugs]\n1 = "plug.jpg"\n')
    assert load_case(path).photos[0].file == tmp_path / "plug.jpg"


def outcome(check: str, said: str, extra: str = "") -> str:
    return FOUR + f'ignition = "wasted-spark"\n[[outcomes]]\ncheck = "{check}"\noutcome = "{said}"\n{extra}'


def test_outcomes_may_be_named_in_words_and_default_to_the_engine():
    found = parse_case(outcome("Air filter", "clogged or soaked")).outcomes[0]
    assert (found.check, found.where, found.outcome) == ("air-filter", "engine", "clogged")


def test_repairs_that_were_tried_are_outcomes_too():
    found = parse_case(outcome("repair:dead-coil", "no-change", 'where = "coil B"\n')).outcomes[0]
    assert (found.check, found.where, found.outcome) == ("repair:dead-coil", "coil B", "no-change")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (outcome("spark-tset", "none"), 'line 5: no check is called "spark-tset": did you mean spark-test'),
        (outcome("spark-test", "sparkly"), 'line 6: check "spark-test" has no outcome "sparkly": say one of: strong'),
        (outcome("repair:dead-coli", "cured"), 'line 5: no cause is called "dead-coli": did you mean dead-coil'),
        (outcome("repair:dead-coil", "fixed"), 'line 6: a repair has no outcome "fixed": use one of: no-change'),
        (outcome("coil-resistance", "off", 'where = "coil C"\n'), 'line 7: nothing on this engine is called "coil C"'),
        (outcome("spark-test", "none", "cylinder = 9\n"), "line 7: outcomes[1].cylinder speaks of cylinder 9"),
    ],
)
def test_unknown_checks_outcomes_and_places_are_named(text: str, message: str):
    assert message in refused(text)
