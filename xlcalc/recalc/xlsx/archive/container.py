"""The zip container of a workbook, opened with bounded time and memory and nothing trusted."""

from __future__ import annotations

import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO
from pathlib import Path

from xlcalc.files.errors import UnsafePartError, WorkbookFileError
from xlcalc.files.writing import Snapshot
from xlcalc.recalc.xlsx.archive.strict import MARK, strict, transitional
from xlcalc.recalc.xlsx.archive.xmlparts import well_formed

_OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED_STREAM = "EncryptedPackage".encode("utf-16-le")
_METHODS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_DRIVE = re.compile(r"\A[A-Za-z]:")
_CHUNK = 1 << 17


@dataclass(frozen=True)
class Limits:
    """What a package may hold at most; far above any real workbook, far below what hurts a machine."""

    file_bytes: int = 512 << 20
    members: int = 10_000
    member_bytes: int = 512 << 20
    total_bytes: int = 1 << 30
    ratio: int = 250
    ratio_counts_from: int = 8 << 20


DEFAULT_LIMITS = Limits()


class Container:
    """A verified zip package in memory.

    Use `Container.open`; every member's checksum, name, size and XML has been checked when it returns.
    """

    def __init__(self, path: Path, data: bytes, snapshot: Snapshot, archive: zipfile.ZipFile) -> None:
        self.path = path
        self.data = data
        self.snapshot = snapshot
        self.archive = archive
        self.members: list[zipfile.ZipInfo] = archive.infolist()

    @classmethod
    def open(cls, path: Path, limits: Limits = DEFAULT_LIMITS) -> Container:
        """Read and verify a package.

        Raises
        ------
        WorkbookFileError
            For everything that is not a sound, plain zip package of modest size.
        """
        data, snapshot = _read_file(path, limits)
        _refuse_other_formats(path, data)
        try:
            archive = zipfile.ZipFile(BytesIO(data))
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, struct.error, OverflowError):
            raise WorkbookFileError(
                path, "the file is damaged or cut short: its list of contents is missing"
            ) from None
        container = cls(path, data, snapshot, archive)
        container._check_list(limits)
        container._check_contents(limits)
        return container

    @cached_property
    def _by_folded_name(self) -> dict[str, str]:
        return {member.filename.casefold(): member.filename for member in self.members}

    def find(self, name: str) -> str | None:
        """The member's own spelling of a part name (names of parts do not depend on case)."""
        return self._by_folded_name.get(name.casefold())

    def read(self, name: str) -> bytes:
        """Contents of a member by its own spelling."""
        content = BytesIO()
        content.writelines(self.stream(name))
        return content.getvalue()

    def stream(self, name: str) -> Iterator[bytes]:
        """The same in pieces; XML of the strict variant under the namespaces of the other."""
        if self.strict and name.casefold().endswith(".xml"):
            return iter([transitional(b"".join(self._stored(name)))])
        return self._stored(name)

    def _stored(self, name: str) -> Iterator[bytes]:
        with self.archive.open(name) as stream:
            while piece := stream.read(_CHUNK):
                yield piece

    @cached_property
    def strict(self) -> bool:
        """Whether the package is of the strict variant."""
        name = self.find("_rels/.rels")
        return name is not None and MARK in b"".join(self._stored(name))

    def written(self, pieces: Iterable[bytes]) -> Iterable[bytes]:
        """New contents of a member as this variant names things."""
        return [strict(b"".join(pieces))] if self.strict else pieces

    @property
    def central_directory(self) -> bytes:
        """The list of contents as it stands in the file."""
        start: int = self.archive.start_dir
        return self.data[start:]

    def fail(self, reason: str) -> WorkbookFileError:
        """The error to raise about this file."""
        return WorkbookFileError(self.path, reason)

    def _check_list(self, limits: Limits) -> None:
        if len(self.members) > limits.members:
            raise self.fail(f"it holds {len(self.members)} parts, more than the {limits.members} allowed")
        if len(self._by_folded_name) != len(self.members):
            raise self.fail("two of its parts have the same name")
        total = sum(member.file_size for member in self.members)
        if total > limits.total_bytes:
            raise self.fail(
                f"it unpacks to {total >> 20} MiB, more than the {limits.total_bytes >> 20} MiB allowed"
            )
        end = 0
        for member in sorted(self.members, key=lambda item: item.header_offset):
            self._check_member(member, limits)
            if member.header_offset < end:
                raise self.fail("parts of it overlap, as in a file made to exhaust a machine")
            end = member.header_offset + 30 + member.compress_size
        if end > self.archive.start_dir:
            raise self.fail("the file is damaged: a part reaches into the list of contents")

    def _check_member(self, member: zipfile.ZipInfo, limits: Limits) -> None:
        name = member.filename
        shown = ascii(name[:80])
        if not name or member.orig_filename != name or any(ord(char) < 32 for char in name):
            raise self.fail(f"the part name {shown} holds characters that no part name may hold")
        if name.startswith("/") or "\\" in name or _DRIVE.match(name) or ".." in name.split("/"):
            raise self.fail(f"the part name {shown} points outside the package")
        if member.flag_bits & 0x1:
            raise self.fail("the file is encrypted; save it without a password first")
        if member.compress_type not in _METHODS:
            raise self.fail(f"the part {shown} is packed in a way that workbooks do not use")
        if member.file_size > limits.member_bytes:
            raise self.fail(
                f"the part {shown} unpacks to {member.file_size >> 20} MiB, too much for a workbook"
            )
        if (
            member.file_size > limits.ratio_counts_from
            and member.file_size > limits.ratio * member.compress_size
        ):
            raise self.fail(
                f"the part {shown} unpacks to more than {limits.ratio} times its size in the file"
            )

    def _check_contents(self, limits: Limits) -> None:
        for member in self.members:
            shown = ascii(member.filename[:80])
            is_xml = member.filename.casefold().endswith((".xml", ".rels"))
            try:
                with self.archive.open(member) as stream:
                    pieces = iter(lambda: stream.read(_CHUNK), b"")
                    for _ in well_formed(pieces) if is_xml else pieces:
                        pass
            except UnsafePartError as error:
                raise self.fail(f"the part {shown} is not acceptable: {error}") from None
            except (
                zipfile.BadZipFile,
                zlib.error,
                EOFError,
                OSError,
                ValueError,
                NotImplementedError,
                struct.error,
            ):
                raise self.fail(
                    f"the file is damaged or cut short: the part {shown} cannot be unpacked"
                ) from None


