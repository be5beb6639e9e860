"""``firingend diagnose``."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from firingend.cli import main


def diagnose_json(file: Path, capsys: pytest.CaptureFixture[str]) -> dict:
    assert main(["diagnose", str(file), "--json"]) == 0
    value = json.loads(capsys.readouterr().out)
    schema = json.loads(files("firingend").joinpath("schemas/diagnose.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(value)
    return value


def test_json_fits_its_schema_and_is_best_first(typed_case: Path, capsys: pytest.CaptureFixture[str]):
    value = diagnose_json(typed_case, capsys)
    assert value["comparison"]["pattern"] == "shared-pair"
    assert value["comparison"]["where"] == "coil A"
    probabilities = [cause["probability"] for cause in value["causes"]]
    assert probabilities == sorted(probabilities, reverse=True)
    assert value["next"]
    costs = [step["expected_cost"] for step in value["next"]]
    assert costs == sorted(costs)
    assert value["currency"] == "SEK"
    assert [each["cylinder"] for each in value["cylinders"]] == [1, 2, 3, 4]
    assert value["cylinders"][2]["probabilities"]["normal-tan"] == 0.75


@pytest.mark.usefixtures("stand_in_reader")
def test_case_with_photographs(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for name in ("wet+normal-tan.jpg", "unreadable.jpg"):
        (tmp_path / name).touch()
    file = tmp_path / "case.toml"
    file.write_text(
        '[engine]\ncylinders = 3\n[[photos]]\nfile = "wet+normal-tan.jpg"\nfirst = "right"\ncylinders = [1, 2]\n'
        '[plugs]\n3 = "unreadable.jpg"\n'
    )
    value = diagnose_json(file, capsys)
    assert [each["label"] for each in value["cylinders"]] == ["wet", "normal-tan", "unreadable"]
    assert value["cylinders"][2]["photo"] == str(tmp_path / "unreadable.jpg")
    assert "Cylinder 3 could not be read." in value["comparison"]["sentence"]


def test_text_shows_plugs_sentence_causes_checks_and_cautions(typed_case: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["diagnose", str(typed_case)]) == 0
    out = capsys.readouterr().out
    assert "Pump [set]: pump engine" in out
    assert "cylinder 4 ◀" in out
    assert "cylinder 2 ◀" not in out
    assert "1 and 4 share coil A, so look at coil A first." in out
    assert "1. " in out
    assert "CAUTION: " in out
    assert "SEK" in out
    assert "licensed technician's judgement come first" in out
    assert "\x1b" not in out


def test_misspelt_key_is_named_with_its_line(typed_case: Path, capsys: pytest.CaptureFixture[str]):
    typed_case.write_text(typed_case.read_text().replace("ignition", "igntion"))
    assert main(["diagnose", str(typed_case)]) == 1
    assert capsys.readouterr().err == (
        "firingend: case.toml, line 7: there is no key engine.igntion: did you mean ignition\n"
    )
