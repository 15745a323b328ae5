"""The VBA project of a workbook, written as source only: Excel compiles it when it opens the file.

References
----------
MS-OVBA, Office VBA File Format Structure: 2.2 for the streams, 2.3.1 PROJECT, 2.3.3 PROJECTwm, 2.3.4.1
_VBA_PROJECT without a performance cache, 2.3.4.2 dir.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from xlcalc.hosts.excel.compound import compound_file
from xlcalc.hosts.excel.compression import compressed

CODE_PAGE = "cp1252"
WORKBOOK_CLASS = "00020819-0000-0000-C000-000000000046"
SHEET_CLASS = "00020820-0000-0000-C000-000000000046"

_NAME = "VBAProject"
_IDENTITY = "{917DED54-440B-4FD1-A5C1-74ACF261E600}"
_UNPROTECTED = (
    'CMG="0705D8E3D8EDDBF1DBF1DBF1DBF1"\r\nDPB="0E0CD1ECDFF4E7F5E7F5E7"\r\nGC="1517CAF1D6F9D7F9D706"\r\n'
)
"""No protection, no password, visible; encrypted with the identity above (example in MS-OVBA 3.1.1)."""
_EDITOR = "&H00000001={3832D640-CF90-11CF-8E43-00A0C911005A};VBE;&H00000000\r\n"
_WITHOUT_CACHE = struct.pack("<HHBH", 0x61CC, 0xFFFF, 0, 0)
_WIN64, _ENGLISH = 3, 0x409


@dataclass(frozen=True)
class _Module:
    name: str
    text: str
    document: bool


def vba_project(modules: Mapping[str, str], sheets: Iterable[str], code: str = "") -> bytes:
    """The file vbaProject.bin.

    Parameters
    ----------
    modules : mapping of str to str
        Texts of the modules by name, beginning with their attribute VB_Name.
    sheets : iterable of str
        Code names of the sheets of the workbook.
    code : str
        What the workbook itself runs on its events.
    """
    listed = [
        _document("ThisWorkbook", WORKBOOK_CLASS, code),
        *(_document(name, SHEET_CLASS) for name in sheets),
    ]
    listed += [_Module(name, text, document=False) for name, text in modules.items()]
    streams = {module.name: compressed(module.text.encode(CODE_PAGE)) for module in listed}
    return compound_file(
        {
            "VBA": {**streams, "dir": compressed(_directory(listed)), "_VBA_PROJECT": _WITHOUT_CACHE},
            "PROJECT": _project(listed).encode(CODE_PAGE),
            "PROJECTwm": _names(listed),
        }
    )


def _document(name: str, kind: str, code: str = "") -> _Module:
    """The module that belongs to the workbook or to one of its sheets."""
    attributes = {"Name": f'"{name}"', "Base": f'"0{{{kind}}}"'}
    attributes |= {"GlobalNameSpace": "False", "Creatable": "False", "PredeclaredId": "True"}
    attributes |= {"Exposed": "True", "TemplateDerived": "False", "Customizable": "True"}
    lines = (f"Attribute VB_{key} = {value}\r\n" for key, value in attributes.items())
    return _Module(name, "".join(lines) + code, document=True)


def _project(modules: Iterable[_Module]) -> str:
    listed = list(modules)
    kinds = (f"Document={m.name}/&H00000000" if m.document else f"Module={m.name}" for m in listed)
    return (
        f'ID="{_IDENTITY}"\r\n'
        + "".join(f"{kind}\r\n" for kind in kinds)
        + f'Name="{_NAME}"\r\nHelpContextID="0"\r\nVersionCompatible32="393222000"\r\n{_UNPROTECTED}'
        + f"\r\n[Host Extender Info]\r\n{_EDITOR}\r\n[Workspace]\r\n"
        + "".join(f"{m.name}=0, 0, 0, 0, C\r\n" for m in listed)
    )


def _names(modules: Iterable[_Module]) -> bytes:
    listed = (m.name.encode(CODE_PAGE) + b"\0" + m.name.encode("utf-16-le") + b"\0\0" for m in modules)
    return b"".join(listed) + b"\0\0"


def _directory(modules: Iterable[_Module]) -> bytes:
    listed = list(modules)
    head = [
        _record(0x01, struct.pack("<I", _WIN64)),
        _record(0x02, struct.pack("<I", _ENGLISH)),
        _record(0x14, struct.pack("<I", _ENGLISH)),
        _record(0x03, struct.pack("<H", int(CODE_PAGE.removeprefix("cp")))),
        _record(0x04, _NAME.encode(CODE_PAGE)),
        _record(0x05) + _record(0x40),  # description
        _record(0x06) + _record(0x3D),  # help file
        _record(0x07, struct.pack("<I", 0)),
        _record(0x08, struct.pack("<I", 0)),
        struct.pack("<HIIH", 0x09, 4, 0x65BE0257, 0x11),  # version: major, minor
        _record(0x0C) + _record(0x3C),  # constants of the compiler
        _record(0x0F, struct.pack("<H", len(listed))),
        _record(0x13, struct.pack("<H", 0xFFFF)),
    ]
    return b"".join([*head, *map(_module_record, listed), _record(0x10)])


def _module_record(module: _Module) -> bytes:
    name, wide = module.name.encode(CODE_PAGE), module.name.encode("utf-16-le")
    return b"".join(
        [
            _record(0x19, name) + _record(0x47, wide),
            _record(0x1A, name) + _record(0x32, wide),  # name of the stream
            _record(0x1C) + _record(0x48),  # description
            _record(0x31, struct.pack("<I", 0)),  # where the source begins in the stream
            _record(0x1E, struct.pack("<I", 0)),
            _record(0x2C, struct.pack("<H", 0xFFFF)),
            _record(0x22 if module.document else 0x21),
            _record(0x2B),
        ]
    )


def _record(identity: int, data: bytes = b"") -> bytes:
    return struct.pack("<HI", identity, len(data)) + data
