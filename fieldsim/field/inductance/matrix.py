"""Self and mutual inductance of rectangular windings with finite section, anywhere in space."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.inductance.filament_inductance import MU_0_OVER_4PI
from fieldsim.field.inductance.winding_inductance import (
    TOLERANCE,
    NeumannIntegral,
    neumann_integral,
)
from fieldsim.field.iron.coil_iron import NO_IRON, CoilIron
from fieldsim.field.linkage.winding_sides import sides_of
from fieldsim.machine.placed import PlacedCoil

__all__ = [
    "Inductance",
    "InductanceBook",
    "inductance_matrix",
    "mutual_inductance",
    "self_inductance",
]


_IRON_ERROR = 1e-4  # of what iron adds: real steel differs far more


@dataclass(frozen=True)
class Inductance:
    """An inductance with its estimated error.

    Parameters
    ----------
    value_H
        Positive, for a mutual, if equal currents help each other's flux [H].
    error_H
        By how much the two finest quadratures differ [H].
    """

    value_H: float
    error_H: float


def mutual_inductance(first: PlacedCoil, second: PlacedCoil) -> Inductance:
    """Return the mutual inductance of two coils in any position.

    Parameters
    ----------
    first, second
        The coils; sections may touch. Positive if current along both axes' sense adds flux.

    Returns
    -------
    Inductance
        Value and error [H]. The error is small against the value, except far apart, where it is
        small against the geometric mean of the self-inductances.

    Raises
    ------
    ImpossibleError
        If a coil has a length, build, opening or turns not above zero.

    Notes
    -----
    M = N1 N2 mu0/(4 pi) times the average over both sections of Neumann's double line integral,
    for turns spread evenly over length and build, with the corners that each coil has. Round wire
    and where exactly it lies change a real coil by about 1 %.

    Examples
    --------
    >>> from dataclasses import replace
    >>> coil = PlacedCoil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.04), 0.01, 0.01, 100)
    >>> other = replace(coil, name="b", centre=(0, 0, 0.02))
    >>> round(mutual_inductance(coil, other).value_H * 1e6, 4)
    214.6667
    """
    for coil in (first, second):
        _check(coil)
    integral = neumann_integral(sides_of(first), sides_of(second))
    scale = MU_0_OVER_4PI * first.turns * second.turns
    return Inductance(scale * integral.value_m, scale * integral.error_m)


def self_inductance(coil: PlacedCoil) -> Inductance:
    """Return the self-inductance of a coil.

    Parameters
    ----------
    coil
        Its turns are taken as spread evenly over length and build.

    Returns
    -------
    Inductance
        Value and error [H].

    Raises
    ------
    ImpossibleError
        If the coil has a length, build, opening or turns not above zero.

    Notes
    -----
    The mutual inductance of the winding with itself: the current is taken as spread evenly over the
    section. That real wire is round and insulated changes it by about one part in the number of
    turns.

    Examples
    --------
    >>> coil = PlacedCoil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.04), 0.01, 0.01, 1000)
    >>> round(self_inductance(coil).value_H * 1e3, 5)
    68.98972
    """
    return mutual_inductance(coil, coil)


@dataclass(frozen=True)
class InductanceBook:
    """What is known already of windings and of two that stand to each other as others do.

    Examples
    --------
    >>> from dataclasses import replace
    >>> coil = PlacedCoil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.04), 0.01, 0.01, 1000)
    >>> row = [replace(coil, name=str(i), centre=(0, 0, 0.02 * i)) for i in range(4)]
    >>> book = InductanceBook()
    >>> _ = inductance_matrix(row, book=book)
    >>> len(book.integrals)  # each with itself, and at three distances
    4
    """

    integrals: dict[tuple[float | str, ...], NeumannIntegral] = field(default_factory=dict)

    def integral(self, first: PlacedCoil, second: PlacedCoil, tolerance: float) -> NeumannIntegral:
        """Return the integral between two windings; see `neumann_integral`."""
        key = (tolerance, *_standing(first, second))
        if key not in self.integrals:
            self.integrals[key] = neumann_integral(sides_of(first), sides_of(second), tolerance)
        return self.integrals[key]


def _standing(first: PlacedCoil, second: PlacedCoil) -> tuple[float | str, ...]:
    """Return how two windings stand to each other, with their sizes, rounded."""
    frame = first.frame
    between = frame.T @ (np.array(second.centre) - np.array(first.centre))
    place = np.concatenate([between, (frame.T @ second.frame).ravel()]).round(13) + 0.0
    sizes = ((*c.opening, c.build, c.length, c.corners.value) for c in (first, second))
    return (*place.tolist(), *(value for each in sizes for value in each))


def inductance_matrix(
    coils: Sequence[PlacedCoil],
    iron: CoilIron = NO_IRON,
    tolerance: float = TOLERANCE,
    book: InductanceBook | None = None,
) -> tuple[NDArray[np.float64], float]:
    """Return the inductances of all coils and between all of them.

    Parameters
    ----------
    coils
        The coils, in the order of the rows.
    iron
        Of the machine whose coils these are.
    tolerance
        Of what each pair of sides adds, relative to itself.
    book
        Integrals of other coils, which are not computed again where they come again.

    Returns
    -------
    matrix_H
        Shape (coils, coils) [H]: symmetric, and positive definite for coils that do not fill the
        same place.
    relative_error
        The largest error of an entry over the geometric mean of the two self-inductances.

    Raises
    ------
    ImpossibleError
        If a coil cannot be, or two coils fill the same place.

    Examples
    --------
    >>> from dataclasses import replace
    >>> coil = PlacedCoil("a", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.04, 0.04), 0.01, 0.01, 1000)
    >>> matrix, error = inductance_matrix([coil, replace(coil, centre=(0, 0, 0.02))])
    >>> (matrix * 1e3).round(3).tolist()
    [[68.99, 21.467], [21.467, 68.99]]
    >>> error < 1e-8
    True
    """
    n = len(coils)
    matrix, errors = np.zeros((n, n)), np.zeros((n, n))
    book = InductanceBook() if book is None else book
    for i, coil in enumerate(coils):
        _check(coil)
        for j in range(i + 1):
            integral = book.integral(coils[j], coil, tolerance)
            scale = MU_0_OVER_4PI * coil.turns * coils[j].turns
            matrix[i, j] = matrix[j, i] = scale * integral.value_m
            errors[i, j] = errors[j, i] = scale * integral.error_m
    if n == 0:
        return matrix, 0.0
    if iron:
        added, error = iron.inductance(_IRON_ERROR)
        matrix, errors = matrix + added, errors + error
    root = np.sqrt(np.diag(matrix))
    mean = np.outer(root, root)
    too_close = np.argwhere(np.triu(np.abs(matrix) >= mean * (1 - 1e-9), 1))
    if len(too_close):
        a, b = (coils[k].name for k in too_close[0])
        raise ImpossibleError(f'coils "{a}" and "{b}" fill the same place; move one of them')
    return matrix, float((errors / mean).max())


def _check(coil: PlacedCoil) -> None:
    numbers = {
        "opening": min(coil.opening),
        "length": coil.length,
        "build": coil.build,
        "turns": coil.turns,
    }
    for what, number in numbers.items():
        if not (math.isfinite(number) and number > 0):
            raise ImpossibleError(
                f'coil "{coil.name}": {what} {number:g}; its inductance needs one above zero'
            )
