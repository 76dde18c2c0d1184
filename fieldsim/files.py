"""Write files whole or not at all: under a passing name beside the place, then moved there.

An existing file is replaced; anything that goes wrong leaves it as it was.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator, Sequence
from pathlib import Path

from fieldsim.errors import FileTroubleError

__all__ = ["ending_of", "place_for", "written_whole"]


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


def place_for(path: str | os.PathLike[str]) -> Path:
    """Return where a file would be written, links followed, if it can be.

    Raises
    ------
    FileTroubleError
        If the folder is missing, or the place is a folder or is protected.
    """
    given = os.fspath(path)
    try:
        place = Path(os.path.realpath(given))
        if not place.parent.is_dir():
            raise FileTroubleError(f"{given}: there is no folder {Path(given).parent}")
        if place.is_dir():
            raise FileTroubleError(f"{given}: this is a folder, not a file")
        if place.exists() and not place.is_file():
            raise FileTroubleError(f"{given}: this is a device or pipe, not a file")
        if place.exists() and not os.access(place, os.W_OK):
            raise FileTroubleError(f"{given}: the existing file is write-protected")
        if not os.access(place.parent, os.W_OK):
            raise FileTroubleError(f"{given}: the folder is write-protected")
    except (OSError, ValueError) as trouble:
        raise _cannot_write(given, trouble) from trouble
    return place


def _cannot_write(given: str, trouble: Exception) -> FileTroubleError:
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
    passing = place.with_name(f".{secrets.token_hex(6)}.part")
    try:
        try:
            yield passing
            passing.replace(place)
        finally:
            passing.unlink(missing_ok=True)
    except (OSError, UnicodeError) as trouble:  # a file's name need not be text, its content must
        raise _cannot_write(os.fspath(path), trouble) from trouble
