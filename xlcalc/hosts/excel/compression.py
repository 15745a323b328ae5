"""Compression of VBA source and directory (MS-OVBA 2.4.1), both ways."""

from __future__ import annotations

import struct

CHUNK = 4096
SIGNATURE = 1
_COMPRESSED, _RAW = 0xB000, 0x3000
_SHORTEST = 3
_TRIED = 32
"""Earlier places of the same three bytes that are tried for a longer match."""


def compressed(data: bytes) -> bytes:
    """A compressed container.

    References
    ----------
    MS-OVBA, Office VBA File Format Structure, section 2.4.1.3.
    """
    chunks = (_chunk(data[start : start + CHUNK]) for start in range(0, len(data), CHUNK))
    return bytes([SIGNATURE]) + b"".join(chunks)


def decompressed(data: bytes) -> bytes:
    """The content of a compressed container.

    Raises
    ------
    ValueError
        The bytes are no compressed container.
    """
    if not data or data[0] != SIGNATURE:
        raise ValueError("no compressed container")
    content, place = bytearray(), 1
    while place + 2 <= len(data):
        (header,) = struct.unpack_from("<H", data, place)
        end = place + (header & 0x0FFF) + 3
        if header & 0x8000:
            _expand(data[place + 2 : end], content)
        else:
            content += data[place + 2 : end]
        place = end
    return bytes(content)


def _chunk(data: bytes) -> bytes:
    tokens = bytearray()
    seen: dict[bytes, list[int]] = {}
    place = 0
    while place < len(data):
        flags, group = 0, bytearray()
        for bit in range(8):
            if place >= len(data):
                break
            offset, length = _match(data, place, seen)
            if length >= _SHORTEST:
                flags |= 1 << bit
                bits = _offset_bits(place)
                group += struct.pack("<H", (offset - 1) << (16 - bits) | (length - _SHORTEST))
            else:
                length = 1
                group.append(data[place])
            for n in range(place, place + length):
                seen.setdefault(data[n : n + _SHORTEST], []).append(n)
            place += length
        tokens.append(flags)
        tokens += group
    if len(tokens) > CHUNK:
        return struct.pack("<H", _RAW | (CHUNK - 1)) + data.ljust(CHUNK, b"\0")
    return struct.pack("<H", _COMPRESSED | (len(tokens) - 1)) + tokens


def _match(data: bytes, place: int, seen: dict[bytes, list[int]]) -> tuple[int, int]:
    """Distance and length of the longest earlier copy of what follows."""
    longest = min((1 << (16 - _offset_bits(place))) - 1 + _SHORTEST, len(data) - place)
    best = (0, 0)
    for start in reversed(seen.get(data[place : place + _SHORTEST], [])[-_TRIED:]):
        length = 0
        while length < longest and data[start + length] == data[place + length]:
            length += 1
        if length > best[1]:
            best = place - start, length
    return best


def _expand(tokens: bytes, content: bytearray) -> None:
    first, place = len(content), 0
    while place < len(tokens):
        flags = tokens[place]
        place += 1
        for bit in range(8):
            if place >= len(tokens):
                return
            if flags >> bit & 1:
                bits = 16 - _offset_bits(len(content) - first)
                (token,) = struct.unpack_from("<H", tokens, place)
                place += 2
                offset, length = (token >> bits) + 1, (token & (1 << bits) - 1) + _SHORTEST
                if offset > len(content) - first:
                    raise ValueError("a copy from before the beginning")
                for _ in range(length):
                    content.append(content[-offset])
            else:
                content.append(tokens[place])
                place += 1


def _offset_bits(place: int) -> int:
    """How many bits of a copy token hold the distance, MS-OVBA 2.4.1.3.19.1."""
    return max((place - 1).bit_length(), 4)
