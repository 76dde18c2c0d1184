"""Write files whole or not at all: under a passing name beside the place, then moved there.

An existing file is replaced; anything that goes wrong leaves it as it was. Where a process was
killed on the way, the next one that writes to the same folder removes what it left there.
"""

from __future__ import annotations

import contextlib
import os
import platform
import re
import secrets
import shutil
import stat
import time
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from fieldsim.errors import FileTroubleError

__all__ = [
    "cannot_write",
    "ending_of",
    "followed",
    "is_passing",
    "passing_place",
    "place_for",
    "read_bytes",
    "sweep",
    "written_whole",
]

# A process is known by its number only on its own computer: a folder may be shared.
_HERE = f"{zlib.crc32(platform.node().encode()):08x}"
_PASSING = re.compile(r"\.fieldsim-([0-9a-f]{8})-(\d{1,10})-[0-9a-f]{12}\.part")
_ABANDONED_S = 86400.0  # where nobody can be asked whether its process lives
_WRITER_WITHIN_S = 2.0


def ending_of(path: str | os.PathLike[str], allowed: Sequence[str], what: str) -> str:
    """Return the lower-case ending of a file name.

    Raises
    ------
    FileTroubleError
        If it is none of ``allowed``.

    Examples
    --------
    >>> ending_of("table.CSV", [".csv", ".h5"], "table")
    '.csv'
    """
    ending = Path(path).suffix.lower()
    if ending not in allowed:
        given = repr(Path(path).suffix) if ending else "nothing"
        raise FileTroubleError(
            f"{os.fspath(path)}: a {what}'s name must end in {_either(allowed)}, not {given}"
        )
    return ending


def _either(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def followed(path: str | os.PathLike[str]) -> Path:
    """Return where a file or folder to be written is, links followed; its folder is there.

    Raises
    ------
    FileTroubleError
        If that folder is missing, or links lead to each other.
    """
    given = os.fspath(path)
    place = Path(os.path.realpath(given))
    if place.is_symlink():
        raise FileTroubleError(f"{given}: this link leads back to itself")
    if not place.parent.is_dir():
        if Path(given).is_symlink():
            raise FileTroubleError(
                f"{given}: this link points to {place}, and there is no folder {place.parent}"
            )
        raise FileTroubleError(f"{given}: there is no folder {Path(given).parent}")
    return place


def place_for(path: str | os.PathLike[str]) -> Path:
    """Return where a file would be written, links followed, if it can be.

    Raises
    ------
    FileTroubleError
        If the folder is missing, or the place is a folder or is protected.
    """
    given = os.fspath(path)
    try:
        place = followed(given)
        if place.is_dir():
            raise FileTroubleError(f"{given}: this is a folder, not a file")
        if place.exists() and not place.is_file():
            raise FileTroubleError(f"{given}: this is a device or pipe, not a file")
        if place.exists() and not os.access(place, os.W_OK):
            raise FileTroubleError(f"{given}: the existing file is write-protected")
        if not os.access(place.parent, os.W_OK):
            raise FileTroubleError(f"{given}: the folder is write-protected")
    except (OSError, ValueError) as trouble:
        raise cannot_write(given, trouble) from trouble
    return place


def cannot_write(given: str, trouble: Exception) -> FileTroubleError:
    """Return the error for a place that the user gave."""
    # A null character in a name is a ValueError.
    reason = getattr(trouble, "strerror", None) or str(trouble)
    return FileTroubleError(f"{given}: cannot be written: {reason}")


@contextlib.contextmanager
def written_whole(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Yield a passing path to write to; on success it takes the place of ``path``.

    Raises
    ------
    FileTroubleError
        As `place_for`, or if the file cannot be written, for instance because the disk is full.
    """
    place = place_for(path)
    sweep(place.parent)
    passing = passing_place(place.parent)
    try:
        try:
            yield passing
            passing.replace(place)
        finally:
            passing.unlink(missing_ok=True)
    except (OSError, UnicodeError) as trouble:  # a file's name need not be text, its content must
        raise cannot_write(os.fspath(path), trouble) from trouble


def passing_place(folder: Path) -> Path:
    """Return a path in a folder for what is being written, marked as this process's."""
    return folder / f".fieldsim-{_HERE}-{os.getpid()}-{secrets.token_hex(6)}.part"


def is_passing(path: Path) -> bool:
    """Return whether a file or folder is one on its way, or left over on its way."""
    return _PASSING.fullmatch(path.name) is not None


def sweep(folder: Path) -> None:
    """Remove what processes that no longer live left in a folder on the way."""
    with contextlib.suppress(OSError):
        for path in list(folder.iterdir()):
            if is_passing(path) and _is_left_over(path):
                if path.is_dir() and not path.is_symlink():
                    shutil.rmtree(path, ignore_errors=True)
                else:
                    path.unlink(missing_ok=True)


def _is_left_over(path: Path) -> bool:
    match = _PASSING.fullmatch(path.name)
    if match is not None and match[1] == _HERE and os.name == "posix":
        try:
            os.kill(int(match[2]), 0)  # asks only
        except (ProcessLookupError, OverflowError):
            return True
        except OSError:
            return False  # somebody else's
        return False
    return time.time() - path.lstat().st_mtime > _ABANDONED_S


def read_bytes(path: str | os.PathLike[str], most: int = -1) -> bytes:
    """Return what a file holds, or its first bytes; a pipe is read if somebody writes to it.

    Parameters
    ----------
    path
        A file, or a pipe.
    most
        Bytes to read at most; all by default.

    Raises
    ------
    OSError
        If it cannot be read, or is a pipe that nobody opens to write within two seconds.
    ValueError
        If no file can have the name.
    """
    if not stat.S_ISFIFO(Path(path).stat().st_mode):
        with Path(path).open("rb") as stream:
            return stream.read(most)
    number = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    with os.fdopen(number, "rb") as stream:
        first = _first_byte(number)
        os.set_blocking(number, True)
        return first + stream.read(most - 1 if most > 0 else most)


def _first_byte(pipe: int) -> bytes:
    """Return the first byte of a pipe, waiting for it only while somebody may write it."""
    patience = time.monotonic() + _WRITER_WITHIN_S
    while True:
        try:
            first = os.read(pipe, 1)
        except BlockingIOError:  # somebody has opened it, and has not written yet
            os.set_blocking(pipe, True)
            return os.read(pipe, 1)
        if first:
            return first
        if time.monotonic() > patience:
            raise OSError("nobody writes to this pipe")
        time.sleep(0.05)
