"""New cached values in a plainly written sheet without array formulas, written while it is read once."""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any

from xlcalc.errors import InputError
from xlcalc.hosts.headless.cachedvalues import decode, encode, encode_number, same_value, unwritable
from xlcalc.hosts.headless.cellnames import cell_name, column_number
from xlcalc.hosts.headless.cells import PLAIN_CELL, cell_marks, plain_value
from xlcalc.hosts.headless.edits import cell_type, value_element, with_attribute
from xlcalc.hosts.headless.errors import UnsafePartError
from xlcalc.hosts.headless.gridvalues import LEFT_OUT, GridValues

_PIECES = 2048


class PlainPatch:
    """The sheet with new values.

    Only the attribute ``t`` and the element ``<v>`` of formula cells change; a cell whose value is the same
    keeps its bytes.

    Parameters
    ----------
    data : bytes
        The sheet's XML in UTF-8.
    values : GridValues
    sheet : str
        Its name, for messages.
    """

    def __init__(self, data: bytes, values: GridValues, sheet: str = "") -> None:
        self._data = data
        self._sheet = sheet
        self._values = values
        self.edits = 0
        self.changed = 0

    def pieces(self) -> Iterator[bytes]:
        """The new bytes in order; `edits` and `changed` are counted when they are all taken.

        Raises
        ------
        InputError
            For a value that no cell can hold.
        UnsafePartError
            Where a formula that has a value cannot be found.
        """
        data = self._data
        values_of_row, left = self._values.row, self._values.left
        values: Any = ()
        columns: dict[bytes, int] = {}
        out: list[bytes] = []
        copied = found = 0
        last_digits, row = b"", 0
        start, end = data.find(b"<sheetData"), data.rfind(b"</sheetData>")
        for match in PLAIN_CELL.finditer(data, start, end):
            letters, digits, rest, _, _, _, element, old = match.groups()
            if digits != last_digits:
                row, last_digits = int(digits), digits
                values = values_of_row(row)
            col = columns.get(letters) or columns.setdefault(letters, column_number(letters.decode()))
            new = values[col - left]
            if new is LEFT_OUT:
                continue
            if len(out) > _PIECES:
                yield b"".join(out)
                out.clear()
            found += 1
            old_type = cell_marks(rest)[0] if rest else ""
            if type(new) is float and isfinite(new):
                text = encode_number(new)
                if not old_type:
                    if old == text or (old and decode("", plain_value(old)) == new):
                        continue
                    fresh = b"<v>%b</v>" % text
                    at = match.start(6) if element is None else match.start(7)
                    out.append(data[copied:at])
                    out.append(fresh)
                    copied = at if element is None else match.end(7)
                    self.changed += 1
                    self.edits += 1
                    continue
            elif reason := unwritable(new):
                raise InputError(
                    f"{self._sheet}!{cell_name(row, col)}", new, f"a value that a cell can hold ({reason})"
                )
            cached = decode(old_type, None if element is None else plain_value(old or b""))
            if (element is None) if new is None else same_value(cached, new):
                continue
            encoded = None if new is None else encode(new)
            at, stop = match.start(3), match.end(3)
            out.append(data[copied:at])
            out.append(with_attribute(rest, b"t", cell_type(encoded, old_type)))
            if element is None:
                begin = copied_to = match.start(6)
            else:
                begin, copied_to = match.span(7)
            out.append(data[stop:begin])
            out.append(value_element(b"", encoded))
            copied = copied_to
            self.edits += 1
            self.changed += new is not None
        if found != len(self._values):
            raise UnsafePartError("a cell with a formula cannot be found again")
        out.append(data[copied:])
        yield b"".join(out)
