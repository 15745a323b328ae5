"""New cached values in a plainly written sheet without array formulas, written while it is read once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isfinite
from typing import Any

from xlcalc.core.errors import InputError
from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import cell_name, column_number
from xlcalc.recalc.xlsx.cachedvalues import decode, encode, encode_number, same_value, unwritable
from xlcalc.recalc.xlsx.cells import PLAIN_CELL, cell_marks, plain_value
from xlcalc.recalc.xlsx.gridvalues import LEFT_OUT, GridValues
from xlcalc.recalc.xlsx.writing.edits import cell_type, value_element, with_attribute
from xlcalc.schema.values import Scalar

_CELL_END = b"</c>"


class PlainPatch:
    """The sheet with new values.

    Only the attribute ``t`` and the element ``<v>`` of formula cells change; a cell whose value is the same
    keeps its bytes.

    Parameters
    ----------
    values : GridValues
    sheet : str
        Its name, for messages.
    """

    def __init__(self, values: GridValues, sheet: str = "") -> None:
        self._sheet = sheet
        self._values = values
        self._columns: dict[bytes, int] = {}
        self.edits = 0
        self.changed = 0

    def pieces(self, sheet: Iterable[bytes]) -> Iterator[bytes]:
        """The new bytes in order; `edits` and `changed` are counted when they are all taken.

        Parameters
        ----------
        sheet : iterable of bytes
            The sheet's XML in UTF-8, in pieces.

        Raises
        ------
        InputError
            For a value that no cell can hold.
        UnsafePartError
            Where a formula that has a value cannot be found.
        """
        found = 0
        for data in _whole_cells(sheet):
            out: list[bytes] = []
            found += self._patch(data, out)
            yield b"".join(out)
        if found != len(self._values):
            raise UnsafePartError("a cell with a formula cannot be found again")

    def _patch(self, data: bytes, out: list[bytes]) -> int:
        """Append the new bytes of a piece; returns how many formulas with a value are in it."""
        values_of_row, left = self._values.row, self._values.left
        values: Any = ()
        columns = self._columns
        copied = found = 0
        last_digits, row = b"", 0
        for match in PLAIN_CELL.finditer(data):
            letters, digits, rest, _, _, _, element, old = match.groups()
            if digits != last_digits:
                row, last_digits = int(digits), digits
                values = values_of_row(row)
            col = columns.get(letters) or columns.setdefault(letters, column_number(letters.decode()))
            new = values[col - left]
            if new is LEFT_OUT:
                continue
            found += 1
            old_type = cell_marks(rest)[0] if rest else ""
            if type(new) is float and isfinite(new):
                text = encode_number(new)
                if not old_type:
                    if old == text or (old and _number(old) == new):
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
        out.append(data[copied:])
        return found


def _whole_cells(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """The same bytes in other pieces, none of which cuts a cell that is not empty."""
    waiting: list[bytes] = []
    for piece in pieces:
        cut = piece.rfind(_CELL_END) + len(_CELL_END)
        if cut < len(_CELL_END):
            waiting.append(piece)
            continue
        yield b"".join((*waiting, piece[:cut]))
        waiting = [piece[cut:]]
    yield b"".join(waiting)


def _number(text: bytes) -> Scalar:
    """The number that a cell stores."""
    try:
        return float(text)
    except ValueError:
        return decode("", plain_value(text))
