"""``firingend knowledge`` and ``firingend next`` as a person types them."""

from __future__ import annotations

import io
import sys

import pytest

from firingend.cli import main

CASE = """
[engine]
cylinders = 4

[symptoms]
rough-idle = "present"

[plugs]
1 = "normal-tan"
2 = "wet"
3 = "normal-tan"
4 = "normal-tan"
"""


@pytest.fixture
def case(tmp_path):
    file = tmp_path / "job.toml"
    file.write_text(CASE)
    return file


def converse(monkeypatch, capsys, case, *lines):
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    assert main(["next", str(case)]) == 0
    return capsys.readouterr().out


def test_an_answer_moves_the_order_and_is_kept(monkeypatch, capsys, case):
    out = converse(monkeypatch, capsys, case, "o spark-test 2 none", "q")
    assert "Coil dead" in out and "→" in out
    again = converse(monkeypatch, capsys, case, "u", "l", "q")
    assert "taken up again after 1 answers" in again
    assert case.with_suffix(".answers.json").exists()


def test_what_cannot_be_understood_changes_nothing(monkeypatch, capsys, case):
    out = converse(monkeypatch, capsys, case, "purple", "o air-filter engine green", "m plug-gap 2 x mm", "u", "q")
    assert out.count("not taken:") == 4
    assert not case.with_suffix(".answers.json").exists()


def test_skip_pin_why_customer_and_help(monkeypatch, capsys, case):
    lines = ("h", "w", "c", "p leak-down", "s", "y stalling", "n knock", "m plug-gap 2 0.7 mm", "U", "q")
    out = converse(monkeypatch, capsys, case, *lines)
    assert "skip: this check cannot be done here" in out
    assert "speaks" in out and "We took out and compared 4 spark plugs" in out
    assert ">> Leak-down" in out


def test_cautions_stand_before_the_work(monkeypatch, capsys, case):
    out = converse(monkeypatch, capsys, case, "p spark-test", "q")
    assert out.index("! Test spark away") < out.index("1. Disable the fuel system")


def test_the_end_of_input_ends_it(monkeypatch, capsys, case):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert main(["next", str(case)]) == 0


def test_show_lists_everything(capsys):
    assert main(["knowledge", "show"]) == 0
    out = capsys.readouterr().out
    assert "fuel-pressure-regulator-stuck-high" in out and "outcomes: clean, clogged, torn" in out
    assert "compression-dry" in out and "surging-idle" in out


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("weak-coil", "misfire-under-load 55%"),
        ("air filter and its box", "outcomes:"),
        ("hunting idle", "plenum-intake-leak"),
    ],
)
def test_show_finds_entries_by_id_and_by_other_words(capsys, name, words):
    assert main(["knowledge", "show", name]) == 0
    assert words in capsys.readouterr().out


def test_show_of_nothing_known_says_so(capsys):
    assert main(["knowledge", "show", "flux-capacitor"]) == 1
    assert "flux-capacitor" in capsys.readouterr().err


def test_check_reports_what_a_shop_changed(tmp_path, capsys):
    file = tmp_path / "shop.toml"
    file.write_text('source = "our shop"\n[cause.weak-coil]\nparts = 35\n')
    assert main(["knowledge", "check", str(file)]) == 0
    assert "causes changed: weak-coil" in capsys.readouterr().out


def test_check_names_the_mistake(tmp_path, capsys):
    file = tmp_path / "shop.toml"
    file.write_text('source = "our shop"\n[check.air-filter]\notherwise = [0.5, 0.2, 0.2]\n')
    assert main(["knowledge", "check", str(file)]) == 1
    assert "check.air-filter" in capsys.readouterr().err
