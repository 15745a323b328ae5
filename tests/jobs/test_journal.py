"""A journal survives a crash at any point and is never taken for that of another run."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.jobs.journal import Journal

OPTIONS = {"reasons": False}


def test_entries_come_back_and_a_finished_run_leaves_nothing(tmp_path):
    path = tmp_path / "out" / "run.journal"
    journal = Journal(path, OPTIONS)
    journal.start({})
    journal.add({"file": "a.xlsx", "n": 1})
    journal.add({"file": "b.xlsx", "n": 2})
    journal.close(finished=False)
    resumed = Journal(path, OPTIONS)
    entries = resumed.resume()
    assert {name: entry["n"] for name, entry in entries.items()} == {"a.xlsx": 1, "b.xlsx": 2}
    resumed.start({"b.xlsx": entries["b.xlsx"]})
    assert set(Journal(path, OPTIONS).resume()) == {"b.xlsx"}
    resumed.close(finished=True)
    assert not list(path.parent.iterdir())


def test_any_truncation_gives_the_whole_lines_before_it(tmp_path):
    path = tmp_path / "run.journal"
    journal = Journal(path, OPTIONS)
    journal.start({})
    for name in "abc":
        journal.add({"file": name})
    journal.close(finished=False)
    whole = path.read_bytes()
    ends = [i + 1 for i, byte in enumerate(whole) if byte == ord("\n")]
    for cut in range(ends[0], len(whole)):
        path.write_bytes(whole[:cut])
        found = Journal(path, OPTIONS).resume()
        complete = sum(end - 1 <= cut for end in ends[1:])
        assert list(found) == list("abc")[:complete]


@pytest.mark.parametrize(
    "content", [None, "", "no json\n", '{"xlcalc": "0.0.0", "reasons": false}\n', "\x00\n"]
)
def test_journals_of_nothing_or_of_another_run_are_refused(tmp_path, content):
    path = tmp_path / "run.journal"
    if content is not None:
        path.write_text(content)
    with pytest.raises(InputError, match="--resume"):
        Journal(path, OPTIONS).resume()


def test_other_options_are_another_run(tmp_path):
    path = tmp_path / "run.journal"
    journal = Journal(path, OPTIONS)
    journal.start({})
    journal.close(finished=False)
    with pytest.raises(InputError, match=r"another run \(.* was .*, is .*\)"):
        Journal(path, {"reasons": True}).resume()
