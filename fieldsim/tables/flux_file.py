"""Flux tables as files: CSV for reading anywhere, HDF5 with names, units and error estimates."""

from __future__ import annotations

import csv
import os
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import FileTroubleError
from fieldsim.files import ending_of
from fieldsim.tables.dataset import TABLE_ENDINGS, Dataset, Dimension, Variable, save_dataset
from fieldsim.waveform.flux_table import FluxTable

__all__ = ["flux_dataset", "load_flux_table", "save_flux_table"]

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
    except (OSError, LookupError, ValueError, TypeError, AttributeError, csv.Error) as error:
        # The library that reads HDF5 raises most of these for parts of another kind.
        reason = " ".join(str(getattr(error, "strerror", None) or error).split())
        raise FileTroubleError(
            f"{os.fspath(path)}: cannot be read as a flux table: {reason}"
        ) from error


def _from_hdf5(path: Path) -> FluxTable:
    import h5py

    with h5py.File(path, "r") as file:
        coils = tuple(str(n) for n in file["coil"].asstr()[:])
        rotors = tuple(str(n) for n in file["rotor"].asstr()[:])
        return _checked(
            coils,
            rotors,
            np.array(file["linkage_Wb"][:], dtype=np.float64),
            np.array(file["rotor_angle_deg"][:], dtype=np.float64),
            np.array(file["relative_error"][:], dtype=np.float64),
            str(file.attrs.get("title", "")),
        )


def _from_csv(path: Path) -> FluxTable:
    with path.open(newline="", encoding="utf-8") as stream:
        reader = csv.reader(stream)
        header = next(reader, [])
        pairs = [_COLUMN.fullmatch(name) for name in header[1:]]
        if header[:1] != ["rotor_angle_deg"] or not pairs or None in pairs:
            raise ValueError("its first line must be rotor_angle_deg,linkage_Wb[COIL,ROTOR],...")
        lines = [row for row in reader if row]
    names = [(m[1], m[2]) for m in pairs if m is not None]
    coils = tuple(dict.fromkeys(c for c, _ in names))
    rotors = tuple(dict.fromkeys(r for _, r in names))
    if names != [(c, r) for c in coils for r in rotors]:
        raise ValueError("its columns must go through all rotors for each coil in turn")
    if not lines or any(len(row) != len(header) for row in lines):
        raise ValueError("its rows must have as many numbers as its first line has names")
    rows = np.array([[float(v) for v in row] for row in lines], dtype=np.float64)
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
