"""Compound files, version 3 (MS-CFB): storages and streams in sectors of 512 bytes."""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

SECTOR, SMALL_SECTOR, ENTRY = 512, 64, 128
SMALLEST_STREAM = 4096
"""Streams below this size lie in the small sectors."""

_FREE, _END, _TABLE, _NONE = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD, 0xFFFFFFFF
_STORAGE, _STREAM, _ROOT, _BLACK = 1, 2, 5, 1
_SIGNATURE = bytes.fromhex("d0cf11e0a1b11ae1")
_ENTRIES_IN_HEADER = 109
_PER_SECTOR = SECTOR // 4

Storage = Mapping[str, "bytes | Storage"]


@dataclass
class _Entry:
    name: str
    kind: int
    data: bytes = b""
    left: int = _NONE
    right: int = _NONE
    child: int = _NONE
    start: int = 0
    size: int = 0

    def packed(self) -> bytes:
        name = self.name.encode("utf-16-le")
        if not self.name:
            return struct.pack("<64sHBBIII36sIQ", b"", 0, 0, 0, _NONE, _NONE, _NONE, b"", 0, 0)
        links = (self.left, self.right, self.child)
        size = len(name) + 2
        return struct.pack(
            "<64sHBBIII36sIQ", name, size, self.kind, _BLACK, *links, b"", self.start, self.size
        )


def compound_file(content: Storage) -> bytes:
    """A compound file with the streams and storages of a mapping, a storage being a mapping itself.

    Raises
    ------
    ValueError
        A name is longer than 31 characters, or the content is larger than the header can list (7 MB).

    References
    ----------
    MS-CFB, Compound File Binary File Format, sections 2.2 to 2.6. All nodes of its trees are black, which
    section 2.6.4 names as the simplest tree that is valid.
    """
    root = _Entry("Root Entry", _ROOT)
    entries = [root]
    root.child = _add(content, entries)
    small, small_table = _small_streams(entries)
    root.size = len(small)
    large = [entry for entry in entries if entry.kind == _STREAM and len(entry.data) >= SMALLEST_STREAM]
    entries += [_Entry("", 0)] * (-len(entries) % (SECTOR // ENTRY))
    count = _sectors(b"".join(small_table)), _sectors(small)
    chains = [len(entries) * ENTRY // SECTOR, *count, *(_sectors(entry.data) for entry in large)]
    tables = 1
    while tables * _PER_SECTOR < sum(chains) + tables:
        tables += 1
    if tables > _ENTRIES_IN_HEADER:
        raise ValueError("content larger than a compound file without further tables")
    starts, table = [], [_TABLE] * tables
    for length in chains:
        starts.append(len(table) if length else _END)
        table += [*range(len(table) + 1, len(table) + length), _END] if length else []
    table += [_FREE] * (tables * _PER_SECTOR - len(table))
    root.start = starts[2]
    for entry, start in zip(large, starts[3:], strict=True):
        entry.start, entry.size = start, len(entry.data)
    parts = [
        struct.pack(f"<{len(table)}I", *table),
        b"".join(entry.packed() for entry in entries),
        b"".join(small_table),
        small,
        *(entry.data for entry in large),
    ]
    return _header(tables, starts, count[0]) + b"".join(
        part + b"\0" * (-len(part) % SECTOR) for part in parts
    )


def _header(tables: int, starts: list[int], small_tables: int) -> bytes:
    listed = [*range(tables), *[_FREE] * (_ENTRIES_IN_HEADER - tables)]
    fixed = struct.pack("<8s16sHHHHH6s", _SIGNATURE, b"", 0x3E, 3, 0xFFFE, 9, 6, b"")
    sizes = (0, tables, starts[0], 0, SMALLEST_STREAM, starts[1], small_tables, _END, 0)
    return fixed + struct.pack("<9I", *sizes) + struct.pack("<109I", *listed)


def _add(storage: Storage, entries: list[_Entry]) -> int:
    """Entries of a storage, and the number of the one at the top of their tree."""
    numbers = []
    for name in sorted(storage, key=lambda name: (len(name), name.upper())):
        if len(name) > 31:
            raise ValueError(f"name of {len(name)} characters in a compound file: {name}")
        held = storage[name]
        entry = _Entry(name, _STREAM, held) if isinstance(held, bytes) else _Entry(name, _STORAGE)
        numbers.append(len(entries))
        entries.append(entry)
        if not isinstance(held, bytes):
            entry.child = _add(held, entries)
    return _tree(numbers, entries)


def _tree(numbers: list[int], entries: list[_Entry]) -> int:
    if not numbers:
        return _NONE
    middle = len(numbers) // 2
    top = entries[numbers[middle]]
    top.left, top.right = _tree(numbers[:middle], entries), _tree(numbers[middle + 1 :], entries)
    return numbers[middle]


def _small_streams(entries: list[_Entry]) -> tuple[bytes, list[bytes]]:
    """All small streams one after the other, and the table of their sectors."""
    content, table = b"", list[int]()
    for entry in entries:
        if entry.kind == _STREAM and len(entry.data) < SMALLEST_STREAM:
            length = -(-len(entry.data) // SMALL_SECTOR)
            entry.start, entry.size = (len(table), len(entry.data)) if length else (_END, 0)
            table += [*range(len(table) + 1, len(table) + length), _END] if length else []
            content += entry.data + b"\0" * (-len(entry.data) % SMALL_SECTOR)
    table += [_FREE] * (-len(table) % _PER_SECTOR)
    return content, list(_packed(table))


def _packed(table: list[int]) -> Iterator[bytes]:
    for start in range(0, len(table), _PER_SECTOR):
        yield struct.pack(f"<{_PER_SECTOR}I", *table[start : start + _PER_SECTOR])


def _sectors(data: bytes) -> int:
    return -(-len(data) // SECTOR)
