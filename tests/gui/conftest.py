"""The viewer's tests run without a display, with settings of their own, and leave no thread behind."""

from __future__ import annotations

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # the fakes and helpers these tests share

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")  # before anything imports Qt

import pytest

try:
    from PySide6.QtCore import QSettings, QThreadPool
    from PySide6.QtWidgets import QApplication
except ImportError as error:  # Qt's own system libraries (libEGL, libxkbcommon, ...) are not on every machine
    if os.environ.get("FIRINGEND_REQUIRE_ALL"):
        raise
    MISSING = str(error)
else:
    MISSING = ""

HERE = Path(__file__).parent
WITHOUT_QT = {
    "test_wording.py",
    "test_keys.py",
    "test_session.py",
    "test_history.py",
    "test_notices.py",
    "test_arrivals.py",
    "test_placing.py",
    "test_presenting.py",
    "test_assessing.py",
    "test_controller.py",
    "test_casework.py",
    "test_library.py",
    "test_app.py",
    "test_keeper.py",
}
"""Everything under the window is plain Python, and is tested on every machine."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if MISSING:
        return
    # The platform without a display has no frames to size, and says so at every window.
    silent = pytest.mark.qt_log_ignore("does not support propagateSizeHints", extend=True)
    for item in items:
        if item.path.parent == HERE:
            item.add_marker(silent)


if MISSING:

    def pytest_configure(config: pytest.Config) -> None:
        config.option.doctest_ignore_import_errors = True

    class WithoutQt(pytest.Module):
        """A file of tests that cannot even be imported here."""

        def collect(self):
            pytest.skip(f"Qt cannot start here: {MISSING}", allow_module_level=True)

    def pytest_pycollect_makemodule(module_path: Path, parent: pytest.Collector) -> pytest.Module | None:
        if module_path.parent != HERE or module_path.name in WITHOUT_QT or not module_path.name.startswith("test_"):
            return None
        return WithoutQt.from_parent(parent, path=module_path)

else:
    from firingend_gui.jobwork.shelf import StoreShelf
    from gui_fakes import FakeServices
    from window_helpers import Answers, make_window

    from firingend.jobs.location import Location
    from firingend.jobs.store import Store

    @pytest.fixture(autouse=True)
    def own_settings(tmp_path, monkeypatch):
        """No test reads or writes the settings of whoever runs it."""
        QSettings.setDefaultFormat(QSettings.Format.IniFormat)
        for scope in (QSettings.Scope.UserScope, QSettings.Scope.SystemScope):
            QSettings.setPath(QSettings.Format.IniFormat, scope, str(tmp_path / "settings"))
        monkeypatch.setenv("HOME", str(tmp_path))

    @pytest.fixture(autouse=True)
    def nothing_left_behind(own_settings):
        """A test that leaves a window open or a thread running fails."""
        yield
        app = QApplication.instance()
        if app is None:
            return
        assert QThreadPool.globalInstance().activeThreadCount() == 0
        left = [w for w in QApplication.topLevelWidgets() if w.isVisible()]
        for widget in left:
            widget.close()
        assert not left, f"windows left open: {left}"

    @pytest.fixture
    def settings(tmp_path):
        return QSettings(str(tmp_path / "viewer.ini"), QSettings.Format.IniFormat)

    @pytest.fixture
    def services():
        return FakeServices()

    @pytest.fixture
    def shelf(tmp_path):
        """A store of its own, made when it is first asked for."""
        made = StoreShelf(lambda: Store(Location(tmp_path / "data"), backups=False))
        yield made
        made.close()

    @pytest.fixture
    def window(qtbot, services, settings, shelf):
        """The real window on a fake library and a real store, shown and started."""
        made = make_window(qtbot, services, settings, shelf=shelf)
        yield made
        made.ask = Answers(leave=True)
        made.close()
        qtbot.waitUntil(lambda: made.runner.idle)
