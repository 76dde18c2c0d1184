"""Flux tables as files: CSV for reading anywhere, HDF5 with names, units and error estimates."""

from __future__ import annotations

import csv
import io
import os
import re
from array import array
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import FileTroubleError
from fieldsim.files import ending_of, read_bytes
from fieldsim.tables.dataset import TABLE_ENDINGS, Dataset, Dimension, Variable, save_dataset
from fieldsim.waveform.flux_table import MOST_NUMBERS, FluxTable

__all__ = ["flux_dataset", "load_flux_table", "save_flux_table"]

_MOST_NAMES = 1000
_MOST_BYTES = 200_000_000
_COLUMN = re.compile(r"linkage_Wb\[([^,\]]+),([^,\]]+)\]")


def flux_dataset(table: FluxTable) -> Dataset:
    """Return the table with named dimensions: rotor angle, coil, rotor."""
    return Dataset(
        dimensions=(
            Dimension("rotor_angle_deg", table.rotor_angle_deg),
            Dimension("coil", table.coils),
            Dimension("rotor", table.rotors),
        ),
        variables=(
            Variable(
                "linkage_Wb",
                ("coil", "rotor", "rotor_angle_deg"),
                table.linkage_Wb,
                "flux linkage of the coil with the rotor",
            ),
            Variable(
                "relative_error",
                ("coil", "rotor"),
                table.relative_error,
                "estimated largest error over the peak-to-peak",
            ),
        ),
        attributes={"title": table.title},
    )


def save_flux_table(table: FluxTable, path: str | os.PathLike[str]) -> None:
    """Write a flux table as ``.csv`` or ``.h5``; linkages read back as the same numbers.

    The error estimates and the title are in HDF5 only: CSV has no place for them.

    Raises
    ------
    FileTroubleError
        If the ending is another one or the place cannot be written.
    """
    save_dataset(flux_dataset(table), path)


def load_flux_table(path: str | os.PathLike[str]) -> FluxTable:
    """Read a flux table that `save_flux_table` wrote.

    Raises
    ------
    FileTroubleError
        If the file cannot be read or is no flux table.
    """
    ending = ending_of(path, TABLE_ENDINGS, "table")
    try:
        return _from_csv(Path(path)) if ending == ".csv" else _from_hdf5(Path(path))
    except (
        ArithmeticError, AttributeError, LookupError, OSError, RuntimeError, TypeError, ValueError,
        csv.Error,
    ) as error:  # fmt: skip
        # The library that reads HDF5 raises most of these for parts of another kind.
        reason = " ".join(str(getattr(error, "strerror", None) or error).split())
    except MemoryError:
        reason = "it needs more memory than there is"
    raise FileTroubleError(f"{os.fspath(path)}: cannot be read as a flux table: {reason}")


def _from_hdf5(path: Path) -> FluxTable:
    import h5py

    if not path.is_file() and path.exists():
        raise ValueError("this is no file")
    with h5py.File(path, "r") as file:
        coils, rotors = (_names(_array(file, kind), kind) for kind in ("coil", "rotor"))
        linkage = _array(file, "linkage_Wb")
        shape = linkage.shape
        if len(shape) != 3 or shape[:2] != (len(coils), len(rotors)):
            raise ValueError(f"linkage_Wb has shape {shape}; it needs (coils, rotors, angles)")
        return _checked(
            coils,
            rotors,
            _numbers(linkage, shape),
            _numbers(_array(file, "rotor_angle_deg"), shape[2:]),
            _numbers(_array(file, "relative_error"), shape[:2]),
            str(file.attrs.get("title", "")),
        )


def _array(file: Any, name: str) -> Any:
    """Return a dataset of an HDF5 file, where links may lead nowhere or to themselves."""
    try:
        return file[name]
    except (LookupError, OSError, RuntimeError) as error:
        raise ValueError(f"{name} cannot be opened: {error}") from error


def _names(data: Any, kind: str) -> tuple[str, ...]:
    """Return the names in an HDF5 dataset."""
    if data.ndim != 1 or not 1 <= data.size <= _MOST_NAMES:
        raise ValueError(f"{kind} must be a list of names")
    return tuple(str(name) for name in data.asstr()[:])


def _numbers(data: Any, shape: tuple[int, ...]) -> NDArray[np.float64]:
    """Return the numbers in an HDF5 dataset, whose shape is looked at before they are loaded."""
    name = data.name.strip("/")
    if data.shape != shape:
        raise ValueError(f"{name} has shape {data.shape}; it needs {shape}")
    if data.dtype.kind not in "fiu":
        raise ValueError(f"{name} must be real numbers")
    if data.size > MOST_NUMBERS:
        raise ValueError(f"{name} has {data.size} numbers; at most {MOST_NUMBERS} are allowed")
    return np.array(data[:], dtype=np.float64)


def _from_csv(path: Path) -> FluxTable:
    text = read_bytes(path, _MOST_BYTES + 1)
    if len(text) > _MOST_BYTES:
        raise ValueError(f"it is larger than {_MOST_BYTES // 1_000_000} MB")
    # By lines, so that the text is decoded bit by bit.
    reader = csv.reader(io.TextIOWrapper(io.BytesIO(text), encoding="utf-8", newline=""))
    header = next(reader, [])
    pairs = [_COLUMN.fullmatch(name) for name in header[1:]]
    if header[:1] != ["rotor_angle_deg"] or not pairs or None in pairs:
        raise ValueError("its first line must be rotor_angle_deg,linkage_Wb[COIL,ROTOR],...")
    names = [(m[1], m[2]) for m in pairs if m is not None]
    coils = tuple(dict.fromkeys(c for c, _ in names))
    rotors = tuple(dict.fromkeys(r for _, r in names))
    if names != [(c, r) for c in coils for r in rotors]:
        raise ValueError("its columns must go through all rotors for each coil in turn")
    numbers = array("d")
    for row in reader:
        if row and len(row) != len(header):
            raise ValueError("its rows must have as many numbers as its first line has names")
        numbers.extend(map(float, row))
    rows = np.array(numbers, dtype=np.float64).reshape(-1, len(header))
    linkage = np.ascontiguousarray(rows[:, 1:].T).reshape(len(coils), len(rotors), -1)
    unknown = np.full((len(coils), len(rotors)), np.nan)
    return _checked(coils, rotors, linkage, rows[:, 0], unknown, "")


def _checked(
    coils: tuple[str, ...],
    rotors: tuple[str, ...],
    linkage: NDArray[np.float64],
    angle_deg: NDArray[np.float64],
    error: NDArray[np.float64],
    title: str,
) -> FluxTable:
    count = linkage.shape[2]
    if count < 4 or not np.allclose(angle_deg, np.arange(count) * 360.0 / count, atol=1e-6):
        raise ValueError("its angles must be equal steps from 0 over one turn, at least four")
    if not np.isfinite(linkage).all():
        raise ValueError("a linkage is not a finite number")
    return FluxTable(coils, rotors, linkage, error, title)
