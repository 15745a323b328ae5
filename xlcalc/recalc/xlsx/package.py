"""A workbook file: opened with nothing trusted, its formula cells listed, new cached values written.

`WorkbookPackage` owns the bytes. It evaluates nothing; it gives the evaluating side what a workbook library
hides (kinds of arrays, old ranges, stored values) and takes back values by cell.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.files.errors import UnsafePartError, WorkbookFileError
from xlcalc.files.ownership import BLANK_SEAL, SEAL_LENGTH, sealed, without_seal
from xlcalc.files.writing import HeldTarget, Snapshot, check_target, claim, write_in_place
from xlcalc.recalc.xlsx.archive.container import DEFAULT_LIMITS, Container, Limits
from xlcalc.recalc.xlsx.archive.packed import Packed
from xlcalc.recalc.xlsx.archive.xmlparts import check_well_formed, from_utf8, to_utf8, well_formed
from xlcalc.recalc.xlsx.archive.zipcopy import rebuild
from xlcalc.recalc.xlsx.cachedvalues import same_value
from xlcalc.recalc.xlsx.gridvalues import GridValues
from xlcalc.recalc.xlsx.sheet import Sheet
from xlcalc.recalc.xlsx.sheets import WorkbookPart, read_workbook_part
from xlcalc.recalc.xlsx.writing.edits import Changes
from xlcalc.recalc.xlsx.writing.patch import SheetPatch, patch_sheet
from xlcalc.recalc.xlsx.writing.plainpatch import PlainPatch
from xlcalc.recalc.xlsx.writing.reasons_sheet import ReasonRow, reasons_parts

_MAX_STAMP = 1000 + SEAL_LENGTH


class WorkbookPackage:
    """An .xlsx, .xlsm, .xltx or .xltm file, verified.

    Parameters
    ----------
    container : Container
    workbook : WorkbookPart
    sheets : tuple of Sheet
        In the order of the tabs.

    Notes
    -----
    Use `WorkbookPackage.open`. The file is read once; later changes of it are noticed when saving over it.
    """

    def __init__(self, container: Container, workbook: WorkbookPart, sheets: tuple[Sheet, ...]) -> None:
        self._container = container
        self.workbook = workbook
        self.sheets = sheets

    @classmethod
    def open(
        cls, path: Path | str, *, limits: Limits = DEFAULT_LIMITS, check_cells: bool = True
    ) -> WorkbookPackage:
        """Read and verify a workbook.

        Parameters
        ----------
        path : Path or str
        limits : Limits, optional
            Bounds on what is accepted.
        check_cells : bool
            False leaves the cells of plainly written sheets to `Sheet.check` or `Sheet.formulas`.

        Raises
        ------
        WorkbookFileError
            For a file that is not a valid workbook: another format, encrypted, signed, truncated, damaged, or
            made to exhaust or deceive its reader.
        """
        container = Container.open(Path(path), limits)
        workbook = read_workbook_part(container)
        sheets = tuple(Sheet(entry, container) for entry in workbook.sheets)
        for sheet in sheets:
            sheet.check(cells=check_cells)
        return cls(container, workbook, sheets)

    @property
    def path(self) -> Path:
        """The file as the caller named it."""
        return self._container.path

    @property
    def container(self) -> Container:
        """Its members as verified."""
        return self._container

    @property
    def content(self) -> bytes:
        """The file's bytes as verified: read the workbook from these, not from the path again."""
        return self._container.data

    @property
    def date1904(self) -> bool:
        """Whether dates are counted from 1904."""
        return self.workbook.date1904

    @property
    def macro_enabled(self) -> bool:
        """Whether the package may hold macros."""
        return self.workbook.macro_enabled

    @property
    def stamp(self) -> str | None:
        """The stamp of the last recalculation, if there is one."""
        return _stamp_of(self._container)

    @cached_property
    def _by_name(self) -> dict[str, Sheet]:
        return {sheet.name: sheet for sheet in self.sheets}

    def sheet(self, name: str) -> Sheet:
        """Sheet by its exact name.

        Raises
        ------
        InputError
            If there is no such sheet.
        """
        try:
            return self._by_name[name]
        except KeyError:
            raise InputError("sheet", name, "one of " + ", ".join(self._by_name)) from None

    @contextlib.contextmanager
    def claim(self, target: Path | str | None = None) -> Iterator[Claim]:
        """Hold the target (by default the file itself) for a whole run, so that a second run fails at once.

        Raises
        ------
        WorkbookFileError
            If the target cannot be written, is open in a spreadsheet program, or another run holds it.
        """
        named = self.path if target is None else Path(target)
        with claim(named) as held:
            yield Claim(self, held)

    def save(
        self,
        target: Path | str,
        results: Mapping[str, SheetPatch],
        *,
        stamp: str,
        reasons: Sequence[ReasonRow] | None = None,
        reasons_name: str = "Recalculation",
    ) -> int:
        """Write a copy with new cached values; see `Claim.save` for a run that holds its target."""
        with self.claim(target) as held:
            return held.save(results, stamp=stamp, reasons=reasons, reasons_name=reasons_name)

    def check_target(self, target: Path | str) -> None:
        """Raise now what a save to this target would raise before writing."""
        check_target(Path(target))

    def pieces(
        self,
        results: Mapping[str, SheetPatch],
        *,
        stamp: str,
        reasons: Sequence[ReasonRow] | None = None,
        reasons_name: str = "Recalculation",
        changes: Changes | None = None,
    ) -> tuple[Iterator[bytes], int]:
        """The new file's bytes in pieces, and how many formula cells have another value in it.

        Raises
        ------
        InputError
            For a value, cell or sheet that cannot be written (nothing has been yielded then), and for a stamp
            that is not short printable ASCII.
        """
        _check_stamp(stamp)
        replaced: dict[str, bytes | Packed] = {}
        changed = 0
        for name, patch in results.items():
            sheet = self.sheet(name)
            packed, edits = self._patched(sheet, patch)
            changed += edits
            if packed is not None:
                replaced[sheet.entry.part] = packed
        added: dict[str, bytes] = {}
        if reasons is not None:
            extra = reasons_parts(self._container, self.workbook, reasons, reasons_name)
            for parts, new in ((replaced, extra.replaced), (added, extra.added)):
                parts.update({name: b"".join(self._container.written([xml])) for name, xml in new.items()})
        removed = set() if changes is None else self._change(replaced, changes)
        return rebuild(self._container, replaced, added, stamp.encode("ascii"), removed), changed

    def _change(self, replaced: dict[str, bytes | Packed], changes: Changes) -> set[str]:
        """Make changes of parts, on top of what replaces them already; the parts that go."""
        for part, made in changes.parts.items():
            if part in changes.removed:
                continue
            held = replaced.get(part)
            stored = held.unpacked() if isinstance(held, Packed) else held
            original = self._container.read(part) if stored is None else stored
            data, encoding = to_utf8(original)
            new = data
            for change in made:
                new = change(new)
            if new != data:
                content = from_utf8(new, encoding)
                try:
                    check_well_formed(content)
                except UnsafePartError as error:
                    raise self._container.fail(f"the part {part!a} cannot be changed: {error}") from None
                replaced[part] = self._packed(part, [content])
        return changes.removed

    def with_sheets(self, sheets: Mapping[str, bytes]) -> Iterator[bytes]:
        """The bytes of a file in which sheets, by name, have other XML."""
        written = self._container.written
        replaced = {self.sheet(name).entry.part: b"".join(written([xml])) for name, xml in sheets.items()}
        return rebuild(self._container, replaced, {}, b"")

    def _packed(self, part: str, pieces: Iterable[bytes]) -> Packed:
        container = self._container
        return Packed.of(container.written(pieces), container.archive.getinfo(part).compress_type)

    def _patched(self, sheet: Sheet, patch: SheetPatch) -> tuple[Packed | None, int]:
        """The sheet with its new values, None where it stays as it is; and how many values differ."""
        try:
            if isinstance(patch.values, GridValues) and not patch.spills and sheet.looks_plain:
                plain = PlainPatch(patch.values, sheet.name)
                packed = self._packed(sheet.entry.part, well_formed(plain.pieces(sheet.stream())))
                return packed if plain.edits else None, plain.changed
            data, encoding = sheet.data, sheet.encoding
            formulas = sheet.formulas
            content = patch_sheet(data, formulas, sheet.scan, patch, sheet.name)
            if content is data:
                return None, 0
            values = patch.values
            changed = sum(
                not same_value(cell.cached, new)
                for cell in formulas
                if (new := values.get(cell.position)) is not None
            )
            content = from_utf8(content, encoding)
            check_well_formed(content)
        except UnsafePartError as error:
            raise self._container.fail(f"the sheet {sheet.name!r} cannot be changed: {error}") from None
        return self._packed(sheet.entry.part, [content]), changed


