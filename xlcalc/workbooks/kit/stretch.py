"""References that follow a table when it grows or shrinks at its end."""

from __future__ import annotations

import re
from dataclasses import dataclass

from openpyxl.utils.cell import column_index_from_string

_AREA = re.compile(
    r"(?<![A-Za-z0-9_.!'])(\$?)([A-Z]{1,3})(\$?)(\d+):(\$?)([A-Z]{1,3})(\$?)(\d+)(?![A-Za-z0-9_(])"
)


@dataclass(frozen=True)
class Stretch:
    """The old and new last row of a table.

    Parameters
    ----------
    columns : range
        Column numbers of the table.
    header_row, old_last, new_last : int
        Rows of the headings and of the last data row before and after.
    """

    columns: range
    header_row: int
    old_last: int
    new_last: int

    def areas(self, text: str) -> str:
        """The text with every area over the table's data rows moved to the new end.

        Examples
        --------
        >>> Stretch(range(1, 5), 3, 8, 40).areas("COUNTIF($A$4:$A$8,$A4)+SUM(F4:F8)")
        'COUNTIF($A$4:$A$40,$A4)+SUM(F4:F8)'
        """
        return _AREA.sub(self._moved, text)

    def _moved(self, match: re.Match[str]) -> str:
        first_row, last_row = int(match[4]), int(match[8])
        first_column, last_column = column_index_from_string(match[2]), column_index_from_string(match[6])
        inside = first_column in self.columns and last_column in self.columns
        if not (inside and first_row <= self.header_row + 1 and last_row == self.old_last):
            return match[0]
        return f"{match[1]}{match[2]}{match[3]}{match[4]}:{match[5]}{match[6]}{match[7]}{self.new_last}"
