"""Starting the viewer, and saying why it cannot start."""

from __future__ import annotations

import subprocess
import sys

import pytest
from firingend_gui import __main__ as command
from firingend_gui import app

from firingend.errors import UserError


def test_without_a_display_it_says_so(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    with pytest.raises(UserError, match="no display"):
        app.main()


def test_without_qt_it_says_what_to_install(monkeypatch):
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setitem(sys.modules, "firingend_gui.desktop", None)
    with pytest.raises(UserError, match=r"firingend\[gui\]"):
        app.main()


def test_the_command_reports_in_words_and_fails(monkeypatch, capsys):
    def refuse(case):
        raise UserError("there is no display", "start it on a desktop")

    monkeypatch.setattr(command, "main", refuse)
    monkeypatch.setattr(sys, "argv", ["viewer"])
    assert command.run() == 1
    assert capsys.readouterr().err == "firingend: there is no display: start it on a desktop\n"


def test_the_viewer_knows_no_training_code():
    code = (
        "import sys, firingend_gui.desktop\n"
        "bad = {'torch', 'torchvision', 'mitsuba', 'sklearn', 'onnxruntime'} & set(sys.modules)\n"
        "assert not bad, bad\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env={"QT_QPA_PLATFORM": "offscreen", "PATH": ""})
