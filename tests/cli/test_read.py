"""``firingend read``."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator

from firingend.cli import main

pytestmark = pytest.mark.usefixtures("stand_in_reader")


def validate(value: object, name: str) -> None:
    schema = json.loads(files("firingend").joinpath(f"schemas/{name}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(value)


def test_json_fits_its_schema_and_keeps_the_order(capsys: pytest.CaptureFixture[str]):
    assert main(["read", "wet+rich-carbon+unreadable.jpg", "normal-tan.png", "nothing.jpg", "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    validate(value, "read")
    assert [photo["file"] for photo in value] == ["wet+rich-carbon+unreadable.jpg", "normal-tan.png", "nothing.jpg"]
    first, *_, last = value[0]["firing_ends"]
    assert (first["label"], last["label"]) == ("rich-carbon", "unreadable")
    assert first["box"] == [0.0, 10.0, 400.0, 420.5]
    assert first["probabilities"]["rich-carbon"] == 0.84
    assert last["reasons"] == ["the firing end is out of focus: take it again"]
    assert value[0]["quality"]["focus"] == 310.5
    assert "error" not in value[0]
    assert value[2]["firing_ends"] == []


def test_what_was_taken_for_no_plug_is_told(capsys: pytest.CaptureFixture[str]):
    assert main(["read", "wet+coil.jpg", "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    validate(value, "read")
    (left_out,) = value[0]["left_out"]
    assert (left_out["not_a_plug"], left_out["label"], left_out["score"]) == (0.97, "unreadable", 0.97)
    assert len(value[0]["firing_ends"]) == 1
    main(["read", "wet+coil.jpg", "wet+coil+coil.jpg", "wet.jpg"])
    lines = [line for line in capsys.readouterr().out.splitlines() if "left out" in line]
    assert [line.split("taken")[0] for line in lines] == ["  1 more thing was ", "  2 more things were "]
    assert "count the plugs" in lines[0]


def test_photograph_that_cannot_be_read_does_not_stop_the_others(capsys: pytest.CaptureFixture[str]):
    assert main(["read", "broken.jpg", "wet.jpg", "--json"]) == 1
    value = json.loads(capsys.readouterr().out)
    validate(value, "read")
    assert value[0] == {
        "file": "broken.jpg",
        "error": "broken.jpg is empty (0 bytes): copy it from the phone again",
        "quality": None,
        "firing_ends": [],
    }
    assert value[1]["firing_ends"][0]["label"] == "wet"


def test_table_is_plain_away_from_a_terminal(capsys: pytest.CaptureFixture[str]):
    assert main(["read", "broken.jpg", "wet+unreadable.jpg"]) == 1
    captured = capsys.readouterr()
    assert captured.err == "firingend: broken.jpg is empty (0 bytes): copy it from the phone again\n"
    out = captured.out
    assert "\x1b" not in out
    assert "wet+unreadable.jpg" in out
    for said in (
        "plug 1",
        "plug 2",
        "Wet",
        "Cannot be read",
        "84\u00a0%",
        "surface film",
        "ash crust",
        "take it again",
    ):
        assert said in " ".join(out.split(" ")), said
    assert "worn electrodes" not in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["wet.jpg", "--grey", "1,2,3"], "four numbers"),
        (["wet.jpg", "--grey", "5,2,5,9"], "left must be less than right"),
        (["wet.jpg", "oil-fouled.jpg", "--grey", "1,2,30,40"], "one photograph at a time"),
    ],
)
def test_a_grey_spot_that_cannot_be_one_is_told(arguments, told, capsys: pytest.CaptureFixture[str]):
    try:
        status = main(["read", *arguments])
    except SystemExit as stopped:
        status = stopped.code
    assert status in (1, 2) and told in capsys.readouterr().err


def test_schema_refuses_what_the_interface_does_not_allow():
    from jsonschema import ValidationError

    with pytest.raises(ValidationError):
        validate([{"file": "x.jpg", "quality": None, "firing_ends": []}], "read")