def _read_file(path: Path, limits: Limits) -> tuple[bytes, Snapshot]:
    try:
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise WorkbookFileError(path, "this is a folder, not a workbook")
        if not stat.S_ISREG(status.st_mode):
            raise WorkbookFileError(path, "this is not an ordinary file")
        if status.st_size > limits.file_bytes:
            raise WorkbookFileError(path, f"the file is larger than {limits.file_bytes >> 20} MiB")
        snapshot = Snapshot.of(path)
        data = path.read_bytes()
    except FileNotFoundError:
        raise WorkbookFileError(path, "there is no such file") from None
    except PermissionError:
        raise WorkbookFileError(path, "you may not read this file, or another program holds it") from None
    except (OSError, ValueError) as error:
        raise WorkbookFileError(path, f"the file cannot be read ({error})") from None
    if not data:
        raise WorkbookFileError(path, "the file is empty")
    return data, snapshot


def _refuse_other_formats(path: Path, data: bytes) -> None:
    if data.startswith(_OLE_MAGIC):
        if _ENCRYPTED_STREAM in data:
            raise WorkbookFileError(path, "the workbook is encrypted; save it without a password first")
        raise WorkbookFileError(path, "this is an old binary workbook (.xls); save it as .xlsx first")
    if not data.startswith(b"PK\x03\x04"):
        raise WorkbookFileError(path, "this is not a workbook (.xlsx or .xlsm)")
