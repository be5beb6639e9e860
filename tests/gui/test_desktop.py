"""The running viewer: examples, the application's name, mistakes of its own."""

from __future__ import annotations

import sys

from firingend_gui import desktop
from PySide6.QtCore import QSettings


def test_every_shipped_example_is_offered(monkeypatch, tmp_path):
    for name in ("flat-four.toml", "three-cylinder.toml"):
        (tmp_path / name).write_text("")
    monkeypatch.setattr(desktop, "demo_dir", lambda: tmp_path)
    assert [words for words, _ in desktop.demos()] == ["Example: flat four", "Example: three cylinder"]
    monkeypatch.setattr(desktop, "demo_dir", lambda: tmp_path / "nowhere")
    assert desktop.demos() == ()


def test_a_case_is_opened_once_the_window_is_up(qtbot, services, settings, tmp_path):
    window = desktop.open_window(desktop.application(), services, tmp_path / "c.toml", settings)
    qtbot.addWidget(window)
    qtbot.waitUntil(window.notices.isVisible)  # the fake library has no case, and says so in the window
    assert window.pages.currentIndex() == 0
    window.close()


def test_settings_are_kept_under_the_programs_name(own_settings):
    desktop.application()
    assert "firingend" in QSettings().fileName()


def test_an_exception_nobody_caught_is_told_in_the_window(window, monkeypatch):
    seen = []
    monkeypatch.setattr(sys, "excepthook", lambda *all_: seen.append(all_))
    desktop.tell_mistakes(window)
    error = KeyError("lost")
    sys.excepthook(KeyError, error, None)
    assert seen == [(KeyError, error, None)]
    assert window.notices.isVisible()
