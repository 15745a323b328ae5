"""The file with the VBA code: read back by olefile and oletools, and held to the examples of the standard."""

from __future__ import annotations

import io
import random
import struct
import warnings

import olefile
import pytest

from xlcalc.hosts.excel.compound import compound_file
from xlcalc.hosts.excel.compression import compressed, decompressed
from xlcalc.hosts.excel.project import vba_project
from xlcalc.hosts.excel.vba import vba_modules
from xlcalc.worksheet.catalogue import FUNCTIONS

with warnings.catch_warnings():  # it uses old names of pyparsing
    warnings.simplefilter("ignore")
    from oletools.olevba import VBA_Parser, decompress_stream

EXAMPLES = {  # MS-OVBA 3.2.1, 3.2.2 and 3.2.3
    b"abcdefghijklmnopqrstuv.": "0119b000616263646566676800696a6b6c6d6e6f70007172737475762e",
    b"#aaabcdefaaaaghijaaaaaklaaamnopqaaaaaaaaaaaarstuvwxyzaaa": (
        "012fb000236161616263646582660070616768696a013808616b6c00306d6e6f70067102700410727374757610"
        "7778797a003c"
    ),
    b"a" * 73: "0103b002614500",
}


@pytest.fixture(scope="module")
def project():
    return vba_project(vba_modules(FUNCTIONS), ["Sheet1", "Sheet2"])


@pytest.mark.parametrize(("text", "container"), EXAMPLES.items())
def test_compression_is_that_of_the_standard(text, container):
    assert decompressed(bytes.fromhex(container)) == text
    assert len(compressed(text)) == len(bytes.fromhex(container))


@pytest.mark.parametrize("length", [0, 1, 4095, 4096, 4097, 12000])
@pytest.mark.parametrize("letters", [2, 256])
def test_compression_is_read_back_by_oletools(length, letters):
    data = bytes(random.Random(length).choices(range(letters), k=length))
    container = compressed(data)
    again = bytes(decompress_stream(bytearray(container))) if length else b""
    assert decompressed(container) == again
    assert again[:length] == data
    assert not again[length:].strip(b"\0")  # a chunk that cannot be compressed is filled up


def test_damaged_container_is_refused():
    for data in (b"", b"\0abc", compressed(b"abc" * 9)[:3] + b"\xff\xff\xff\xff"):
        with pytest.raises((ValueError, struct.error)):
            decompressed(data)


@pytest.mark.parametrize("sizes", [[0], [1, 63, 64, 65], [4095, 4096, 4097], [100_000, 3, 70_000], [600_000]])
def test_compound_file_is_read_back_by_olefile(sizes):
    data = {f"stream {n}": random.Random(n).randbytes(size) for n, size in enumerate(sizes)}
    file = compound_file({"in a storage": data, "plain": b"x" * 5000, **data})
    with olefile.OleFileIO(io.BytesIO(file), raise_defects=olefile.DEFECT_UNSURE) as read:
        assert len(read.listdir()) == 2 * len(data) + 1
        for name, content in data.items():
            assert read.openstream(name).read() == content
            assert read.openstream(["in a storage", name]).read() == content
        assert read.parsing_issues == []
    with pytest.raises(ValueError, match="32 characters"):
        compound_file({"x" * 32: b""})


def test_modules_are_read_back_byte_for_byte(project):
    parser = VBA_Parser("vbaProject.bin", data=project)
    found = {path.removeprefix("VBA/"): text for _, path, _, text in parser.extract_macros()}
    wanted = vba_modules(FUNCTIONS)
    assert {name: found[name] for name in wanted} == wanted
    assert set(found) - set(wanted) == {"ThisWorkbook", "Sheet1", "Sheet2"}


def test_project_is_source_only_and_unprotected(project):
    with olefile.OleFileIO(io.BytesIO(project)) as read:
        assert read.openstream("VBA/_VBA_PROJECT").read() == bytes.fromhex("cc61ffff000000")
        text = read.openstream("PROJECT").read().decode("cp1252")
    lines = dict(line.split("=", 1) for line in text.splitlines() if "=" in line)
    plain = {name: decrypted(lines[name].strip('"'), lines["ID"].strip('"')) for name in ("CMG", "DPB", "GC")}
    assert plain == {"CMG": bytes(4), "DPB": b"\0", "GC": b"\xff"}  # not protected, no password, visible


def decrypted(text, identity):
    """Data of a protected field, MS-OVBA 2.4.3.3."""
    seed, version, key, *rest = bytes.fromhex(text)
    key_of_project = seed ^ key
    assert seed ^ version == 2
    assert key_of_project == sum(identity.encode("ascii")) & 0xFF
    plain, before, second = [], key_of_project, (key, version)
    last = second
    for byte in rest:
        plain.append(byte ^ (last[1] + before & 0xFF))
        last, before = (byte, last[0]), plain[-1]
    ignored = (seed & 6) // 2
    length = int.from_bytes(bytes(plain[ignored : ignored + 4]), "little")
    return bytes(plain[ignored + 4 : ignored + 4 + length])
