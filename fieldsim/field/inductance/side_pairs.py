"""Pairs of sides of two windings, by the numbers that the integral between them depends on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.inductance.filament_inductance import (
    PARALLEL_SINE,
    parallel_integral_m,
    skew_integral_m,
)
from fieldsim.field.inductance.sheet_inductance import SheetPair
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.winding_sides import WindingSides

__all__ = ["Orders", "SidePair", "edges_parallel", "filament_averages_m", "side_pairs"]

Array = NDArray[np.float64]
Orders = tuple[int, int, int, int]

_RIGHT_ANGLE = 1e-13  # cosine of directions that do not couple


@dataclass(frozen=True)
class SidePair:
    """Two sides in any position, by what the integral between their filaments depends on.

    Parameters
    ----------
    cosine, sine
        Of the angle between the sides.
    offset, outward1, axial1, outward2, axial2
        The vector from the middle of the second side's inner face to that of the first [m], and
        the directions of build and axis of each, in components along the first side, the second
        side and the common perpendicular; for parallel sides along the first side, outward
        through its build and along its axis.
    half1, half2
        Half lengths at the inner faces [m].
    section1, section2
        Build and length [m].
    growth
        Of the half lengths with the depth: 1 up to the diagonals of sharp corners, 0 for straight
        parts alone.
    """

    cosine: float
    sine: float
    offset: tuple[float, ...]
    outward1: tuple[float, ...]
    axial1: tuple[float, ...]
    outward2: tuple[float, ...]
    axial2: tuple[float, ...]
    half1: float
    half2: float
    section1: tuple[float, float]
    section2: tuple[float, float]
    growth: float = 1.0

    @property
    def is_skew(self) -> bool:
        """Whether the sides are not parallel."""
        return self.sine > PARALLEL_SINE

    def key(self, scale_m: float) -> tuple[float, ...]:
        """Return the numbers that set the integral, rounded so that equal pairs agree."""
        # The axes need no mention: each stands on its side's direction and its build's.
        offset = tuple(x / scale_m for x in self.offset)
        vectors = np.array([offset, self.outward1, self.outward2]).round(13)
        # Mirrored in the plane of the first two directions the pair is the same: the first third
        # component that would tell is made positive.
        third = vectors[:, 2]
        if np.any(third) and third[np.flatnonzero(third)[0]] < 0:
            vectors[:, 2] = -third
        halves = (round(x / scale_m, 13) for x in (self.half1, self.half2))
        return (round(self.cosine, 13), *(vectors + 0.0).ravel().tolist(), *halves)

    def sheets(self) -> SheetPair:
        """Return the pair as sheets; their edges must be parallel."""
        size = self.half1 + self.half2 + max(abs(x) for x in self.offset)
        along, outward, axial = (0.0 if abs(x) < 1e-14 * size else x for x in self.offset)
        return SheetPair(
            (abs(along), outward, abs(axial)),  # even in these two
            1 if self.outward2[1] > 0 else -1,
            self.half1,
            self.half2,
            self.section1[0],
            self.section2[0],
            self.section1[1],
            self.section2[1],
            self.growth,
        )


def side_pairs(
    first: WindingSides, second: WindingSides, growth: float = 1.0
) -> Iterator[tuple[int, int, SidePair]]:
    """Yield the pairs of sides that are not at right angles, with their numbers."""
    e, g = first.frame[:, 0], second.frame[:, 0]
    cosine = e @ g.T
    normal = np.cross(e[:, None], g[None, :])
    sine = np.linalg.norm(normal, axis=-1)
    for i, j in np.argwhere(np.abs(cosine) > _RIGHT_ANGLE).tolist():
        if sine[i, j] > PARALLEL_SINE:
            basis = np.array([e[i], g[j], normal[i, j] / sine[i, j]])
        else:
            basis = first.frame[i]
        offset = first.middle_m[i] - second.middle_m[j]
        vectors = np.array([offset, *first.frame[i, 1:], *second.frame[j, 1:]])
        parts = [tuple(row) for row in (vectors @ basis.T).tolist()]
        yield (
            i,
            j,
            SidePair(
                cosine=float(cosine[i, j]),
                sine=float(sine[i, j]),
                offset=parts[0],
                outward1=parts[1],
                axial1=parts[2],
                outward2=parts[3],
                axial2=parts[4],
                half1=float(first.half_m[i]),
                half2=float(second.half_m[j]),
                section1=(first.build_m, first.length_m),
                section2=(second.build_m, second.length_m),
                growth=growth,
            ),
        )


def edges_parallel(first: WindingSides, second: WindingSides) -> bool:
    """Return whether axes are parallel and sides are parallel or at right angles."""
    turn = np.abs(first.frame[0] @ second.frame[0].T)
    return bool(np.all((turn < PARALLEL_SINE) | (turn > 0.9)) and turn[2, 2] > 0.9)


def filament_averages_m(pairs: Sequence[SidePair], orders: Orders) -> Array:
    """Return the integrals of 1/R along both sides, averaged over both sections by Gauss-Legendre.

    Parameters
    ----------
    pairs
        Of the same two windings, all parallel or all not.
    orders
        Over build and length of the first section, build and length of the second.

    Returns
    -------
    ndarray
        Shape (pairs,) [m].
    """
    (b1, l1), (b2, l2) = pairs[0].section1, pairs[0].section2
    rules = [gauss_legendre(n) for n in orders]
    u1 = (b1 / 2 * (1 + rules[0][0])).reshape(-1, 1, 1, 1)
    w1 = (l1 / 2 * rules[1][0]).reshape(-1, 1, 1)
    u2 = (b2 / 2 * (1 + rules[2][0])).reshape(-1, 1)
    w2 = l2 / 2 * rules[3][0]

    # (5, 3, pairs, 1, 1, 1, 1): which vector, its component, then room for the two sections
    vectors = np.array([[p.offset, p.outward1, p.axial1, p.outward2, p.axial2] for p in pairs])
    offset, outward1, axial1, outward2, axial2 = vectors.transpose(1, 2, 0)[
        ..., None, None, None, None
    ]

    def component(k: int) -> Array:
        first = offset[k] + u1 * outward1[k] + w1 * axial1[k]
        return np.asarray(first - (u2 * outward2[k] + w2 * axial2[k]))

    def column(name: str) -> Array:
        return np.array([getattr(pair, name) for pair in pairs]).reshape(-1, 1, 1, 1, 1)

    growth = pairs[0].growth
    h1, h2 = column("half1") + growth * u1, column("half2") + growth * u2
    if pairs[0].is_skew:
        cosine, sine = column("cosine"), column("sine")
        values = skew_integral_m(component(0), component(1), component(2), cosine, sine, h1, h2)
    else:
        values = parallel_integral_m(offset[0], np.hypot(component(1), component(2)), h1, h2)
    for _, weights in reversed(rules):
        values = values @ weights / 2
    return values
