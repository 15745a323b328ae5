"""When a recalculation tells what it is at: only where it takes long, and never at the cost of a value."""

from __future__ import annotations

import pytest

from xlcalc.hosts.libreoffice.progress import Progress, QuietLine


class Trial:
    def __init__(self):
        self.now, self.lines, self.waiting = 0.0, [], []
        self.progress = Progress(self, self.waiting.append, lambda: self.now)

    def show(self, text):
        self.lines.append(text)

    def clear(self):
        self.lines.append("")

    def call(self, seconds, name="HD_X"):
        def work():
            self.now += seconds
            return seconds

        return self.progress.run(name, work)

    def idle(self):
        for work in self.waiting:
            work()
        self.waiting.clear()


@pytest.fixture
def trial():
    return Trial()


def test_short_recalculation_shows_nothing(trial):
    assert [trial.call(0.1) for _ in range(9)] == [0.1] * 9
    trial.idle()
    assert trial.lines == []


def test_long_recalculation_shows_each_call_and_is_cleared_once(trial):
    for _ in range(3):
        trial.call(0.6)
    assert trial.lines == ["xlcalc: computing HD_X (2 calls done, 1 s)"]
    assert len(trial.waiting) == 1
    trial.idle()
    assert trial.lines[1:] == [""]


def test_function_that_took_long_is_shown_from_its_start(trial):
    trial.call(5.0)
    trial.idle()
    trial.call(0.1, "HD_Y")
    trial.call(5.0)
    assert trial.lines == ["xlcalc: computing HD_X (1 calls done, 0 s)"]


def test_next_recalculation_counts_anew(trial):
    trial.call(0.8)
    trial.idle()
    trial.call(0.8, "HD_Y")
    assert trial.lines == []


def test_failing_call_is_counted_and_raises(trial):
    def fails():
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        trial.progress.run("HD_X", fails)
    trial.call(1.5)
    trial.call(0.1)
    assert trial.lines == ["xlcalc: computing HD_X (2 calls done, 2 s)"]


def test_program_that_refuses_a_line_is_asked_once():
    asked = []

    class Refusing:
        def show(self, text):
            asked.append(text)
            raise RuntimeError("disposed")

        def clear(self):
            asked.append("clear")

    quiet = QuietLine(Refusing())
    quiet.show("a")
    quiet.show("b")
    quiet.clear()
    assert asked == ["a"]
