"""The command as a whole: exit codes, messages, how fast it starts."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest

from firingend.cli import main

DOCS = Path(__file__).parents[2] / "docs" / "command-line.md"


def test_version(capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as left:
        main(["--version"])
    assert left.value.code == 0
    assert capsys.readouterr().out == f"firingend {version('firingend')}\n"


@pytest.mark.parametrize("command", ["demo", "read", "diagnose", "report", "view"])
def test_every_command_explains_itself_and_its_exit_codes(command: str, capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    out = capsys.readouterr().out
    assert "1  the job could not be done" in out
    assert f"firingend {command}" in DOCS.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "argv",
    [[], ["mend"], ["read"], ["read", "a.jpg", "--xml"], ["report", "x.toml"], ["report", "x.toml", "--out", "a.txt"]],
)
def test_wrong_usage_leaves_with_2(argv: list[str], capsys: pytest.CaptureFixture[str]):
    with pytest.raises(SystemExit) as left:
        main(argv)
    assert left.value.code == 2
    assert "usage:" in capsys.readouterr().err


@pytest.mark.parametrize(
    "argv", [["diagnose", "gone.toml"], ["report", "gone.toml", "--out", "a.pdf"], ["view", "gone.toml"]]
)
def test_job_that_cannot_be_done_leaves_with_1_and_one_line(argv: list[str], capsys: pytest.CaptureFixture[str]):
    assert main(argv) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "firingend: there is no case file gone.toml: check the name and the folder\n"


def test_module_runs_as_the_command():
    done = subprocess.run([sys.executable, "-m", "firingend", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("firingend ")


def test_import_and_parser_load_nothing_heavy():
    code = (
        "import sys, firingend, firingend.cli\n"
        "try: firingend.cli.main(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'PIL', 'onnxruntime', 'pydantic', 'rich', 'jinja2', 'fpdf', 'PySide6', 'torch'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or 0)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


def test_reader_that_went_away_is_no_error_message(typed_case: Path):
    """As in ``firingend diagnose case.toml --json | head -0``."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    argv = [sys.executable, "-m", "firingend", "diagnose", str(typed_case), "--json"]
    done = subprocess.run(argv, stdout=write_end, stderr=subprocess.PIPE, text=True, check=False)
    os.close(write_end)
    assert (done.returncode, done.stderr) == (1, "")
