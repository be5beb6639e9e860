"""Menus: every intention once, with its key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu

from firingend_gui.appearance import Appearance
from firingend_gui.keys import KEYS, Intention
from firingend_gui.parts.key_list import KeyList

if TYPE_CHECKING:
    from firingend_gui.job_links import JobLinks
    from firingend_gui.window import MainWindow


def build_menus(window: MainWindow) -> None:
    """Give the window its menu bar."""
    bar = window.menuBar()
    bar.setAccessibleName("Menus")
    file = bar.addMenu("&File")
    _add(window, file, Intention.NEW_ENGINE, window.new_engine)
    _add(window, file, Intention.OPEN_CASE, window.open_case)
    _add(window, file, Intention.SAVE_CASE, window.save_case)
    _add(window, file, Intention.SAVE_REPORT, window.save_report)
    file.addSeparator()
    _add(window, file, Intention.QUIT, window.close)
    engine = bar.addMenu("&Engine")
    _add(window, engine, Intention.ADD_PHOTOS, window.choose_photos)
    _add(window, engine, Intention.COMPLAINT, window.edit_complaint)
    _add(window, engine, Intention.UNDO, window.controller.undo)
    if window.job_links is not None:
        _add_job_menu(window, bar.addMenu("&Job"), window.job_links)
    view = bar.addMenu("&View")
    _add_appearances(window, view.addMenu("&Light or dark"))
    outlines = _add(window, view, Intention.OUTLINES, window.outlines.turn)
    outlines.setCheckable(True)
    outlines.setChecked(window.outlines.on)
    window.outlines.changed.connect(lambda: outlines.setChecked(window.outlines.on))
    _add(window, view, Intention.LARGER_TEXT, lambda: window.look.step_text(1), "Ctrl+=")
    _add(window, view, Intention.SMALLER_TEXT, lambda: window.look.step_text(-1))
    _add(window, view, Intention.NEXT_REGION, lambda: window.move_region(1))
    _add(window, view, Intention.PREVIOUS_REGION, lambda: window.move_region(-1))
    help_menu = bar.addMenu("&Help")
    _add(window, help_menu, Intention.SHOW_KEYS, lambda: KeyList(window).show())


def _add_job_menu(window: MainWindow, menu: QMenu, links: JobLinks) -> None:
    _add(window, menu, Intention.JOBS, links.show_jobs)
    _add(window, menu, Intention.KEEP_AS_JOB, links.keep_as_job)
    menu.addSeparator()
    _add(window, menu, Intention.WRITE_DOWN, links.write_down)
    _add(window, menu, Intention.OVER_TIME, links.show_over_time)
    watch = _add(window, menu, Intention.WATCH, links.watch)
    watch.setCheckable(True)
    menu.aboutToShow.connect(lambda: watch.setChecked(links.watching))


def _add(
    window: MainWindow, menu: QMenu, intention: Intention, act: Callable[[], object], also: str | None = None
) -> QAction:
    action = QAction(intention.value, window)
    action.setObjectName(intention.name)
    keys = [KEYS[intention], *([also] if also else [])]
    action.setShortcuts([QKeySequence(key) for key in keys])
    action.triggered.connect(lambda _=False: act())
    menu.addAction(action)
    return action


def _add_appearances(window: MainWindow, menu: QMenu) -> None:
    group = QActionGroup(window)
    for appearance in Appearance:
        action = menu.addAction(appearance.value)
        action.setCheckable(True)
        action.setChecked(appearance is window.look.appearance)
        action.triggered.connect(lambda _=False, chosen=appearance: window.look.choose(chosen))
        group.addAction(action)
