"""Long work: one at a time per key, its progress seen, its failure told."""

from __future__ import annotations

import threading
import time

from isohume.dashboard.background import Background, Progress, Task
from isohume.dashboard.components.long_work import progress


def ended(work: Background, key: str) -> Task:
    for _ in range(2000):
        task = work.task(key)
        assert task is not None
        if task.ended:
            return task
        time.sleep(0.005)
    raise AssertionError("the task did not end")


def test_the_same_key_is_at_work_once_and_its_result_is_kept() -> None:
    work, go_on, begun = Background(), threading.Event(), []

    def slow(tell: Progress) -> str:
        begun.append(1)
        tell(1, 2)
        assert go_on.wait(10)
        return "found"

    work.start("month", "Review", slow, by="somebody")
    work.start("month", "Review", slow, by="somebody else")
    go_on.set()
    task = ended(work, "month")
    assert (task.state, task.result, task.by, begun) == ("done", "found", "somebody", [1])


def test_a_failure_is_told_where_the_work_was_asked_for_and_can_be_tried_again() -> None:
    work = Background()

    def broken(_tell: Progress) -> None:
        raise ValueError("the disk is full")

    work.start("pack", "Evidence pack", broken, by="somebody")
    task = ended(work, "pack")
    assert task.state == "failed"
    assert "the disk is full" in str(progress(task))
    work.start("pack", "Evidence pack", lambda _tell: 7, by="somebody")
    assert ended(work, "pack").result == 7


def test_progress_says_how_far_it_is_for_those_who_see_and_those_who_hear() -> None:
    shown = str(progress(Task(key="m", title="Review", by="", state="running", done=3, total=12)))
    assert "3 of 12" in shown
    assert "'25'" in shown
