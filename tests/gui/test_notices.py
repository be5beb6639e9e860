"""Messages stay until put away, and never pile up."""

from __future__ import annotations

from firingend_gui.notices import MOST_NOTICES, Notices

from firingend.errors import UserError


def test_problems_stay_and_notes_make_way():
    shown = []
    notices = Notices(lambda now: shown.append(now))
    notices.tell(UserError("plug.jpg is empty", "copy it again"))
    notices.note("Case saved")
    notices.note("Report saved")
    assert [n.text for n in shown[-1]] == ["plug.jpg is empty", "Report saved"]


def test_the_same_problem_is_said_once():
    shown = []
    notices = Notices(lambda now: shown.append(now))
    for _ in range(3):
        notices.problem("a", "b")
    assert len(shown[-1]) == 1


def test_there_is_a_limit():
    shown = []
    notices = Notices(lambda now: shown.append(now))
    for number in range(MOST_NOTICES + 3):
        notices.problem(f"problem {number}", "mend it")
    assert len(shown[-1]) == MOST_NOTICES
    assert shown[-1][-1].text == f"problem {MOST_NOTICES + 2}"
