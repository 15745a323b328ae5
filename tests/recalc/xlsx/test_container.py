"""Files that are not valid workbooks are refused with the reason, quickly and in little memory."""

from __future__ import annotations

import os
import random
import struct
import time
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest

from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.xlsx.archive.container import Container, Limits
from xlcalc.recalc.xlsx.package import SheetPatch, WorkbookPackage, read_stamp

FORMULA = '<row r="1"><c r="A1"><f>1+1</f><v>1</v></c></row>'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = "xl/worksheets/sheet1.xml"
MakePackage = Callable[..., Path]


def refused(path: Path, words: str) -> None:
    tracemalloc.start()
    start = time.perf_counter()
    try:
        with pytest.raises(WorkbookFileError, match=words) as caught:
            WorkbookPackage.open(path)
        assert str(caught.value).startswith(str(path))
        assert time.perf_counter() - start < 5
        assert tracemalloc.get_traced_memory()[1] < 100 << 20
    finally:
        tracemalloc.stop()


def test_a_sound_workbook_is_accepted(make_package: MakePackage) -> None:
    package = WorkbookPackage.open(make_package(FORMULA))
    assert [cell.name for cell in package.sheets[0].formulas] == ["A1"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"hello,world\n1,2\n", "not a workbook"),
        (b"\x89PNG\r\n\x1a\n" + bytes(64), "not a workbook"),
        (b"%PDF-1.7\n", "not a workbook"),
        (b"PK\x03\x04" + bytes(200), "damaged or cut short"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000), r"\.xls"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600) + "EncryptedPackage".encode("utf-16-le"),
            "encrypted",
        ),
    ],
)
def test_other_files_are_named_for_what_they_are(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "other.xlsx"
    path.write_bytes(content)
    refused(path, words)


def test_missing_files_folders_and_pipes_are_named(tmp_path: Path) -> None:
    refused(tmp_path / "absent.xlsx", "no such file")
    refused(tmp_path, "folder")
    pipe = tmp_path / "pipe.xlsx"
    os.mkfifo(pipe)
    refused(pipe, "not an ordinary file")
    refused(tmp_path / ("n" * 300), "cannot be read")


def test_a_file_cut_short_anywhere_is_refused(rich_book: Path, tmp_path: Path) -> None:
    content = rich_book.read_bytes()
    cuts = {
        1,
        4,
        30,
        len(content) - 1,
        len(content) - 22,
        *range(0, len(content), max(1, len(content) // 150)),
    }
    path = tmp_path / "cut.xlsx"
    for cut in sorted(cuts):
        path.write_bytes(content[:cut])
        with pytest.raises(WorkbookFileError):
            WorkbookPackage.open(path)


def test_a_changed_byte_in_any_part_is_noticed(rich_book: Path, tmp_path: Path, members: Callable) -> None:
    content = rich_book.read_bytes()
    path = tmp_path / "changed.xlsx"
    whole = {info.filename: data for info, data in members(rich_book)}
    harmless = 0
    messages: list[str] = []
    for member, _ in members(rich_book):
        place = member.header_offset + 30 + len(member.filename) + member.compress_size // 2
        path.write_bytes(content[:place] + bytes([content[place] ^ 0x55]) + content[place + 1 :])
        try:
            WorkbookPackage.open(path)
        except WorkbookFileError as error:
            messages.append(error.reason)
        else:
            assert {info.filename: data for info, data in members(path)} == whole
            harmless += 1
    assert harmless <= 1
    assert all("damaged" in message or "not acceptable" in message for message in messages)


def test_random_damage_never_ends_in_another_exception(rich_book: Path, tmp_path: Path) -> None:
    content = rich_book.read_bytes()
    path = tmp_path / "damaged.xlsx"
    source = random.Random(1)
    refused = 0
    for _ in range(150):
        damaged = bytearray(content)
        for _ in range(source.choice((1, 3, 30))):
            damaged[source.randrange(len(damaged))] = source.randrange(256)
        path.write_bytes(damaged)
        try:
            WorkbookPackage.open(path)
        except WorkbookFileError:
            refused += 1
    assert refused > 100


def test_bombs_are_refused_without_unpacking_them(make_package: MakePackage) -> None:
    zeros = b"<worksheet>" + b" " * (300 << 20) + b"</worksheet>"
    path = make_package(FORMULA, **{"xl/media/one.bin": zeros})
    del zeros
    refused(path, "times its size")


def test_many_parts_and_great_totals_are_refused(make_package: MakePackage) -> None:
    many = {f"xl/media/{n}.bin": b"" for n in range(50)}
    path = make_package(FORMULA, **many)
    with pytest.raises(WorkbookFileError, match="55 parts"):
        Container.open(path, Limits(members=54))
    with pytest.raises(WorkbookFileError, match="larger than"):
        Container.open(path, Limits(file_bytes=100))
    big = make_package(
        FORMULA, **{"xl/media/a.bin": os.urandom(3 << 20), "xl/media/b.bin": os.urandom(3 << 20)}
    )
    with pytest.raises(WorkbookFileError, match="unpacks to 6 MiB"):
        Container.open(big, Limits(total_bytes=4 << 20))
    with pytest.raises(WorkbookFileError, match="too much for a workbook"):
        Container.open(big, Limits(member_bytes=2 << 20))


def test_a_size_that_lies_is_noticed(make_package: MakePackage) -> None:
    path = make_package(FORMULA, **{"xl/media/one.bin": bytes(20 << 20)})
    content = bytearray(path.read_bytes())
    for magic, offset in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        at = -1
        while (at := content.find(magic, at + 1)) >= 0:
            if struct.unpack_from("<L", content, at + offset)[0] == 20 << 20:
                struct.pack_into("<L", content, at + offset, 100)
    path.write_bytes(content)
    refused(path, "damaged")


def test_overlapping_parts_are_refused(make_package: MakePackage) -> None:
    path = make_package(FORMULA)
    content = bytearray(path.read_bytes())
    first = content.find(b"PK\x01\x02")
    second = content.find(b"PK\x01\x02", first + 4)
    content[second + 42 : second + 46] = content[first + 42 : first + 46]
    path.write_bytes(content)
    refused(path, "overlap|damaged")


@pytest.mark.parametrize(
    "name", ["../evil.xml", "xl/../../evil.xml", "/xl/evil.xml", "C:/evil.xml", "xl\\evil.xml", "xl/a\nb.xml"]
)
def test_names_that_leave_the_package_are_refused(make_package: MakePackage, name: str) -> None:
    refused(make_package(FORMULA, **{name: b"<a/>"}), "part name")


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", [SHEET, SHEET.upper()])
def test_two_parts_of_one_name_are_refused(make_package: MakePackage, name: str) -> None:
    path = make_package(FORMULA)
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr(name, b"<a/>")
    refused(path, "same name")


_LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a0 "ha">'
    + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    + f']><worksheet xmlns="{MAIN}"><sheetData><row><c><f>&a9;</f></c></row></sheetData></worksheet>'
)
_OUTSIDE = f'<!DOCTYPE w SYSTEM "file:///etc/passwd"><worksheet xmlns="{MAIN}"><sheetData/></worksheet>'


@pytest.mark.parametrize("sheet", [_LAUGHS, _OUTSIDE])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("part", [SHEET, "xl/workbook.xml", "[Content_Types].xml", "docProps/core.xml"])
def test_entities_and_document_types_are_refused(
    make_package: MakePackage, sheet: str, encoding: str, part: str
) -> None:
    refused(make_package(FORMULA, **{part: sheet.encode(encoding)}), "document type or entities")


@pytest.mark.parametrize(
    ("overrides", "words"),
    [
        ({"xl/workbook.xml": None}, "workbook part is missing"),
        ({"_rels/.rels": None}, "workbook part is missing"),
        ({"[Content_Types].xml": None}, "not a workbook"),
        ({SHEET: None}, "part of the sheet 'Data' is missing"),
        ({"xl/_rels/workbook.xml.rels": None}, "sheet 'Data' has no part"),
        ({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet"}, "OpenDocument"),
        ({"_xmlsignatures/origin.sigs": b""}, "digital signature"),
        ({SHEET: b"<worksheet"}, "not well-formed"),
        ({"xl/workbook.xml": b"<workbook/>"}, "not that of a workbook"),
        ({"xl/workbook.xml": f'<workbook xmlns="{MAIN}"/>'.encode()}, "no sheets"),
        ({SHEET: '<?xml version="1.0" encoding="ISO-8859-1"?><a/>'.encode("latin-1")}, "text encoding"),
        (
            {
                "xl/_rels/workbook.xml.rels": b'<Relationships xmlns="x"><Relationship Id="rId1" '
                b'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" '
                b'Target="../../../etc/passwd"/></Relationships>'
            },
            "outside the package",
        ),
        (
            {
                "xl/_rels/workbook.xml.rels": b'<Relationships xmlns="x"><Relationship Id="rId1" '
                b'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" '
                b'Target="http://example.org/sheet1.xml" TargetMode="External"/></Relationships>'
            },
            "has no part in the package",
        ),
    ],
)
def test_packages_that_are_no_sound_workbook_are_refused(
    make_package: MakePackage, overrides: dict[str, bytes | None], words: str
) -> None:
    refused(make_package(FORMULA, **overrides), words)


def test_binary_workbooks_and_other_documents_are_named(make_package: MakePackage) -> None:
    types = zipfile.ZipFile(make_package(FORMULA)).read("[Content_Types].xml")
    wanted = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
    binary = types.replace(wanted, b"application/vnd.ms-excel.sheet.binary.macroEnabled.main")
    refused(make_package(FORMULA, **{"[Content_Types].xml": binary}), "xlsb")
    text = types.replace(
        wanted, b"application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml"
    )
    refused(make_package(FORMULA, **{"[Content_Types].xml": text}), "another kind")


def test_encrypted_and_oddly_packed_members_are_refused(make_package: MakePackage, tmp_path: Path) -> None:
    path = make_package(FORMULA)
    content = bytearray(path.read_bytes())
    for magic, offset in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = content.find(magic)
        content[at + offset] |= 1
    path.write_bytes(content)
    refused(path, "encrypted")
    odd = tmp_path / "odd.xlsx"
    with zipfile.ZipFile(make_package(FORMULA)) as old, zipfile.ZipFile(odd, "w", zipfile.ZIP_LZMA) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    refused(odd, "packed in a way")


def test_a_deeply_nested_part_does_not_exhaust_anything(make_package: MakePackage) -> None:
    deep = b"<a>" * 200_000 + b"</a>" * 200_000
    assert WorkbookPackage.open(make_package(FORMULA, **{"docProps/custom.xml": deep}))
    refused(make_package(FORMULA, **{"xl/workbook.xml": deep}), "cannot be read as XML|not acceptable")


def test_sheets_in_utf16_are_patched_in_utf16(make_package: MakePackage, tmp_path: Path) -> None:
    head = '<?xml version="1.0" encoding="UTF-16"?>'
    text = f'{head}<worksheet xmlns="{MAIN}"><sheetData>{FORMULA}</sheetData></worksheet>'
    path = make_package(text.encode("utf-16"))
    target = tmp_path / "out.xlsx"
    WorkbookPackage.open(path).save(target, {"Data": SheetPatch({(1, 1): "Ω"})}, stamp="s")
    result = zipfile.ZipFile(target).read(SHEET)
    assert result == text.replace('"A1"><f>1+1</f><v>1', '"A1" t="str"><f>1+1</f><v>Ω').encode("utf-16")


def test_a_stamp_is_read_from_any_sound_package(make_package: MakePackage) -> None:
    path = make_package(FORMULA)
    assert read_stamp(path) is None
    with zipfile.ZipFile(path, "a") as archive:
        archive.comment = b"xlcalc 1 2030-01-01"
    assert read_stamp(path) == "xlcalc 1 2030-01-01"


def test_a_bomb_of_shared_blocks_is_refused(tmp_path: Path) -> None:
    """Many entries that share one block of zeros, the construction of D. Fifield, USENIX WOOT 2019."""
    stream = BytesIO()
    packer = zlib.compressobj(9, zlib.DEFLATED, -15)
    kernel_data = bytes(4 << 20)
    kernel = packer.compress(kernel_data) + packer.flush()
    name = b"xl/media/a.bin"
    local = struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, 8, 0, 0x21, zlib.crc32(kernel_data), len(kernel),
                        len(kernel_data), len(name), 0) + name  # fmt: skip
    stream.write(local + kernel)
    start = stream.tell()
    for number in range(200):
        entry = b"xl/media/%03d.bin" % number
        sizes = (zlib.crc32(kernel_data), len(kernel), len(kernel_data), len(entry))
        fixed = struct.pack("<4s4B4H", b"PK\x01\x02", 20, 0, 20, 0, 0, 8, 0, 0x21)
        stream.write(fixed + struct.pack("<3L5H2L", *sizes, 0, 0, 0, 0, 0, 0) + entry)
    size = stream.tell() - start
    stream.write(struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 200, 200, size, start, 0))
    path = tmp_path / "overlap.xlsx"
    path.write_bytes(stream.getvalue())
    refused(path, "overlap")
