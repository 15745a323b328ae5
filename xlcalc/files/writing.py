"""Putting a finished file in place: all of it or none of it, one run at a time."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from xlcalc.files.errors import WorkbookFileError

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_BUSY = {errno.EAGAIN, errno.EACCES, errno.EWOULDBLOCK, errno.EDEADLK}


@dataclass(frozen=True)
class Snapshot:
    """Size and time of a file when it was read, to notice that another program changed it since."""

    size: int
    modified_ns: int
    inode: int

    @classmethod
    def of(cls, path: Path) -> Snapshot:
        """State of a file now."""
        status = path.stat()
        return cls(status.st_size, status.st_mtime_ns, status.st_ino)

    @classmethod
    def if_there(cls, path: Path) -> Snapshot | None:
        """State of a file now, None where there is none."""
        try:
            return cls.of(path)
        except OSError:
            return None


@dataclass(frozen=True)
class HeldTarget:
    """A target held by one run.

    Parameters
    ----------
    named, real : Path
        The name to use in messages, and the place with links resolved.
    found : Snapshot or None
        The file that is to be replaced; None where there was none.
    """

    named: Path
    real: Path
    found: Snapshot | None


def lock_path(target: Path) -> Path:
    """File that marks a running recalculation of a target."""
    return target.with_name(f".{target.name}.xlcalc-lock")


def part_path(target: Path) -> Path:
    """File beside a target that takes the result until it is complete."""
    return target.with_name(f".{target.name}.xlcalc-part")


def check_target(target: Path) -> Path:
    """Real place of a target, checked before any work is done for it.

    Returns
    -------
    Path
        The target with links resolved.

    Raises
    ------
    WorkbookFileError
        If it is a folder or no ordinary file, cannot be written, or is open in a spreadsheet program.
    """
    try:
        real = target.resolve()
        _check_folder(target, real)
        if real.exists():
            _check_existing(target, real)
    except (OSError, ValueError, RuntimeError) as error:
        raise WorkbookFileError(target, f"nothing can be written there ({error})") from None
    _check_closed(target, real)
    return real


def _check_closed(target: Path, real: Path) -> None:
    for mark in (real.with_name(f"~${real.name}"), real.with_name(f".~lock.{real.name}#")):
        if os.path.lexists(mark):
            raise WorkbookFileError(
                target,
                "the workbook is open in a spreadsheet program; close it there, or write to another file "
                f"(if no program has it open, delete the left-over file {mark.name})",
            )


@contextlib.contextmanager
def claim(target: Path) -> Iterator[HeldTarget]:
    """Hold a target for one run; the lock goes with the process, however it ends.

    Raises
    ------
    WorkbookFileError
        If another run holds the target, or `check_target` refuses it.
    """
    real = check_target(target)
    lock = lock_path(real)
    handle = _take(target, lock)
    try:
        yield HeldTarget(target, real, Snapshot.if_there(real))
    finally:
        if sys.platform == "win32":
            os.close(handle)
            with contextlib.suppress(OSError):
                lock.unlink()
        else:
            with contextlib.suppress(OSError):
                lock.unlink()
            os.close(handle)


def write_file(target: Path, pieces: Iterable[bytes]) -> None:
    """Hold a target and write it; raises as `claim` and `write_in_place`."""
    write_files({target: pieces})


def write_files(contents: Mapping[Path, Iterable[bytes]]) -> None:
    """Write several files that belong together: all are on disk before the first gets its name.

    Raises
    ------
    WorkbookFileError
        As `claim` and `write_in_place`, for any of them.
    """
    with contextlib.ExitStack() as stack:
        held = [stack.enter_context(claim(target)) for target in contents]
        _write(list(zip(held, contents.values(), strict=True)))


def write_in_place(held: HeldTarget, pieces: Iterable[bytes]) -> None:
    """Write beside a claimed target, make sure that it is on disk, then rename.

    Parameters
    ----------
    held : HeldTarget
        What `claim` gave, or the same with the file that was read in place of the one found.
    pieces : iterable of bytes
        The file.

    Raises
    ------
    WorkbookFileError
        If anything fails, or another program wrote or opened the target meanwhile; the target is then as it
        was and the part written is removed.
    """
    _write([(held, pieces)])


def _write(files: Sequence[tuple[HeldTarget, Iterable[bytes]]]) -> None:
    parts = [part_path(held.real) for held, _ in files]
    named = files[0][0].named
    try:
        for part, (held, pieces) in zip(parts, files, strict=True):
            named = held.named
            _write_part(part, held, pieces)
        for held, _ in files:
            _check_still(held)
        for part, (held, _) in zip(parts, files, strict=True):
            named = held.named
            _check_still(held)
            part.replace(held.real)
    except OSError as error:
        _discard(parts)
        raise WorkbookFileError(named, _words(error)) from None
    except BaseException:
        _discard(parts)
        raise
    for folder in {held.real.parent for held, _ in files}:
        _sync_folder(folder)


def _write_part(part: Path, held: HeldTarget, pieces: Iterable[bytes]) -> None:
    with contextlib.suppress(FileNotFoundError):
        part.unlink()
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    with os.fdopen(handle, "wb") as stream:
        for piece in pieces:
            stream.write(piece)
        stream.flush()
        os.fsync(stream.fileno())
        _keep_metadata(held.real, stream.fileno())


def _check_still(held: HeldTarget) -> None:
    """Refuse where another program opened or wrote the target since it was found."""
    _check_closed(held.named, held.real)
    if Snapshot.if_there(held.real) != held.found:
        what = "changed the workbook" if held.found else "wrote a file of this name"
        raise WorkbookFileError(held.named, f"another program {what} during this run; start again")


def _discard(parts: Iterable[Path]) -> None:
    for part in parts:
        with contextlib.suppress(OSError):
            part.unlink()


def _words(error: OSError) -> str:
    if error.errno in _FULL:
        return "the disk is full, or a size limit was reached; nothing was changed"
    if isinstance(error, PermissionError):
        return (
            "the file or its folder may not be written, or another program holds it open; nothing was changed"
        )
    if error.errno == errno.EROFS:
        return "the folder is on a read-only disk; nothing was changed"
    return f"the result cannot be written ({error.strerror or error}); nothing was changed"


def _check_folder(target: Path, real: Path) -> None:
    folder = real.parent
    if not folder.is_dir():
        raise WorkbookFileError(target, "its folder does not exist")
    if not folder.stat().st_mode & 0o222 or not os.access(folder, os.W_OK):
        raise WorkbookFileError(target, "its folder is read-only; write to another folder")


def _check_existing(target: Path, real: Path) -> None:
    mode = real.stat().st_mode
    if stat.S_ISDIR(mode):
        raise WorkbookFileError(target, "this is a folder, not a file")
    if not stat.S_ISREG(mode):
        raise WorkbookFileError(target, "this is not an ordinary file")
    if not mode & 0o222 or not os.access(real, os.W_OK):
        raise WorkbookFileError(target, "the file is read-only; write to another file")


def _take(target: Path, lock: Path) -> int:
    while True:
        try:
            handle = os.open(lock, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o600)
        except OSError as error:
            raise WorkbookFileError(target, _words(error)) from None
        try:
            _lock(handle)
        except OSError as error:
            os.close(handle)
            if error.errno not in _BUSY:
                raise WorkbookFileError(target, f"it cannot be locked ({error.strerror})") from None
            raise WorkbookFileError(
                target, "another run is recalculating this workbook; wait until it ends"
            ) from None
        if _is_current(handle, lock):
            return handle
        os.close(handle)


def _is_current(handle: int, lock: Path) -> bool:
    """Whether the locked file still has its name: the run before may have removed it meanwhile."""
    try:
        return os.path.samestat(os.fstat(handle), lock.stat())
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

    def _keep_metadata(real: Path, handle: int) -> None:
        return

    def _sync_folder(folder: Path) -> None:
        return

else:
    import fcntl

    def _lock(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _keep_metadata(real: Path, handle: int) -> None:
        """Permissions, owner and extended attributes of the file that is replaced."""
        try:
            old = real.stat()
        except FileNotFoundError:
            return
        with contextlib.suppress(OSError):
            os.fchown(handle, old.st_uid, old.st_gid)
        os.fchmod(handle, stat.S_IMODE(old.st_mode))
        if hasattr(os, "listxattr"):
            with contextlib.suppress(OSError):
                for name in os.listxattr(real):
                    os.setxattr(handle, name, os.getxattr(real, name))

    def _sync_folder(folder: Path) -> None:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
