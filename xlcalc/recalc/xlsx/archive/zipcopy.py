"""A new zip archive from an old one: untouched members keep every byte, replaced ones their metadata."""

from __future__ import annotations

import struct
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.packed import DEFLATED, Packed

_CENTRAL = struct.Struct("<4s4B4HL2L5H2L")
_CENTRAL_MAGIC = b"PK\x01\x02"
_LOCAL_MAGIC = b"PK\x03\x04"
_END = struct.Struct("<4s4H2LH")
_ZIP64_EXTRA = 1
_HAS_DESCRIPTOR = 0x0008
_OFFSET_FIELD = slice(42, 46)
_SIZE_FIELDS = slice(16, 28)
_MAX_COMMENT = 0xFFFF


@dataclass(frozen=True)
class _Entry:
    """One entry of the list of contents, raw."""

    name: str
    fixed: bytes
    raw_name: bytes
    extra: bytes
    comment: bytes
    offset: int


def rebuild(
    container: Container,
    replaced: Mapping[str, bytes | Packed],
    added: Mapping[str, bytes],
    comment: bytes,
    removed: Collection[str] = (),
) -> Iterator[bytes]:
    """Pieces of the new archive in order.

    Untouched members are copied raw: same compressed bytes, times, flags and extra fields. Replaced members
    keep name, time, method and attributes. Added members come last, with the metadata of the first member.

    Parameters
    ----------
    container : Container
        The verified source.
    replaced : mapping of member name to contents, packed already or not
    added : mapping of member name to contents
    comment : bytes
        Archive comment.
    removed : collection of member name
        Members that are left out.
    """
    if len(comment) > _MAX_COMMENT:
        raise ValueError("the archive comment is too long")
    entries = list(_entries(container))
    physical = sorted(entries, key=lambda entry: entry.offset)
    ends = [entry.offset for entry in physical[1:]] + [container.archive.start_dir]
    position = 0
    finished: dict[str, bytes] = {}
    for entry, end in zip(physical, ends, strict=True):
        if entry.name in removed:
            continue
        if entry.name in replaced:
            content = replaced[entry.name]
            if isinstance(content, bytes):
                content = Packed.of([content], struct.unpack_from("<H", entry.fixed, 10)[0])
            block, fixed, extra = _packed(entry, content)
        else:
            block, fixed, extra = container.data[entry.offset : end], entry.fixed, entry.extra
        finished[entry.name] = _listed(entry, fixed, extra, position)
        yield block
        position += len(block)
    listing = [finished[entry.name] for entry in entries if entry.name in finished]
    for name, new in added.items():
        template = entries[0]
        fresh = _Entry(name, template.fixed, name.encode("ascii"), b"", b"", 0)
        block, fixed, extra = _packed(fresh, Packed.of([new], DEFLATED))
        listing.append(_listed(fresh, fixed, extra, position))
        yield block
        position += len(block)
    directory = b"".join(listing)
    yield directory
    yield (
        _END.pack(b"PK\x05\x06", 0, 0, len(listing), len(listing), len(directory), position, len(comment))
        + comment
    )


def _entries(container: Container) -> Iterator[_Entry]:
    directory = container.central_directory
    at = 0
    for member in container.members:
        fixed = directory[at : at + _CENTRAL.size]
        if fixed[:4] != _CENTRAL_MAGIC:
            raise container.fail("the file is damaged: its list of contents cannot be read")
        name_size, extra_size, comment_size = struct.unpack_from("<3H", fixed, 28)
        at += _CENTRAL.size
        raw_name = directory[at : at + name_size]
        at += name_size
        extra = directory[at : at + extra_size]
        at += extra_size
        yield _Entry(
            member.filename, fixed, raw_name, extra, directory[at : at + comment_size], member.header_offset
        )
        at += comment_size


def _listed(entry: _Entry, fixed: bytes, extra: bytes, offset: int) -> bytes:
    """Entry of the list of contents with the member's new place."""
    header = bytearray(fixed)
    if header[_OFFSET_FIELD] == b"\xff\xff\xff\xff":
        extra = _with_wide_offset(fixed, extra, offset)
    else:
        header[_OFFSET_FIELD] = struct.pack("<L", offset)
    struct.pack_into("<3H", header, 28, len(entry.raw_name), len(extra), len(entry.comment))
    return bytes(header) + entry.raw_name + extra + entry.comment


def _with_wide_offset(fixed: bytes, extra: bytes, offset: int) -> bytes:
    """Put an offset into the 64-bit field, behind those sizes that are stored there too."""
    compressed, size = struct.unpack_from("<2L", fixed, 20)
    skip = 8 * ((compressed == 0xFFFFFFFF) + (size == 0xFFFFFFFF))
    at = 0
    while at + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, at)
        if kind == _ZIP64_EXTRA:
            place = at + 4 + skip
            return extra[:place] + struct.pack("<Q", offset) + extra[place + 8 :]
        at += 4 + length
    raise ValueError("the 64-bit field of an archive entry is missing")


def _packed(entry: _Entry, content: Packed) -> tuple[bytes, bytes, bytes]:
    """Local block, fixed part and extra field of the list entry for new contents."""
    header = bytearray(entry.fixed)
    made_for = struct.unpack_from("<3H", header, 6)
    flags = made_for[1] & ~_HAS_DESCRIPTOR
    body = b"".join(content.body)
    sizes = struct.pack("<3L", content.checksum, len(body), content.size)
    struct.pack_into("<2H", header, 8, flags, content.method)
    header[_SIZE_FIELDS] = sizes
    header[_OFFSET_FIELD] = b"\0\0\0\0"
    extra = _without_zip64(entry.extra)
    time_and_date = bytes(header[12:16])
    local = (
        _LOCAL_MAGIC
        + struct.pack("<3H", made_for[0], flags, content.method)
        + time_and_date
        + sizes
        + struct.pack("<2H", len(entry.raw_name), len(extra))
        + entry.raw_name
        + extra
    )
    return local + body, bytes(header), extra


def _without_zip64(extra: bytes) -> bytes:
    kept = b""
    at = 0
    while at + 4 <= len(extra):
        kind, length = struct.unpack_from("<2H", extra, at)
        if kind != _ZIP64_EXTRA:
            kept += extra[at : at + 4 + length]
        at += 4 + length
    return kept
