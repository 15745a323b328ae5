"""The same runs on a Dask cluster of two processes, one of which is killed."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.face.judged import Asked, measure_many
from xlcalc.jobs.books.book_files import find_books
from xlcalc.jobs.books.book_run import CLEAN, recalculate_many
from xlcalc.jobs.journal import NAME, Journal
from xlcalc.jobs.pools import HerePool, Lost
from xlcalc.jobs.sweep.sweep_job import SweepJob

pytest.importorskip("distributed", reason="Dask is not installed")

from xlcalc.jobs.dask_pool import DaskPool, dask_pool

pytestmark = pytest.mark.timeout(120)
DEMO = Path(__file__).parents[2] / "demo"


@pytest.fixture(scope="module")
def tls(tmp_path_factory):
    """Authority, certificate and key of a cluster, one certificate for all, and those of a stranger."""
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed")
    folder = tmp_path_factory.mktemp("tls")
    pairs = []
    for name in ("own", "stranger"):
        certificate, key = folder / f"{name}.crt", folder / f"{name}.key"
        command = [
            "openssl",
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-days",
            "1",
            "-subj",
            f"/CN={name}",
        ]
        subprocess.run(
            [*command, "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True
        )
        pairs.append((certificate, certificate, key))
    return pairs


@pytest.fixture(scope="module")
def cluster(tls):
    import distributed

    own, key = str(tls[0][0]), str(tls[0][2])
    roles = ("client", "scheduler", "worker")
    files = {f"tls_{role}_{kind}": value for role in roles for kind, value in (("cert", own), ("key", key))}
    security = distributed.Security(tls_ca_file=own, require_encryption=True, **files)
    made = {"n_workers": 2, "threads_per_worker": 1, "dashboard_address": None, "protocol": "tls://"}
    with (
        distributed.LocalCluster(security=security, **made) as running,
        dask_pool(running.scheduler_address, tls[0]) as pool,
    ):
        yield pool


def job(samples: int) -> SweepJob:
    made = SweepJob(DEMO / "drives.csv", DEMO / "site.toml", DEMO / "sweep.toml", samples=samples)
    made.read()
    return made


def test_two_processes_and_equal_results(cluster, assert_equal_to_rounding):
    assert len(cluster.client.scheduler_info(n_workers=-1)["workers"]) == 2
    pids = {pid for _, pid in cluster.run(eval, ["__import__('os').getpid()"] * 8)}
    assert os.getpid() not in pids
    assert_equal_to_rounding(job(20).run(cluster).samples, job(20).run(HerePool()).samples)


def test_a_plant_has_equal_results(cluster, assert_equal_to_rounding):
    def plant() -> SweepJob:
        spec = DEMO / "plant_sweep.toml"
        made = SweepJob(DEMO / "plant_drives.csv", DEMO / "plant.toml", spec, samples=12)
        made.read()
        return made

    assert_equal_to_rounding(plant().run(cluster).samples, plant().run(HerePool()).samples)


def test_an_address_is_the_same_cluster(cluster, tls):
    with dask_pool(cluster.client.scheduler.address, tls[0]) as pool:
        assert dict(pool.run(abs, [-1, 2])) == {0: 1, 1: 2}


def test_a_stranger_does_not_get_in(cluster, tls, monkeypatch):
    monkeypatch.setattr("xlcalc.jobs.dask_pool.CONNECT_SECONDS", 2)
    address = cluster.client.scheduler.address
    for where, files in ((address, tls[1]), (address, None), (address.replace("tls:", "tcp:"), None)):
        with pytest.raises(InputError, match="--dask"), dask_pool(where, files):
            pass


def test_a_scheduler_that_ends_is_one_line_that_names_resume():
    import distributed

    running = distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, dashboard_address=None, processes=False, protocol="tcp://"
    )
    with dask_pool(running.scheduler_address) as pool:
        results = pool.run(eval, ["1+1", *["__import__('time').sleep(1)"] * 20])
        assert next(results) == (0, 2)
        running.close(timeout=20)
        with pytest.raises(InputError, match="--resume"):
            list(results)


def test_workbooks(cluster, tmp_path):
    for number in range(3):
        book = openpyxl.Workbook()
        book.active["A1"] = f"=HD_TRANSFORMER_MVA(1000,{number + 2})"
        book.save(tmp_path / f"b{number}.xlsx")
    results = recalculate_many(find_books([tmp_path], None), cluster, Journal(tmp_path / NAME, {}))
    assert [result.outcome for result in results] == [CLEAN] * 3
    for number in range(3):
        sheet = openpyxl.load_workbook(tmp_path / f"b{number}.xlsx", data_only=True).active
        assert sheet["A1"].value == pytest.approx(100 / (number + 2))


def test_records_are_measured(cluster, tmp_path, monkeypatch):
    """A row each in the order given, a file that cannot be used among them; the workers know no folder."""
    monkeypatch.chdir(tmp_path)
    paths = [Path(f"r{k}.csv") for k in range(4)]
    t = np.arange(3_200) / 3_200
    for k, path in enumerate(paths):
        wave = 325.0 * np.cos(2 * np.pi * (49.9 + 0.05 * k) * t)
        pd.DataFrame({"time (s)": t, "Ua": wave}).to_csv(path, index=False)
    paths[2].write_text("no table\n", encoding="utf-8")
    found, here = (measure_many(paths, None, Asked(), pool) for pool in (cluster, HerePool()))
    pd.testing.assert_frame_equal(found, here)
    assert found["mean frequency, Hz"].tolist() == pytest.approx([49.9, 49.95, np.nan, 50.05], nan_ok=True)
    assert "without rows of numbers" in found["problem"][2]


def test_relative_paths_are_those_of_the_caller(cluster, tmp_path, monkeypatch):
    """The workers were started in another folder."""
    (tmp_path / "books").mkdir()
    book = openpyxl.Workbook()
    book.active["A1"] = "=HD_TRANSFORMER_MVA(1000,4)"
    book.save(tmp_path / "books" / "b.xlsx")
    (tmp_path / "books" / "bad.xlsx").write_text("none")
    monkeypatch.chdir(tmp_path)
    books = find_books([Path("books")], Path("out"))
    good, bad = recalculate_many(books, cluster, Journal(Path("out") / NAME, {}))
    assert (good.outcome, good.file, good.target) == (CLEAN, "books/b.xlsx", "out/b.xlsx")
    assert (tmp_path / "out" / "b.xlsx").exists()
    assert bad.reason.startswith("books/bad.xlsx: ")


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense"])
def test_no_scheduler_there_is_said(address, monkeypatch):
    monkeypatch.setattr("xlcalc.jobs.dask_pool.CONNECT_SECONDS", 1)
    with pytest.raises(InputError, match="--dask"), dask_pool(address):
        pass


def test_a_cluster_without_workers_is_one_line(monkeypatch):
    import distributed

    monkeypatch.setattr("xlcalc.jobs.dask_pool.WORKERLESS_SECONDS", 1)
    monkeypatch.setattr("xlcalc.jobs.dask_pool.POLL_SECONDS", 0.3)
    made = {"n_workers": 0, "dashboard_address": None, "protocol": "tcp://"}
    with (
        distributed.LocalCluster(**made) as running,
        dask_pool(running.scheduler_address) as pool,
        pytest.raises(InputError, match=r"it has no worker.*--resume"),
    ):
        list(pool.run(abs, [-1]))


# Last, because workers that were killed are started again only after a while on a busy machine.
def test_a_killed_worker_loses_nothing(cluster, assert_equal_to_rounding):
    """SIGKILL while its tasks run: every combination is there, with the same numbers."""
    killed = []

    class Killer(DaskPool):
        def run(self, function, tasks):
            for number, result in super().run(function, tasks):
                if not killed:
                    pids = self.client.run(os.getpid)
                    killed.append(next(iter(pids.values())))
                    os.kill(killed[0], signal.SIGKILL)
                yield number, result

    seen = []
    result = job(60).run(Killer(cluster.client), lambda done, total: seen.append(done))
    assert killed
    assert len(seen) == 6
    assert_equal_to_rounding(result.samples, job(60).run(HerePool()).samples)
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline:
        with contextlib.suppress(OSError):  # the scheduler has not yet seen that the worker is gone
            if killed[0] not in cluster.client.run(os.getpid).values():
                break
        time.sleep(0.1)


def test_a_task_that_takes_every_worker_with_it_is_lost_alone(cluster):
    tasks = ["1+1", "__import__('os')._exit(1)", "2+2"]
    results = dict(cluster.run(eval, tasks))
    assert isinstance(results[1], Lost)
    assert (results[0], results[2]) == (2, 4)
