"""Tables on the terminal: framed, never wider than the line, user's text as it is."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from firingend.cases.load import load_case
from firingend.cases.run import run_case
from firingend.cli.tables import print_result


def printed(file: Path, width: int, *, terminal: bool) -> str:
    out = io.StringIO()
    console = Console(
        file=out, width=width, force_terminal=terminal, color_system=None, highlight=False, markup=False, emoji=False
    )
    print_result(run_case(load_case(file)), console)
    return out.getvalue()


@pytest.fixture
def eight(tmp_path: Path) -> Path:
    file = tmp_path / "eight.toml"
    file.write_text(
        '[engine]\ncylinders = 8\nlayout = "vee"\n[plugs]\n'
        + "".join(f'{cylinder} = "normal-tan"\n' for cylinder in range(1, 8))
        + '8 = { label = "oil-fouled", sure = 0.95, signs = ["ash"] }\n'
    )
    return file


@pytest.mark.parametrize("width", [40, 80, 160])
def test_no_line_is_wider_than_the_terminal_and_no_cylinder_is_lost(eight: Path, width: int):
    out = printed(eight, width, terminal=True)
    assert max(len(line) for line in out.splitlines()) <= width
    for cylinder in range(1, 9):
        assert f"cylinder {cylinder}" in out


def test_heads_and_labels_stay_whole_on_a_usual_terminal(eight: Path):
    out = printed(eight, 80, terminal=True)
    assert "probability" in out
    assert "Oil-fouled" in out
    assert "cylinder 8 ◀" in out
    assert "ash crust" in out


def test_frames_only_on_a_terminal(eight: Path):
    assert "╭" in printed(eight, 80, terminal=True)
    assert "╭" not in printed(eight, 80, terminal=False)


def test_brackets_in_names_are_kept(typed_case: Path):
    assert "Pump [set]" in printed(typed_case, 80, terminal=True)
