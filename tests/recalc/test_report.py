from __future__ import annotations

from xlcalc.recalc.report import Issue, issue_lines


def issue(cell: str, reason: str) -> Issue:
    return Issue("S", cell, "=1", "#NUM!", reason)


def test_a_few_issues_stand_cell_by_cell() -> None:
    assert issue_lines([issue("A1", "too large"), issue("A2", "follows from S!A1")]) == [
        "S!A1  #NUM!  too large",
        "S!A2  #NUM!  follows from S!A1",
    ]


def test_many_stand_by_reason_and_the_roots_are_not_lost_among_them() -> None:
    followers = [issue(f"B{n}", "follows from S!A1") for n in range(1, 500)]
    roots = [issue(f"A{n}", "too large") for n in range(1, 6)] + [issue("C9", "no such bus")]
    assert issue_lines([*followers, *roots]) == [
        "S!A1, S!A2, S!A3 and 2 more  #NUM!  too large",
        "S!C9  #NUM!  no such bus",
        "499 more cells follow from these; --reasons lists every cell in a sheet",
    ]


def test_even_reasons_end_somewhere() -> None:
    lines = issue_lines([issue(f"A{n}", f"reason {n}") for n in range(100)], most=10)
    assert len(lines) == 11
    assert lines[-1] == "90 more reasons; --reasons lists every cell in a sheet"


def test_one_wrong_input_is_told_once_for_all_functions() -> None:
    issues = [issue(f"A{n}", f"HD_{name}: bus is Q") for n, name in enumerate(["PCC", "SUM_2"] * 30, start=1)]
    assert issue_lines(issues) == ["S!A1, S!A2, S!A3 and 57 more  #NUM!  bus is Q"]


def refused(cell: str, reason: str) -> Issue:
    return Issue("S", cell, "=1", "refused", reason)


def test_refused_cells_stand_by_reason_with_what_to_write_instead() -> None:
    basis = "YEARFRAC actual/actual across a leap year"
    units = [
        refused(f"B{n}", f"CONVERT of the unit '{unit}'") for n, unit in enumerate(["hh", "Nm"], start=1)
    ]
    depending = [refused(f"D{n}", "it depends on S!B1, which kept its old value") for n in range(1, 60)]
    issues = [
        refused("A1", basis),
        *units,
        *depending,
        issue("C1", "too large"),
        refused("E1", "no plain way"),
    ]
    assert issue_lines(issues) == [
        "S!C1  #NUM!  too large",
        "S!B1, S!B2  refused  CONVERT of the unit 'hh'",
        "    write instead: the factor between the units",
        "S!A1  refused  YEARFRAC actual/actual across a leap year",
        "    write instead: the basis 0, 2, 3 or 4",
        "S!E1  refused  no plain way",
        "59 more cells depend on these and kept their old values; --reasons lists every cell in a sheet",
    ]
