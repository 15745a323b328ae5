"""Text files that are larger than the memory is meant to be: whole lines, block by block."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

BLOCK_BYTES: Final = 8 << 20
_BLANK: Final = b"\x1a \t\r\n"
_TAIL: Final = 1 << 16


@dataclass(frozen=True)
class Lines:
    """Lines of a file between two bytes; the last one may lack its end, and is not blank.

    Parameters
    ----------
    path : Path
    begin, end : int
    """

    path: Path
    begin: int
    end: int

    @classmethod
    def of(cls, path: Path, begin: int = 0, end: int | None = None) -> Lines:
        """All lines between two bytes, or to the end of the file; blank ones at the end are left out."""
        end = path.stat().st_size if end is None else end
        with path.open("rb") as stream:
            while end > begin:
                stream.seek(max(begin, end - _TAIL))
                tail = stream.read(end - stream.tell())
                end -= len(tail) - len(tail.rstrip(_BLANK))
                if tail.rstrip(_BLANK):
                    break
        return cls(path, begin, end)

    def blocks(self) -> Iterator[bytes]:
        """Consecutive blocks of whole lines."""
        rest = b""
        with self.path.open("rb") as stream:
            stream.seek(self.begin)
            left = self.end - self.begin
            while left > 0 and (part := stream.read(min(BLOCK_BYTES, left))):
                left -= len(part)
                cut = part.rfind(b"\n") + 1
                if cut:
                    yield rest + part[:cut]
                    rest = part[cut:]
                else:
                    rest += part
        if rest:
            yield rest

    @property
    def last(self) -> bytes:
        """The last line, as far as its last 64 KiB."""
        return self._ending().rpartition(b"\n")[2]

    def without_last(self) -> Lines:
        """All lines but the last."""
        return Lines.of(self.path, self.begin, self.end - len(self.last))

    def _ending(self) -> bytes:
        with self.path.open("rb") as stream:
            stream.seek(max(self.begin, self.end - _TAIL))
            return stream.read(self.end - stream.tell())

    def count(self) -> int:
        """How many there are."""
        return sum(line_count(block) for block in self.blocks())


def line_count(block: bytes) -> int:
    """Lines of a block; the last one may lack its end."""
    return block.count(b"\n") + (not block.endswith(b"\n"))
