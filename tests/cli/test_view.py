"""``firingend view``: hands over to the viewer, or says how to get it."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import pytest

from firingend.cli import main, view


def test_missing_viewer_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.setattr(view, "is_installed", lambda: False)
    assert main(["view"]) == 1
    assert capsys.readouterr().err == 'firingend: the viewer is not installed: run: pip install "firingend[gui]"\n'


@pytest.mark.parametrize("with_case", [True, False])
def test_viewer_gets_the_case(typed_case: Path, with_case: bool, monkeypatch: pytest.MonkeyPatch):
    opened = []
    app = ModuleType("firingend_gui.app")
    app.main = lambda case: opened.append(case) or 0  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "firingend_gui.app", app)
    monkeypatch.setattr(view, "is_installed", lambda: True)
    assert main(["view", str(typed_case)] if with_case else ["view"]) == 0
    assert opened == [typed_case if with_case else None]