class Claim:
    """A target held by one run."""

    def __init__(self, package: WorkbookPackage, held: HeldTarget) -> None:
        self._package = package
        container = package._container
        self._in_place = held.real == container.path.resolve()
        self._held = replace(held, found=container.snapshot) if self._in_place else held

    def save(
        self,
        results: Mapping[str, SheetPatch],
        *,
        stamp: str,
        reasons: Sequence[ReasonRow] | None = None,
        reasons_name: str = "Recalculation",
        changes: Changes | None = None,
    ) -> int:
        """Write the workbook with new cached values, all of it or nothing.

        Parameters
        ----------
        results : mapping of sheet name to SheetPatch
        stamp : str
            Short ASCII text with version and date, kept as the comment of the zip archive so that every part
            stays as it was.
        reasons : sequence of ReasonRow, optional
            Also add a sheet that lists them, or refresh the one of an earlier run.
        reasons_name : str, optional
            Name of that sheet; a number is added where another sheet has it.
        changes : Changes, optional
            Changes of parts beyond these values.

        Returns
        -------
        int
            How many formula cells have another value than before.

        Raises
        ------
        InputError
            For a value, cell or sheet that cannot be written.
        WorkbookFileError
            If the file cannot be written, or was changed by another program since it was opened.
        """
        _check_stamp(stamp)
        package = self._package
        self._check_unchanged()
        seal = "" if self._in_place else BLANK_SEAL
        pieces, changed = package.pieces(
            results, stamp=stamp + seal, reasons=reasons, reasons_name=reasons_name, changes=changes
        )
        write_in_place(self._held, sealed(pieces) if seal else pieces)
        return changed

    def _check_unchanged(self) -> None:
        """Before the work of packing; the same is checked again at the last moment."""
        if self._in_place and Snapshot.if_there(self._held.real) not in (None, self._held.found):
            raise WorkbookFileError(
                self._held.named, "another program changed the workbook during this run; start again"
            )


def _check_stamp(stamp: str) -> None:
    if not (stamp.isascii() and stamp.isprintable() and 0 < len(stamp) <= _MAX_STAMP):
        raise InputError("stamp", stamp, f"1 to {_MAX_STAMP} printable ASCII characters")


def read_stamp(path: Path | str) -> str | None:
    """Version and date of the last recalculation of a workbook; None where it never was recalculated.

    Raises
    ------
    WorkbookFileError
        If the file is not a sound package.
    """
    return _stamp_of(Container.open(Path(path)))


def _stamp_of(container: Container) -> str | None:
    comment = container.archive.comment
    return without_seal(comment.decode("ascii", errors="replace")) if comment else None
