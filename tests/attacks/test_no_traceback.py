"""Whatever happens, a user gets one line and an exit code; a fault leaves a file for a report."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.office import Office, run_office
from xlcalc.jobs.pools import ProcessPool, WorkerFault


def one_line(result) -> bool:
    return len(result.err.strip().splitlines()) == 1 and "Traceback" not in result.err


def fail(*_: object, **__: object) -> None:
    raise ZeroDivisionError("two\nlines é")


@pytest.mark.parametrize("debug", [False, True])
def test_a_fault_is_one_line_with_a_log(run, site, monkeypatch, debug):
    monkeypatch.setattr("xlcalc.jobs.books.timed.recalculate_timed", fail)
    result = run("recalc", "book.xlsx", *(["--debug"] if debug else []))
    assert result.code == 3
    assert ("Traceback" in result.err) == debug
    last = result.err.strip().splitlines()[-1]
    assert debug or one_line(result)
    log = Path(re.search(r"report it with (\S+\.log)", last)[1])
    assert "ZeroDivisionError" in log.read_text(encoding="utf-8")
    assert "recalc book.xlsx" in log.read_text(encoding="utf-8")
    log.unlink()


def test_a_fault_in_a_worker_comes_with_its_traceback():
    with pytest.raises(WorkerFault, match=r"(?s)Traceback.*ZeroDivisionError"):
        list(ProcessPool(2).run(divmod_by_zero, [1, 2]))


def divmod_by_zero(number: int) -> float:
    return number / 0


def unsendable(number: int) -> object:
    return threading.Lock()


def test_a_result_that_cannot_be_sent_is_a_fault_too():
    with pytest.raises(WorkerFault):
        list(ProcessPool(2).run(unsendable, [1, 2]))


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437", "utf-16"])
def test_any_encoding_of_the_channels(start, site, encoding):
    (site / "book.xlsx").rename(site / "é ﹣ Ω.xlsx")
    result = start("recalc", "é ﹣ Ω.xlsx", PYTHONIOENCODING=encoding)
    assert result.code == 0
    assert not result.err


@pytest.mark.parametrize("closed", ["1", "2", "1,2", "0,1,2"])
def test_closed_channels(site, closed):
    shell = " ".join(f"{number}>&-" for number in closed.split(","))
    command = f'"{sys.executable}" -m xlcalc eval "=1+1" {shell}'
    done = subprocess.run(
        command, shell=True, cwd=site, capture_output=True, text=True, timeout=60, check=False
    )
    assert "Traceback" not in done.stderr + done.stdout
    assert done.returncode in (0, 2)


def test_a_reader_that_leaves_and_a_full_device(site):
    command = f'"{sys.executable}" -m xlcalc functions | head -1'
    done = subprocess.run(
        command, shell=True, cwd=site, capture_output=True, text=True, timeout=60, check=False
    )
    assert not done.stderr
    if Path("/dev/full").exists():
        with Path("/dev/full").open("w") as full:
            broken = subprocess.run(
                [sys.executable, "-m", "xlcalc", "functions"],
                stdout=full,
                stderr=subprocess.PIPE,
                text=True,
                cwd=site,
                timeout=60,
                check=False,
            )
        assert broken.returncode == 2
        assert len(broken.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "name", ["undefined", "a\udcff", "hex", "rot13", "nope", "", "\x00", "idna", "utf-8\n"]
)
def test_unknown_encodings(run, site, name):
    result = run("schedule", "drives.csv", "--site", "site.toml", "--encoding", name, "-o", "s.csv")
    assert "Traceback" not in result.err
    assert result.refused_in_one_line or result.code == 0


JOURNALS = [
    '{"file": "x"}', '{"file": "0"}', '{"file": "0", "samples": 3}', "[1]", "7", '"text"', "{", "[" * 5000,
    '{"file": "0", "samples": [1]}', '{"file": "0", "samples": [{"values": 1, "outcomes": []}]}',
    '{"file": "0", "samples": [{"values": ["a"], "outcomes": [{"figures": 1, "reason": 2}]}]}',
    '{"file": "999999", "samples": []}', '{"file": "-1", "samples": []}', '{"file": null}', '{"file": {}}',
    '{"file": "book.xlsx"}', '{"file": "book.xlsx", "result": []}',
    '{"file": "book.xlsx", "result": {"a": 1}}',
    '{"file": "book.xlsx", "result": {"file": 1, "target": 2, "outcome": "clean", "issues": 3}, "marks": 4}',
    '{"file": "book.xlsx", "result": {"file": "book.xlsx", "target": "book.xlsx", "outcome": "clean",'
    ' "issues": [], "seconds": 5}, "marks": {"book.xlsx": null}}', "\x00\ufffd",
]  # fmt: skip


@pytest.mark.parametrize("line", JOURNALS)
def test_journals_of_wrong_shape(run, site, line):
    files = ("drives.csv", "--site", "site.toml", "--spec", "sweep.toml")
    sweep = ("sweep", *files, "--samples", "2", "-o", "o.csv")
    from xlcalc.jobs.sweep.sweep_job import SweepJob

    job = SweepJob(site / "drives.csv", site / "site.toml", site / "sweep.toml", 2)
    job.read()
    head = json.dumps(dict(job.journal(site / "o.csv")._options))
    (site / "o.csv.journal").write_text(f"{head}\n{line}\n", encoding="utf-8")
    result = run(*sweep, "--resume")
    assert result.code in (0, 1), result.err
    assert "Traceback" not in result.err
    from xlcalc.jobs.journal import Journal

    options = {"reasons": False, "verify": False, "output": "in place"}
    (site / "xlcalc-recalc.journal").write_text(
        f"{json.dumps(dict(Journal(site, options)._options))}\n{line}\n", encoding="utf-8"
    )
    result = run("recalc", "book.xlsx", "--resume", "--workers", "1")
    assert result.code == 0, result.err
    assert "1 clean" in result.out or "clean" in result.out


def test_a_silent_program_is_given_up(tmp_path):
    program = tmp_path / "soffice"
    program.write_text("#!/bin/sh\nexec sleep 60\n")
    program.chmod(0o755)
    with pytest.raises(InputError, match=r"silent for 0\.5 s"):
        run_office([str(program)], 0.5)
    with pytest.raises(InputError, match="a program that starts"):
        run_office([str(tmp_path / "none")], 0.5)
    program.write_text("no program")
    with pytest.raises(InputError, match="a program that starts"):
        Office(tmp_path).convert(tmp_path / "a.xlsx", tmp_path)


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="needs POSIX signals")
def test_interrupts_at_any_moment(site):
    """From the start of Python to its end: one line at most, exit code 130, or done before."""
    clean = subprocess.run(
        [sys.executable, "-m", "xlcalc", "eval", "=1+1"],
        cwd=site,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert clean.returncode == 0
    faults = []
    for number in range(24):
        process = subprocess.Popen(
            [
                sys.executable,
                "-c",
                "print('up', flush=True); from xlcalc.__main__ import main; main()",
                "eval",
                "=1+1",
            ],
            cwd=site,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
        )
        process.stdout.readline()
        time.sleep(0.02 + 0.05 * number)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
        if process.returncode not in (0, 130) or err.strip() not in ("", "Interrupted."):
            faults.append((number, process.returncode, err))
    assert not faults


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="finds the workers in /proc")
@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM])
def test_workers_end_with_a_parent_that_was_killed(tmp_path, sign):
    code = (
        "import time, sys\n"
        "from xlcalc.jobs.pools import ProcessPool\n"
        "if __name__ == '__main__':\n"
        "    print('up', flush=True)\n"
        "    list(ProcessPool(2).run(time.sleep, [30, 30]))\n"
    )
    (tmp_path / "parent.py").write_text(code)
    with (tmp_path / "err").open("w") as err:
        parent = subprocess.Popen(
            [sys.executable, "parent.py"], cwd=tmp_path, stdout=subprocess.PIPE, stderr=err
        )
        parent.stdout.readline()
        children: list[int] = []
        deadline = time.monotonic() + 30
        while len(children) < 2 and time.monotonic() < deadline:
            time.sleep(0.2)
            listed = Path(f"/proc/{parent.pid}/task/{parent.pid}/children").read_text().split()
            children = [int(c) for c in listed if b"spawn_main" in Path(f"/proc/{c}/cmdline").read_bytes()]
        time.sleep(2)
        os.kill(parent.pid, sign)
        parent.wait(timeout=30)
    deadline = time.monotonic() + 15
    while any(_alive(child) for child in children) and time.monotonic() < deadline:
        time.sleep(0.1)
    assert len(children) == 2
    assert not any(_alive(child) for child in children)
    assert (tmp_path / "err").read_text() == ""


def _alive(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().split()[2] != "Z"
    except OSError:
        return False


@pytest.mark.parametrize("formula", ["=HD_KFACTOR({1,1E200;5,1E200})", "=HD_THD({1,1E-200;5,1E300})"])
def test_no_warning_with_lines_of_source(start, site, formula):
    result = start("eval", formula)
    assert "Warning" not in result.err
    assert len(result.err.splitlines()) == 1


def test_too_little_memory_is_a_line(site):
    """Where Python sees the limit; a library may end the process before it does, which is not tested."""
    code = (
        "from unittest import mock; import sys; from xlcalc.cli import app as cli\n"
        "sys.argv = ['xlcalc', 'recalc', 'book.xlsx']\n"
        "with mock.patch('xlcalc.jobs.books.timed.recalculate_timed', side_effect=MemoryError): cli.main()\n"
    )
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=site, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2
    assert done.stderr.startswith("xlcalc: the memory is not enough")


@pytest.mark.parametrize(
    "array", ["{50,,50}", "{50,50,}", "{;}", "{}", "{,}", "{1;2,3}", "{A1}", "{1+1}", '{"a}']
)
def test_array_constants_that_are_none(run, array):
    for formula in (f"=HD_DEMAND_AMPS({array})", f"=SUM({array})"):
        result = run("eval", formula)
        assert result.code in (0, 1, 2), result.err
        assert len((result.err + result.out).strip().splitlines()) == 1
