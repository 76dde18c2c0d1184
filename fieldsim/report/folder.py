"""A report's folder: made whole beside its place and moved there, or replaced file by file.

The folder's own list of files tells an earlier report from a folder with other things in it, and
which of its files a later report no longer has.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path

from fieldsim.errors import FileTroubleError
from fieldsim.files import cannot_write, followed, is_passing, passing_place, sweep
from fieldsim.tables.dataset import Dataset, write_dataset

__all__ = ["LIST_NAME", "folder_for", "save_folder"]

LIST_NAME = "report-files.txt"
_FIRST_LINE = "Files of this fieldsim report; a new report here replaces them."


def folder_for(path: str | os.PathLike[str]) -> Path:
    """Return where a report's folder would be, links followed, if it can be written.

    Parameters
    ----------
    path
        A folder that does not exist yet in one that does, an empty one, or that of an earlier
        report.

    Raises
    ------
    FileTroubleError
        If it is anything else, or protected.
    """
    given = os.fspath(path)
    try:
        if not given:
            raise FileTroubleError("the name of the report's folder is empty")
        place = followed(given)
        if not place.exists():
            if not os.access(place.parent, os.W_OK | os.X_OK):
                raise FileTroubleError(f"{given}: the folder it is to be in is write-protected")
            if len(os.fsencode(place.name)) > os.pathconf(place.parent, "PC_NAME_MAX"):
                raise FileTroubleError(f"{given}: cannot be written: File name too long")
            return place
        if not place.is_dir():
            raise FileTroubleError(f"{given}: this is a file, not a folder for a report")
        if not os.access(place, os.W_OK | os.X_OK):
            raise FileTroubleError(f"{given}: the folder is write-protected")
        others = [path for path in place.iterdir() if not is_passing(path)]
        if others and _earlier_files(place) is None:
            raise FileTroubleError(
                f"{given}: the folder holds other things than an earlier report; give a new or "
                "empty folder"
            )
    except (OSError, ValueError) as trouble:
        raise cannot_write(given, trouble) from trouble
    return place


def save_folder(path: str | os.PathLike[str], files: Mapping[str, bytes | Dataset]) -> None:
    """Write a report's files into its folder.

    Parameters
    ----------
    path
        As for `folder_for`.
    files
        Contents by plain file name; a dataset is written as its name ends, ``.csv`` or ``.h5``.

    Raises
    ------
    FileTroubleError
        As `folder_for`, or if a file cannot be written; a new folder then does not appear, and an
        earlier report stays whole as long as no file of it was replaced yet.
    """
    place = folder_for(path)
    beside = place if place.exists() else place.parent
    sweep(beside)
    passing = passing_place(beside)
    try:
        try:
            passing.mkdir()
            for name, content in files.items():
                if isinstance(content, Dataset):
                    write_dataset(content, passing / name)
                else:
                    (passing / name).write_bytes(content)
            (passing / LIST_NAME).write_bytes(_file_list(files))
            if place.exists():
                _replace_files(place, passing, tuple(files))
            else:
                passing.rename(place)
        finally:
            shutil.rmtree(passing, ignore_errors=True)
    except (OSError, UnicodeError) as trouble:
        raise cannot_write(os.fspath(path), trouble) from trouble


def _replace_files(place: Path, passing: Path, names: tuple[str, ...]) -> None:
    old = _earlier_files(place) or ()
    # Until all is done the list has the old files and the new, so that no end is one too early.
    both = passing / "both"
    both.write_bytes(_file_list({*old, *names}))
    both.replace(place / LIST_NAME)
    for name in names:
        (passing / name).replace(place / name)
    for name in old:
        if name not in names and (place / name).is_file():
            (place / name).unlink()
    (passing / LIST_NAME).replace(place / LIST_NAME)


def _file_list(names: Iterable[str]) -> bytes:
    return "\n".join([_FIRST_LINE, *sorted(names), ""]).encode()


def _earlier_files(place: Path) -> tuple[str, ...] | None:
    """Return the names of an earlier report's files, or None if there is no such report."""
    try:
        lines = (place / LIST_NAME).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeError):
        return None
    if not lines or lines[0] != _FIRST_LINE:
        return None
    return tuple(name for name in lines[1:] if name and Path(name).name == name)
