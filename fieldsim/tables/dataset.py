"""Tables with named dimensions and units, written as CSV or HDF5.

CSV holds one row a step of the table's first dimension; further dimensions become columns named
``variable[LABEL,...]``. HDF5 holds the same numbers as netCDF-style dimension scales with ``units``
attributes, which ``xarray.open_dataset(file, engine="h5netcdf")`` opens with named dimensions.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.files import ending_of, written_whole
from fieldsim.tables.json_form import picked

__all__ = [
    "TABLE_ENDINGS",
    "Dataset",
    "Dimension",
    "Variable",
    "columns_of",
    "labelled_dataset",
    "over",
    "save_dataset",
    "unit_of",
    "write_dataset",
]

TABLE_ENDINGS = (".csv", ".h5")

_UNIT = re.compile(r"_(V|A|W|ohm|Nm|N|Wb|Hz|H|J|K|kg|m|s|deg|rad)(?:_per_(rad|s))?$")
_SPELT = {"Nm": "N m", "deg": "degree"}


@dataclass(frozen=True, eq=False)
class Dimension:
    """A dimension with its coordinates: numbers with a unit, or labels.

    Parameters
    ----------
    name
        As in files, with the unit at its end where it has one.
    values
        Numbers or labels, one a step.
    """

    name: str
    values: NDArray[np.float64] | tuple[str, ...] = field(repr=False)

    def __len__(self) -> int:
        """Return the number of steps."""
        return len(self.values)


@dataclass(frozen=True, eq=False)
class Variable:
    """Numbers over some dimensions, in the order of ``dimensions``; the name ends in their unit.

    Words, as objects, are allowed too.
    """

    name: str
    dimensions: tuple[str, ...]
    values: NDArray[Any] = field(repr=False)
    description: str = ""
    in_csv: bool = True


@dataclass(frozen=True)
class Dataset:
    """Dimensions and variables; the first dimension is the rows of a CSV."""

    dimensions: tuple[Dimension, ...]
    variables: tuple[Variable, ...]
    attributes: Mapping[str, str | float] = field(default_factory=dict)

    def dimension(self, name: str) -> Dimension:
        """Return the dimension of that name."""
        return {d.name: d for d in self.dimensions}[name]

    def columns(self) -> tuple[list[str], list[list[Any]]]:
        """Return the CSV's column names and columns."""
        rows = self.dimensions[0]
        names, columns = [rows.name], [list(rows.values)]
        for variable in self.variables:
            if not variable.in_csv or rows.name not in variable.dimensions:
                continue
            axis = variable.dimensions.index(rows.name)
            values = np.moveaxis(variable.values, axis, -1)
            others = [self.dimension(d) for d in variable.dimensions if d != rows.name]
            for index in product(*(range(len(d)) for d in others)):
                labels = ",".join(str(d.values[i]) for d, i in zip(others, index, strict=True))
                names.append(f"{variable.name}[{labels}]" if labels else variable.name)
                columns.append(values[index].tolist())
        return names, columns


def unit_of(name: str) -> str:
    """Return the unit that a name ends in, "1" for a plain number.

    Examples
    --------
    >>> unit_of("crank_torque_Nm"), unit_of("steepest_Wb_per_rad"), unit_of("turns")
    ('N m', 'Wb/rad', '1')
    """
    found = _UNIT.search(name)
    if found is None:
        return "1"
    unit = _SPELT.get(found[1], found[1])
    return f"{unit}/{found[2]}" if found[2] else unit


def columns_of(
    rows: Sequence[object | None], names: Sequence[str]
) -> dict[str, NDArray[np.float64]]:
    """Return attributes of results as columns (rows,) by name; NaN where there is none.

    Parameters
    ----------
    rows
        One result a row; None for a row without.
    names
        Of attributes, as in `fieldsim.tables.json_form.picked`.

    Examples
    --------
    >>> columns_of([3 + 4j, None], ["real", "width_m=imag"])["width_m"].tolist()
    [4.0, nan]
    """
    found = [{} if row is None else picked(row, *names) for row in rows]
    keys = [name.partition("=")[0] for name in names]
    return {key: np.array([row.get(key) for row in found], dtype=np.float64) for key in keys}


def over(dimension: str, columns: Mapping[str, NDArray[np.float64]]) -> tuple[Variable, ...]:
    """Return columns as variables over one dimension."""
    return tuple(Variable(name, (dimension,), values) for name, values in columns.items())


def labelled_dataset(
    dimension: str, labels: tuple[str, ...], columns: Mapping[str, NDArray[np.float64]], title: str
) -> Dataset:
    """Return columns of numbers over one dimension of labels.

    Parameters
    ----------
    dimension, labels
        Name of the dimension, and one label a row.
    columns
        Numbers (rows,) by name.
    title
        Of the machine.
    """
    return Dataset((Dimension(dimension, labels),), over(dimension, columns), {"title": title})


def save_dataset(dataset: Dataset, path: str | os.PathLike[str]) -> None:
    """Write a dataset as ``.csv`` or ``.h5`` by its ending; an existing file is replaced.

    Numbers in CSV have as many digits as it takes to read the same floating-point number back; a
    value that does not apply, NaN in HDF5, is an empty cell.

    Raises
    ------
    FileTroubleError
        If the ending is another one or the place cannot be written.
    """
    ending = ending_of(path, TABLE_ENDINGS, "table")
    with written_whole(path) as passing:
        _write_as(ending, dataset, passing)


def write_dataset(dataset: Dataset, path: Path) -> None:
    """Write a dataset to a place where nothing is yet and where a half file does no harm.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    _write_as(ending_of(path, TABLE_ENDINGS, "table"), dataset, path)


def _write_as(ending: str, dataset: Dataset, path: Path) -> None:
    (_write_csv if ending == ".csv" else _write_hdf5)(dataset, path)


def _write_csv(dataset: Dataset, path: Path) -> None:
    names, columns = dataset.columns()
    with path.open("x", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([_cell(value) for value in row] for row in zip(*columns, strict=True))


def _cell(value: str | float) -> str:
    if isinstance(value, str):
        return value
    return "" if math.isnan(value) else repr(float(value))


def _write_hdf5(dataset: Dataset, path: Path) -> None:
    import h5py

    # In memory first: the library can end the whole process when a disk fills up under it.
    image = io.BytesIO()
    with h5py.File(image, "w") as file:
        for key, value in dataset.attributes.items():
            file.attrs[key] = value
        for dimension in dataset.dimensions:
            if isinstance(dimension.values, tuple):
                kind = h5py.string_dtype("utf-8")
                scale = file.create_dataset(
                    dimension.name, data=np.array(dimension.values, dtype=object), dtype=kind
                )
            else:
                scale = file.create_dataset(dimension.name, data=dimension.values)
                scale.attrs["units"] = unit_of(dimension.name)
            scale.make_scale(dimension.name)
        for variable in dataset.variables:
            # Words are objects, numbers are what they are.
            kind = h5py.string_dtype("utf-8") if variable.values.dtype == object else None
            data = file.create_dataset(variable.name, data=variable.values, dtype=kind)
            data.attrs["units"] = unit_of(variable.name)
            if variable.description:
                data.attrs["long_name"] = variable.description
            for axis, name in enumerate(variable.dimensions):
                data.dims[axis].attach_scale(file[name])
    with path.open("xb") as stream:
        stream.write(image.getbuffer())
