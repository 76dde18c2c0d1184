"""One inductance, resistance or impedance that stands for joined coils."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.machine.connections import CoilRef, InSeries, Source

__all__ = [
    "equivalent_impedance_ohm",
    "equivalent_resistance_ohm",
]

Array = NDArray[np.float64]


def equivalent_impedance_ohm(
    source: Source, names: Sequence[str], impedance_ohm: ArrayLike
) -> NDArray[Any]:
    """Return the impedance between the ends of joined coils.

    Parameters
    ----------
    source
        The joined coils.
    names
        Of the coils, in the order of the matrix.
    impedance_ohm
        Symmetric matrix, shape (..., coils, coils): ``diag(R) + 1j w L`` at an angular frequency w,
        or one of its parts.

    Returns
    -------
    ndarray
        Shape (...), real if the matrix is.

    Notes
    -----
    With one ampere through the ends, the coils' currents are ``d + F c``: ``d`` one way for it to
    pass, the columns of ``F`` circulations inside parallel groups. Voltages round those are zero:
    ``F.Z (d + F c) = 0``; then ``Z_eq = d.Z (d + F c)``. Coils that are not part of the source
    carry no current.

    Examples
    --------
    >>> from fieldsim.machine.connections import InParallel
    >>> both = InParallel((CoilRef("a"), CoilRef("b")))
    >>> round(float(equivalent_impedance_ohm(both, ["a", "b"], [[30.0, 0.0], [0.0, 60.0]])), 9)
    20.0
    """
    Z = np.asarray(impedance_ohm)
    through, around = _currents(source, {name: k for k, name in enumerate(names)})
    forced = Z @ through
    value = forced @ through
    if around.shape[1]:
        loops = around.T @ Z @ around
        drive = forced @ around
        circulating = np.linalg.solve(loops, -drive[..., None])[..., 0]
        value = value + (drive * circulating).sum(axis=-1)
    return np.asarray(value)


def equivalent_resistance_ohm(
    source: Source, names: Sequence[str], resistance_ohm: ArrayLike
) -> float:
    """Return the resistance of joined coils to direct current.

    Parameters
    ----------
    source
        The joined coils.
    names, resistance_ohm
        Names of the coils and their resistances, shape (coils,) [ohm].

    Examples
    --------
    >>> pair = InSeries((CoilRef("a"), CoilRef("b", reverse=True)))
    >>> equivalent_resistance_ohm(pair, ["a", "b"], [20.0, 30.0])
    50.0
    """
    R = np.diag(np.asarray(resistance_ohm, dtype=float))
    return float(equivalent_impedance_ohm(source, names, R))


def _currents(source: Source, index: dict[str, int]) -> tuple[Array, Array]:
    """Return coil currents for one ampere through the ends, (coils,), and circulations as columns.

    Raises
    ------
    KeyError
        If a coil of the source has no name in the index.
    """
    if isinstance(source, CoilRef):
        through = np.zeros(len(index))
        through[index[source.coil]] = 1.0
        around = np.zeros((len(index), 0))
    else:
        parts = [_currents(member, index) for member in source.members]
        around = np.hstack([part[1] for part in parts])
        ways = np.array([part[0] for part in parts])
        if isinstance(source, InSeries):
            through = ways.sum(axis=0)
        else:
            through = ways[0]
            around = np.hstack([around, (ways[1:] - through).T])
    return (-through if source.reverse else through), around
