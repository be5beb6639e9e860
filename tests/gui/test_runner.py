"""Work happens on other threads, answers arrive on this one."""

from __future__ import annotations

import threading

import pytest
from firingend_gui.runner import PoolRunner


@pytest.fixture
def runner(qtbot):
    made = PoolRunner()
    yield made
    made.close()
    assert made.idle


def test_work_is_done_elsewhere_and_answered_here(qtbot, runner):
    where = {}
    runner.submit(
        lambda: where.setdefault("work", threading.current_thread()),
        lambda _: where.setdefault("answer", threading.current_thread()),
        pytest.fail,
    )
    qtbot.waitUntil(lambda: "answer" in where)
    assert where["answer"] is threading.main_thread()
    assert where["work"] is not threading.main_thread()


def test_an_exception_comes_back_as_one(qtbot, runner):
    failures = []
    runner.submit(lambda: 1 / 0, pytest.fail, failures.append)
    qtbot.waitUntil(lambda: bool(failures))
    assert isinstance(failures[0], ZeroDivisionError)


def test_after_closing_no_answer_comes(qtbot):
    runner = PoolRunner()
    held, answers = threading.Event(), []
    runner.submit(lambda: held.wait(5), answers.append, answers.append)
    held.set()
    runner.close()
    qtbot.wait(20)
    assert runner.idle
    assert answers == []
    runner.submit(lambda: 1, answers.append, answers.append)
    qtbot.wait(20)
    assert answers == []
