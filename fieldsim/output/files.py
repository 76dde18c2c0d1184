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

__all__ = ["ending_of", "written_whole"]


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
            f"{os.fspath(path)}: a {what}'s name must end in {' or '.join(allowed)}, not {given}"
        )
    return ending


@contextlib.contextmanager
def written_whole(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Yield a passing path to write to; on success it takes the place of ``path``.

    Raises
    ------
    FileTroubleError
        If the folder is missing, or the place is a folder or cannot be written.
    """
    given = os.fspath(path)
    try:
        place = Path(os.path.realpath(given))
        if not place.parent.is_dir():
            raise FileTroubleError(f"{given}: there is no folder {Path(given).parent}")
        if place.is_dir():
            raise FileTroubleError(f"{given}: this is a folder, not a file")
        if place.exists() and not os.access(place, os.W_OK):
            raise FileTroubleError(f"{given}: the existing file is write-protected")
        passing = place.with_name(f".{secrets.token_hex(6)}.part")
        try:
            yield passing
            passing.replace(place)
        finally:
            passing.unlink(missing_ok=True)
    except (OSError, ValueError) as trouble:  # ValueError: a null character in the name
        reason = getattr(trouble, "strerror", None) or str(trouble)
        raise FileTroubleError(f"{given}: cannot be written: {reason}") from trouble
