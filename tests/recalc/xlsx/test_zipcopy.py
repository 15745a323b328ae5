"""Archives of every dress keep it: streamed, 64-bit, stored, commented, with folders and extra fields."""

from __future__ import annotations

import struct
import subprocess
import zipfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest

from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.zipcopy import rebuild
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage

FORMULA = '<row r="1"><c r="A1"><f>1+1</f><v>1</v></c></row>'
SHEET = "xl/worksheets/sheet1.xml"
MakePackage = Callable[..., Path]


class _Unseekable(BytesIO):
    """Makes zipfile write sizes behind the data, as streaming writers do."""

    def seekable(self) -> bool:
        return False

    def seek(self, *_: object) -> int:
        raise OSError

    def tell(self) -> int:
        raise OSError


def _raw_blocks(path: Path) -> dict[str, bytes]:
    """Local block of each member, cut by the offsets of the list of contents."""
    with zipfile.ZipFile(path) as archive:
        infos = sorted(archive.infolist(), key=lambda info: info.header_offset)
        starts = [info.header_offset for info in infos] + [archive.start_dir]
    content = path.read_bytes()
    return {info.filename: content[a:b] for info, a, b in zip(infos, starts[:-1], starts[1:], strict=True)}


def _repacked(
    source: Path, target: Path, *, stream: bool = False, wide: bool = False, stored: bool = False
) -> None:
    out = _Unseekable() if stream else BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(out, "w") as new:
        new.comment = b"a comment of another program"
        new.writestr(zipfile.ZipInfo("xl/media/", (2001, 2, 3, 4, 5, 6)), b"")
        for name in old.namelist():
            info = zipfile.ZipInfo(name, (2011, 12, 13, 14, 15, 16))
            info.compress_type = zipfile.ZIP_STORED if stored else zipfile.ZIP_DEFLATED
            info.comment = b"member comment"
            info.extra = struct.pack("<2H4s", 0xCAFE, 4, b"abcd")
            info.external_attr = 0o640 << 16
            with new.open(info, "w", force_zip64=wide) as member:
                member.write(old.read(name))
    target.write_bytes(out.getvalue())


@pytest.mark.parametrize(
    "dress", [{}, {"stream": True}, {"wide": True}, {"stored": True}, {"stream": True, "wide": True}]
)
def test_untouched_members_keep_every_byte(
    make_package: MakePackage, tmp_path: Path, dress: dict[str, bool]
) -> None:
    source, target = tmp_path / "dressed.xlsx", tmp_path / "out.xlsx"
    _repacked(make_package(FORMULA), source, **dress)
    WorkbookPackage.open(source).save(target, {"Data": SheetPatch({(1, 1): 2.0})}, stamp="s")
    old, new = _raw_blocks(source), _raw_blocks(target)
    assert list(old) == list(new)
    assert [name for name in old if old[name] != new[name]] == [SHEET]
    with zipfile.ZipFile(source) as before, zipfile.ZipFile(target) as after:
        assert after.testzip() is None
        for a, b in zip(before.infolist(), after.infolist(), strict=True):
            for attribute in (
                "filename",
                "date_time",
                "compress_type",
                "comment",
                "external_attr",
                "create_system",
            ):
                assert getattr(a, attribute) == getattr(b, attribute)
            if a.filename != SHEET:
                assert (a.extra, a.flag_bits) == (b.extra, b.flag_bits)
        assert after.read(SHEET) == before.read(SHEET).replace(b"<v>1</v>", b"<v>2</v>")
        assert b"\xfe\xca\x04\x00abcd" in after.getinfo(SHEET).extra
    WorkbookPackage.open(target)


def test_an_entry_with_a_64_bit_offset_is_moved(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(FORMULA)
    content = path.read_bytes()
    end = content.rindex(b"PK\x05\x06")
    start = struct.unpack_from("<L", content, end + 16)[0]
    last = content.rindex(b"PK\x01\x02")
    offset, name_size = (
        struct.unpack_from("<L", content, last + 42)[0],
        struct.unpack_from("<H", content, last + 28)[0],
    )
    entry = bytearray(content[last:end])
    entry[42:46] = b"\xff\xff\xff\xff"
    struct.pack_into("<H", entry, 30, 12)
    entry[46 + name_size :] = struct.pack("<2HQ", 1, 8, offset)
    tail = bytearray(content[end:])
    struct.pack_into("<2L", tail, 12, last + len(entry) - start, start)
    path.write_bytes(content[:last] + entry + tail)
    container = Container.open(path)
    grown = b"<a>" + bytes(range(65, 91)) * 50 + b"</a>"
    result = b"".join(rebuild(container, {"_rels/.rels": grown}, {}, b"c"))
    with zipfile.ZipFile(BytesIO(result)) as archive:
        assert archive.testzip() is None
        assert archive.read("_rels/.rels") == grown
        assert archive.read(SHEET) == container.read(SHEET)


def test_added_members_come_last(make_package: MakePackage) -> None:
    container = Container.open(make_package(FORMULA))
    result = b"".join(rebuild(container, {}, {"xl/new.xml": b"<new/>"}, b""))
    with zipfile.ZipFile(BytesIO(result)) as archive:
        assert archive.namelist() == [*(info.filename for info in container.members), "xl/new.xml"]
        assert archive.read("xl/new.xml") == b"<new/>"
        assert archive.testzip() is None


def test_another_unzip_program_accepts_the_archive(rich_book: Path, tmp_path: Path) -> None:
    import shutil

    program = shutil.which("unzip")
    if program is None:
        pytest.skip("needs unzip")
    target = tmp_path / "out.xlsx"
    package = WorkbookPackage.open(rich_book)
    package.save(target, {"Drive data": SheetPatch({(1, 2): 2.0})}, stamp="s", reasons=[])
    assert subprocess.run([program, "-tqq", str(target)], check=False).returncode == 0
