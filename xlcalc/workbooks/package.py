"""Writing a template so that the same content is the same bytes."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook

TEMPLATE_DATE = datetime(2026, 1, 1)
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def save(book: Workbook, path: Path) -> None:
    """Save with fixed times of creation and change."""
    book.properties.created = TEMPLATE_DATE
    buffer = io.BytesIO()
    book.save(buffer)
    path.write_bytes(settled(buffer.getvalue()))


def settled(package: bytes) -> bytes:
    """The same members in the same order, without any trace of the time of writing."""
    stamp = TEMPLATE_DATE.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(package)) as source,
        zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        target.comment = source.comment
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>" + stamp + rb"\g<2>", content)
            member = zipfile.ZipInfo(name, TEMPLATE_DATE.timetuple()[:6])
            member.compress_type = zipfile.ZIP_DEFLATED
            member.external_attr = 0o600 << 16
            member.create_system = 0
            target.writestr(member, content)
    return result.getvalue()
