"""How a file shows that this package wrote it and that nobody changed it since.

A workbook and a PDF end with the SHA-256 of everything before it, behind a mark. For files of other formats,
which have no room for that, a list of checksums in the form of the program ``sha256sum`` lies beside them.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

import xlcalc

MARK: Final = " result "
"""Stands before the checksum in the comment of an archive or the last line of a PDF."""
SEAL_LENGTH: Final = len(MARK) + 64
BLANK_SEAL: Final = MARK + "0" * 64
SUMS: Final = ".sha256"
JOURNAL: Final = ".journal"
SIGNATURE: Final = ".sig"
SIGNATURE_TITLE: Final = "xlcalc signature (Ed25519 over the bytes of the file)"
_FIRST_LINE: Final = "# written by xlcalc"
_MOST_SUMS: Final = 1 << 20
_HEX: Final = frozenset("0123456789abcdef")
_ENDS: Final = (".xlsx", ".xlsm", ".xltx", ".xltm", ".pdf")
_PIECE: Final = 1 << 20


def sealed(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Pieces of a file that ends with `BLANK_SEAL`, with the checksum in place of the zeros."""
    digest, held = hashlib.sha256(), b""
    for piece in pieces:
        ready = (held, piece[:-64]) if len(piece) >= 64 else ((held + piece)[:-64],)
        held = piece[-64:] if len(piece) >= 64 else (held + piece)[-64:]
        for part in ready:
            digest.update(part)
            yield part
    if held != b"0" * 64:
        raise ValueError("the file does not end with a blank seal")
    yield digest.hexdigest().encode()


def sealed_book(archive: bytes, stamp: str) -> Iterator[bytes]:
    """A zip archive with a stamp and a seal as its comment, in pieces."""
    buffer = io.BytesIO(archive)
    with zipfile.ZipFile(buffer, "a") as book:
        book.comment = (stamp + BLANK_SEAL).encode("ascii")
    return sealed([buffer.getvalue()])


def without_seal(text: str) -> str:
    """The comment of an archive without its seal.

    Examples
    --------
    >>> without_seal("xlcalc 1.0 2026-01-01T00:00:00Z" + BLANK_SEAL)
    'xlcalc 1.0 2026-01-01T00:00:00Z'
    """
    at = len(text) - SEAL_LENGTH
    return text[:at] if at >= 0 and text[at:].startswith(MARK) and set(text[-64:]) <= _HEX else text


def is_ours(path: Path) -> bool:
    """Whether a file is an output of this package that nobody changed since."""
    try:
        if path.suffix.lower() == SUMS:
            return _is_list(path)
        if path.suffix.lower() == JOURNAL:
            return _is_journal(path)
        if path.suffix.lower() == SIGNATURE:
            return path.is_file() and _first_line(path) == SIGNATURE_TITLE
        if path.suffix.lower() in _ENDS and _is_sealed(path):
            return True
        return any(_sums(beside).get(path.name) == _digest(path) for beside in sorted(_lists(path)))
    except (OSError, UnicodeDecodeError):
        return False


def sums_path(path: Path) -> Path:
    """List of checksums of the files that one command writes, by the name of the first."""
    return path.with_name(path.name + SUMS)


def sums_text(digests: Mapping[str, str]) -> bytes:
    """Contents of a list of checksums, by file name."""
    lines = [f"{_FIRST_LINE} {xlcalc.__version__}", *(f"{d}  {name}" for name, d in digests.items())]
    return "".join(f"{line}\n" for line in lines).encode()


def _lists(path: Path) -> Iterator[Path]:
    """Lists that may name a file: those of names that it begins with."""
    for beside in path.parent.glob(f"*{SUMS}"):
        if path.name.startswith(beside.name.removesuffix(SUMS).rpartition(".")[0]):
            yield beside


def _is_list(path: Path) -> bool:
    if path.stat().st_size > _MOST_SUMS or not path.is_file():
        return False
    first, *rest = path.read_text(encoding="utf-8").splitlines() or [""]
    return first.startswith(_FIRST_LINE) and all(len(line) > 66 and set(line[:64]) <= _HEX for line in rest)


def _is_journal(path: Path) -> bool:
    with path.open("rb") as stream:
        try:
            first = json.loads(stream.readline(_MOST_SUMS))
        except (ValueError, RecursionError):
            return False
    return isinstance(first, dict) and "xlcalc" in first


def _first_line(path: Path) -> str:
    with path.open("rb") as stream:
        return stream.readline(_MOST_SUMS).decode().rstrip("\r\n")


def _sums(path: Path) -> dict[str, str]:
    if not _is_list(path):
        return {}
    return {line[66:]: line[:64] for line in path.read_text(encoding="utf-8").splitlines()[1:]}


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _is_sealed(path: Path) -> bool:
    size = path.stat().st_size
    if size <= SEAL_LENGTH:
        return False
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        stream.seek(size - SEAL_LENGTH)
        if stream.read(len(MARK)) != MARK.encode():
            return False
        stream.seek(0)
        left = size - 64
        while left:
            piece = stream.read(min(left, _PIECE))
            if not piece:
                return False
            digest.update(piece)
            left -= len(piece)
        return stream.read() == digest.hexdigest().encode()
