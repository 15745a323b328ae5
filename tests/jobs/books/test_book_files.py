"""Which workbooks a run means."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.jobs.books.book_files import find_books, passed_over


@pytest.fixture
def tree(tmp_path):
    for name in (
        "a/x.xlsx",
        "a/deep/y.XLSM",
        "b/x.xlsx",
        "a/~$x.xlsx",
        "a/.hidden/z.xlsx",
        "a/.x.xlsx",
        "a/n.txt",
    ):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("")
    return tmp_path


def names(books, folder):
    return [(b.source.relative_to(folder).as_posix(), b.target.relative_to(folder).as_posix()) for b in books]


def test_folders_are_searched_and_marks_of_programs_passed_over(tree):
    assert names(find_books([tree / "a"], None), tree) == [
        ("a/deep/y.XLSM", "a/deep/y.XLSM"),
        ("a/x.xlsx", "a/x.xlsx"),
    ]


def test_output_keeps_the_folders(tree):
    books = find_books([tree / "a"], tree / "out")
    assert names(books, tree) == [("a/deep/y.XLSM", "out/deep/y.XLSM"), ("a/x.xlsx", "out/x.xlsx")]


def test_two_results_of_one_name_are_refused(tree):
    with pytest.raises(InputError, match="one result per name"):
        find_books([tree / "a", tree / "b"], tree / "out")


def test_a_workbook_named_twice_is_done_once(tree):
    assert len(find_books([tree / "a", tree / "a" / "x.xlsx"], None)) == 2


def test_results_of_an_earlier_run_inside_the_folder_are_not_taken_again(tree):
    out = tree / "a" / "out"
    out.mkdir()
    (out / "x.xlsx").write_text("")
    assert len(find_books([tree / "a"], out)) == 2
    assert len(find_books([tree / "a"], None)) == 3


@pytest.mark.parametrize(
    ("given", "output"), [("none", None), ("a/n", None), ("b", "a/x.xlsx"), ("b", "new.xlsx")]
)
def test_what_cannot_be_meant_is_refused(tree, given, output):
    (tree / "a" / "n").mkdir()
    with pytest.raises(InputError):
        find_books([tree / given], tree / output if output else None)


def test_workbooks_in_the_output_folder_are_earlier_results_and_counted(tree):
    books = find_books([tree / "a"], tree / "a" / "deep")
    assert names(books, tree) == [("a/x.xlsx", "a/deep/x.xlsx")]
    assert passed_over([tree / "a"], tree / "a" / "deep") == 1
    assert passed_over([tree / "a"], tree / "a") == passed_over([tree / "a"], None) == 0
