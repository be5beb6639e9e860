"""Checks and causes on the screen."""

from __future__ import annotations

from dataclasses import replace

import pytest
from firingend_gui import presenting
from firingend_gui.parts.followup import FIRST_SHOWN, FollowUpPanel
from firingend_gui.services import Assessment
from firingend_gui.session import Session
from gui_fakes import BALANCE, DIAGNOSIS, OUTCOMES, SOOTY_ONE, four


def state(count: int, *, working: bool = False):
    """What is shown with this many checks."""
    steps = tuple(replace(BALANCE, id=f"check-{n}", name=f"Check number {n}") for n in range(count))
    found = replace(DIAGNOSIS, next=steps, ruled_out=DIAGNOSIS.causes[2:])
    return presenting.follow_up(Session(four()), Assessment(SOOTY_ONE, found, OUTCOMES), working)


@pytest.fixture
def panel(qtbot):
    made = FollowUpPanel()
    qtbot.addWidget(made)
    made.resize(1200, 900)
    made.show()
    return made


def test_a_long_list_begins_short_and_can_be_seen_whole(panel):
    panel.show_state(state(FIRST_SHOWN + 4))
    assert len(panel.step_cards) == FIRST_SHOWN
    panel._show_all()
    assert len(panel.step_cards) == FIRST_SHOWN + 4


def test_work_under_way_leaves_the_checks_under_the_finger(panel):
    panel.show_state(state(3))
    before = list(panel.step_cards)
    panel.show_state(state(3, working=True))
    assert panel.step_cards == before
    assert "worked out again" in panel._title.text()


@pytest.mark.parametrize(("width", "beside"), [(1200, True), (800, False)])
def test_causes_stand_beside_the_checks_where_there_is_room(qtbot, panel, width, beside):
    panel.resize(width, 900)
    panel.show_state(state(1))
    direction = panel._sides.Direction.LeftToRight if beside else panel._sides.Direction.TopToBottom
    qtbot.waitUntil(lambda: panel._sides.direction() == direction)
