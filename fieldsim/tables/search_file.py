"""All machines that a search tried as HDF5, and back, so that a stopped search can go on."""

from __future__ import annotations

import hashlib
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

import fieldsim
from fieldsim.errors import FileTroubleError
from fieldsim.studies.search import Search
from fieldsim.studies.wish import EFFORT, LIGHT, SPEED, WIRE, Wish
from fieldsim.studies.wish_figures import WishFigures
from fieldsim.tables.dataset import Dataset, Dimension, Variable

__all__ = ["WANTED", "load_search", "search_dataset"]

WANTED = {
    LIGHT: ("useful_power_W", 1.0),
    SPEED: ("crank_speed_rad_per_s", -1.0),
    WIRE: ("wire_length_m", -1.0),
    EFFORT: ("crank_torque_Nm", -1.0),
}
"""Name of each want in files, and the sign that makes more of it better."""


def search_dataset(search: Search) -> Dataset:
    """Return what was tried with named dimensions: machine (from 1), path, must.

    ``value`` holds what was changed, as a geometry file has it, ``place`` which of the wish's
    values that is, from 0, ``excess`` by which share of its limit each must is missed; below zero
    it holds.
    """
    wish, figures = search.wish, search.figures
    paths = tuple(each.path for each in wish.varying)
    values = np.array([list(search.values(i).values()) for i in range(len(search))], dtype=object)
    dimensions = [
        Dimension("machine", np.arange(1.0, len(search) + 1)),
        Dimension("path", paths),
    ]
    variables = [
        Variable("value", ("machine", "path"), values.reshape(search.places.shape)),
        Variable("place", ("machine", "path"), search.places.astype(float)),
        Variable("problem", ("machine",), np.array(figures.problems, dtype=object)),
        Variable("fulfils", ("machine",), search.fulfils.astype(float)),
    ]
    for want, column in zip(wish.wants, figures.wanted.T, strict=True):
        name, sign = WANTED[want]
        variables.append(Variable(name, ("machine",), sign * column))
    if wish.musts:
        dimensions.append(Dimension("must", tuple(must.name for must in wish.musts)))
        variables.append(Variable("excess", ("machine", "must"), figures.excess))
    attributes = {"title": wish.machine.title, "wish": _mark(wish)}
    return Dataset(tuple(dimensions), tuple(variables), attributes)


def load_search(path: str | os.PathLike[str], wish: Wish) -> Search:
    """Read what a search of a wish had tried.

    Raises
    ------
    FileTroubleError
        If the file cannot be read, is no table of a search, or one of another wish.
    """
    import h5py

    name = os.fspath(path)
    try:
        if not Path(path).is_file():
            raise FileTroubleError(f"{name}: cannot be read: there is no such file")
        with h5py.File(path, "r") as file:
            if str(file.attrs["wish"]) != _mark(wish):
                raise FileTroubleError(
                    f"{name}: is of another wish, another machine or another version; resume with "
                    "the wish that it was made for, unchanged"
                )
            return _from(file, wish)
    except (AttributeError, LookupError, OSError, RuntimeError, TypeError, ValueError) as error:
        reason = " ".join(str(error).split())[:200]
        raise FileTroubleError(f"{name}: cannot be read as a table of a search: {reason}") from None


def _from(file: Any, wish: Wish) -> Search:
    places = np.asarray(file["place"][()]).astype(np.int64)
    count = len(places)
    columns = [WANTED[want][1] * file[WANTED[want][0]][()] for want in wish.wants]
    excess = file["excess"][()] if wish.musts else np.zeros((count, 0))
    problems = tuple(map(str, file["problem"].asstr()[()]))
    wanted = np.stack(columns, axis=1).astype(float)
    shapes = (places.shape, wanted.shape, excess.shape, (len(problems),))
    asked = (
        (count, len(wish.counts)),
        (count, len(wish.wants)),
        (count, len(wish.musts)),
        (count,),
    )
    if shapes != asked:
        raise ValueError("its columns are not all as long")
    if (places < 0).any() or (places >= np.array(wish.counts)).any():
        raise ValueError("it has values that the wish has not")
    return Search(wish, places, WishFigures(problems, wanted, excess.astype(float)))


def _mark(wish: Wish) -> str:
    """Return what tells one wish from another, wherever its machine's file lies."""
    own = replace(wish, machine=replace(wish.machine, file=""))
    return hashlib.sha256(f"{fieldsim.__version__} {own!r}".encode()).hexdigest()
