"""Processes give what this process gives; one that dies takes only its own task with it."""

from __future__ import annotations

import math
import os
import time

import pytest

from xlcalc.jobs.pools import HerePool, Lost, ProcessPool, local_pool


@pytest.mark.parametrize("pool", [HerePool(), ProcessPool(2), ProcessPool(3)], ids=str)
def test_every_task_once(pool):
    results = dict(pool.run(math.sqrt, [float(n) for n in range(12)]))
    assert results == {n: math.sqrt(n) for n in range(12)}


def test_a_process_that_dies_loses_its_own_task_only():
    """os._exit ends the process at once, as a crash or the out-of-memory killer would."""
    tasks = ["1+1", "__import__('os')._exit(9)", "2+2", "3+3", "__import__('os').abort()", "4+4"]
    results = dict(ProcessPool(2).run(eval, tasks))
    assert {n: r for n, r in results.items() if not isinstance(r, Lost)} == {0: 2, 2: 4, 3: 6, 5: 8}
    assert {n for n, r in results.items() if isinstance(r, Lost)} == {1, 4}


def test_a_task_that_never_ends_is_ended_and_the_rest_goes_on():
    tasks = [
        "1+1",
        "__import__('time').sleep(600)",
        "2+2",
        "[0 for _ in iter(int, 1)]",
        "3+3",
    ]
    start = time.monotonic()
    results = dict(ProcessPool(2, limit=3.0).run(eval, tasks))
    assert time.monotonic() - start < 120
    assert {n: r for n, r in results.items() if not isinstance(r, Lost)} == {0: 2, 2: 4, 4: 6}
    reason = "stopped, because it took longer than the limit of 3 s"
    lost = {n: r.reason for n, r in results.items() if isinstance(r, Lost)}
    assert lost == {1: reason, 3: reason}


def test_an_abandoned_run_leaves_no_process():
    run = ProcessPool(2).run(eval, ["__import__('os').getpid()"] * 2 + ["__import__('time').sleep(60)"] * 4)
    pids = {next(run)[1] for _ in range(2)}
    run.close()
    deadline = time.monotonic() + 20
    while pids and time.monotonic() < deadline:
        pids = {pid for pid in pids if alive(pid)}
        time.sleep(0.05)
    assert not pids


def alive(pid):
    try:
        return os.waitpid(pid, os.WNOHANG)[0] == 0
    except ChildProcessError:
        return False


def test_one_task_needs_no_processes():
    assert local_pool(4, 1) == HerePool()
    assert local_pool(1, 9) == HerePool()
    assert local_pool(4, 3) == ProcessPool(3)
    assert local_pool(4, 1, limit=9.0) == ProcessPool(1, 9.0)
