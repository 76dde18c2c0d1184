"""Linkage curves of magnets and square-standing windings, by harmonics about the shaft.

**The idea.** Where an edge of a rectangular winding lies along the shaft, its points run through a
rectangle of (rho, z), distance from the shaft and height, as the magnet turns; only their angle phi
about the shaft changes relative to it. So the magnet's vector potential A is needed on a few nodes
(rho, z) only, at equal steps of angle from the magnet's arm. Its Fourier series there, interpolated
to every point of the winding, meets the winding's own harmonics W, which are pure geometry:

    linkage(angle) = sum over m of exp(-i m angle) sum over components c and nodes n of
                     A[c, n, m] W[c, n, m],
    W[c, n, m] = mean over the section of the integral round the turn of t_c exp(i m phi) L_n dl,

t_c being the turn's direction in polar components and L_n the node's Lagrange polynomial. Three
dimensions of quadrature become two of interpolation.

**The frame.** Rotor coordinates: z along the shaft, phi = 0 along the magnet's arm.

**The steps.** The winding, side by side, is a few rectangles (`ring_patches`). Nodes on them are
Gauss-Legendre in rho and z, fewer for the far half of the turn (`ring_nodes`).

1. Nodes. A at few angles (`ring_potential`) on a rough grid and on a finer one meets W
   (`ring_winding`). The linkages differ by about the rough grid's error, several times the finer
   one's: that difference is stated, and more where the differences fall slowly. As long as it is
   too large, the next grid is a fifth finer.
2. Angles. A on the last grid at more angles, always multiples, until the Fourier series holds: what
   half and a quarter of the angles give tells what is still wrong (`curve.aliasing`).

Curves that need about as many nodes and angles are made together, a row each; each goes on from
step to step until it holds, those that hold already are not waited for.

**The law.** Where to start, for nodes and for angles, is foretold by ``n**-power exp(-rate n)`` and
a margin: `ring_nodes.Law`. The checks make up for what it does not know.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.curve import (
    ROUNDING,
    TrackCurve,
    aliasing,
    least_swing_m2,
    orders_wanted,
    rounding_m2,
    widest,
)
from fieldsim.field.linkage.ring_division import divided
from fieldsim.field.linkage.ring_nodes import (
    MOST_NODES,
    Counts,
    Grid,
    finer,
    foretold_counts,
    grid_on,
    orders_checked,
    orders_that_matter,
    parts_of_error,
)
from fieldsim.field.linkage.ring_patches import Patch, ring_patches
from fieldsim.field.linkage.ring_potential import folded, potentials, spectrum
from fieldsim.field.linkage.ring_wound import Wound, wound_on
from fieldsim.field.linkage.rings import Rings, Which, kind, rings_of
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

__all__ = ["half_turn", "linkage_of", "quick_ring_curves", "ring_curves"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_FIRST = 16  # steps of half a turn of the first look; every finer set holds them
_MOST = 8192
_NODES_PART = 0.5  # of the error allowed
_ANGLES_PART = 0.3  # of the nodes' error, where that is too large
_NOISE = 10  # times rounding: what differs by less does so by chance
_LEFT_OUT = 0.01  # of a part of the error asked, by orders that are left out
_MOST_POINTS = 8_000_000  # nodes times angles: all values at them are kept
_SPECTRUM = 500_000  # values turned into a spectrum at once
_MARGIN = 1.5  # for what such changes leave to come
_FIRST_CHANGE = 1.25  # times what a finer grid changes first, whose successors are not known
_BEST_RATIO, _WORST_RATIO = 0.2, 0.9  # of one such change to the one before, as far as trusted
_FORETOLD = 200  # rows whose nodes are foretold at once: a thousand orders of each patch
_A_PATCH = 5000  # evaluations that take as long as the calls for a patch
_CALLS = 1000  # evaluations that take as long as the calls which a row among others saves
_TOGETHER = 400_000  # evaluations for rows that are made together


def ring_curves(
    asked: Sequence[tuple[Track, CoilInRotor, float]], error_m2: float = 0.0
) -> list[TrackCurve]:
    """Return the linkage curve of each magnet of 1 T on its track with one turn of its coil.

    Parameters
    ----------
    asked
        A magnet of any shape, a winding with an edge along the shaft, and the largest error asked
        for, relative to the peak-to-peak of their curve.
    error_m2
        Largest error asked for [m²]; the looser of this and the relative one applies.

    Notes
    -----
    What is made together has the nodes and angles that the most demanding of them needs, so that a
    curve may differ by its company, within the errors stated.

    Examples
    --------
    The farther away, the less of its flux a magnet links:

    >>> from fieldsim.machine.magnets import ArmAxis, Cuboid
    >>> coil = CoilInRotor(np.array([0.0, 0.022, 0.0]), np.eye(3), (0.012, 0.008), 0.006, 0.006)
    >>> tracks = [Track(Cuboid((0.02, 0.01, 0.005)), 0.022, z, ArmAxis.SHAFT) for z in (0.01, 0.02)]
    >>> near, far = ring_curves([(track, coil, 1e-4) for track in tracks])
    >>> near.swing_m2 > 2 * far.swing_m2, near.converged and far.converged
    (True, True)
    """
    found = _made(asked, error_m2, math.inf)
    return [found[i] for i in range(len(asked))]


def quick_ring_curves(
    asked: Sequence[tuple[Track, CoilInRotor, float]], most_points: int
) -> list[TrackCurve | None]:
    """Return those of the same curves that are quick to make, None in place of others.

    Parameters
    ----------
    asked
        As for `ring_curves`.
    most_points
        How often a potential may most likely be evaluated for a curve.
    """
    found = _made(asked, 0.0, most_points)
    return [found.get(i) for i in range(len(asked))]


def _made(
    asked: Sequence[tuple[Track, CoilInRotor, float]], error_m2: float, most_points: float
) -> dict[int, TrackCurve]:
    """Return curves by number, those that are foretold to take no more evaluations."""
    found: dict[int, TrackCurve] = {}
    alike: dict[object, list[tuple[int, tuple[Patch, ...]]]] = {}
    for i, (track, coil, _) in enumerate(asked):
        patches = divided(track, ring_patches(track, coil))
        if not patches:
            nothing = np.zeros(2, dtype=np.complex128)
            found[i] = TrackCurve(nothing, rounding_m2(track, coil), 0.0, 2, 0, True)
        elif _A_PATCH * len(patches) <= most_points:
            alike.setdefault(kind(track, patches), []).append((i, patches))
    for members in alike.values():
        for first in range(0, len(members), _FORETOLD):
            rows = _rows(asked, members[first : first + _FORETOLD], error_m2)
            counts = foretold_counts(rows.rings, rows.parts)
            orders = orders_checked(rows.rings, rows.relative)
            for some in _together(counts, orders, most_points):
                steps = int(orders[some].max())
                for known in _nodes_hold(rows.some(some), counts[some].max(axis=0), steps):
                    found |= dict(_angles_hold(known, steps))
    return found


def _together(counts: Counts, orders: Counts, most_points: float) -> Iterator[NDArray[np.intp]]:
    """Yield the numbers of quick rows that take about as many nodes and angles, the most first.

    One joins others where what it then takes too many costs less than the calls that it saves.
    """
    alone = _cost(counts, orders)
    numbers = np.flatnonzero(alone <= most_points)
    if len(numbers) < 2:
        yield from numbers[:, None]
        return
    some: list[int] = []
    for i in numbers[np.argsort(-alone[numbers], kind="stable")].tolist():
        more = [*some, i]
        whole = len(more) * int(_cost(counts[more].max(axis=0), orders[more].max()))
        if some and (whole > alone[more].sum() + _CALLS * len(some) or whole > _TOGETHER):
            yield np.array(some)
            some = []
        some.append(i)
    yield np.array(some)


def _cost(counts: Counts, orders: Counts) -> Counts:
    """Return how many evaluations nodes and angles that are foretold take, half of them far.

    And how many the calls are worth that each patch takes.
    """
    near, far = (counts[..., i] * counts[..., i + 1] for i in (0, 2))
    points = (near + far).sum(axis=-1) * (_FIRST + orders // 2)
    return np.asarray(points + _A_PATCH * counts.shape[-2])


@dataclass(frozen=True, eq=False)
class _Rows:
    """Curves that are made together.

    ``number`` tells whose they are, (rows,); ``parts`` is the relative error that each patch may
    have, (rows, patches), ``relative`` that of the whole; ``least_m2`` is a swing below which
    there is nothing worth resolving, ``rounding_m2`` what rounding leaves, (rows,).
    """

    number: NDArray[np.intp]
    rings: Rings
    parts: Array
    relative: Array
    least_m2: Array
    rounding_m2: Array
    error_m2: float

    def some(self, which: Which) -> _Rows:
        if len(self.number) == 1:
            return self
        return _Rows(
            self.number[which],
            self.rings.some(which),
            self.parts[which],
            self.relative[which],
            self.least_m2[which],
            self.rounding_m2[which],
            self.error_m2,
        )

    def allowed_m2(self, swing_m2: Array) -> Array:
        """Return how large the errors may be."""
        asked = self.relative * np.maximum(swing_m2, self.least_m2)
        return np.maximum(self.error_m2, asked)


def _rows(
    asked: Sequence[tuple[Track, CoilInRotor, float]],
    members: Sequence[tuple[int, tuple[Patch, ...]]],
    error_m2: float,
) -> _Rows:
    """Return some of those that are asked for, of one kind, by number and patches."""
    numbers = [i for i, _ in members]
    rings = rings_of([asked[i][0] for i in numbers], [patches for _, patches in members])
    relative = [asked[i][2] for i in numbers]
    each = zip(rings.patches, rings.singular, relative, strict=True)
    return _Rows(
        np.array(numbers),
        rings,
        np.array([parts_of_error(*one) for one in each]),
        np.array(relative),
        np.array([least_swing_m2(track) for track in rings.tracks]),
        np.array([rounding_m2(*asked[i][:2]) for i in numbers]),
        error_m2,
    )


@dataclass(frozen=True, eq=False)
class _OnNodes:
    """Rows on nodes that hold: values on them, and what is known of their error.

    ``values`` are of each patch at equal steps of half a turn; ``nodes_m2`` is the error that the
    nodes leave, and ``settled`` whether it is as small as asked, (rows,).
    """

    rows: _Rows
    grid: Grid
    wound: Wound
    values: list[Array]
    points: int
    nodes_m2: Array
    settled: NDArray[np.bool_]

    @property
    def steps(self) -> int:
        """How many steps of half a turn the values are at."""
        return int(self.values[0].shape[-1]) - 1

    def some(self, which: Which) -> _OnNodes:
        if len(self.settled) == 1:
            return self
        rows = self.rows.some(which)
        return _OnNodes(
            rows,
            self.grid.some(which),
            self.wound.some(which, rows.rings),
            [value[which] for value in self.values],
            self.points,
            self.nodes_m2[which],
            self.settled[which],
        )

    def at_more_angles(self, factor: int) -> _OnNodes:
        """Return the same at so many times as many angles."""
        if factor < 2:
            return self
        angles = half_turn(factor * self.steps)
        fresh = np.arange(len(angles)) % factor != 0
        (added,) = potentials(self.rows.rings, [(self.grid, angles[fresh])])
        values = [_merged(v, a, fresh) for v, a in zip(self.values, added, strict=True)]
        wound, steps = self.wound, factor * self.steps
        if steps > max(wound.orders):
            wound = wound_on(wound.rings, wound.nodes, _orders(self.rows, steps))
        points = self.points + self.grid.points(angles[fresh])
        return replace(self, values=values, wound=wound, points=points)


def _nodes_hold(rows: _Rows, counts: Counts, foretold: int) -> Iterator[_OnNodes]:
    """Yield rows on nodes that hold, of few angles, from these many nodes on."""
    few, orders = half_turn(_FIRST), _orders(rows, foretold)
    rough, grid = grid_on(rows.rings, counts), grid_on(rows.rings, finer(counts))
    rough_values, values = potentials(rows.rings, [(rough, few), (grid, few)])
    wound = wound_on(rows.rings, grid.near, orders)
    part = wound_on(rows.rings, rough.near, [_FIRST] * len(orders), finer=wound)
    (before,) = _harmonics(part, rough_values)
    points = rough.points(few) + grid.points(few)
    unknown = np.full(len(rows.number), math.inf)
    found = _OnNodes(rows, grid, wound, values, points, unknown, np.zeros(len(unknown), bool))
    yield from _finer_until_they_hold(found, before, unknown)


def _finer_until_they_hold(known: _OnNodes, before: Complex, last_m2: Array) -> Iterator[_OnNodes]:
    """Yield the same rows, as they are or on finer nodes.

    Parameters
    ----------
    known
        Rows on their last nodes.
    before
        c_k of their linkages on the nodes before.
    last_m2
        What those had changed.
    """
    rows, few = known.rows, half_turn(_FIRST)
    (harmonics,) = _harmonics(known.wound, known.values)
    change = widest(harmonics - before)
    # Two grids may agree by chance.
    change = np.where(last_m2 < math.inf, np.maximum(change, _BEST_RATIO * last_m2), change)
    ratio = np.clip(change / np.maximum(last_m2, 1e-300), 0.0, _WORST_RATIO)
    slow = np.maximum(1.0, _MARGIN * ratio / (1 - ratio))  # all that is still to come
    error_m2 = change * np.where(last_m2 < math.inf, slow, _FIRST_CHANGE)
    swing = np.ptp(sample_series(harmonics, 8 * _FIRST), axis=-1)
    settled = error_m2 <= _NODES_PART * rows.allowed_m2(swing)
    noise = ROUNDING * np.abs(harmonics).sum(axis=-1) + rows.rounding_m2
    ready = settled | (error_m2 <= _NOISE * noise)
    if known.grid.largest >= MOST_NODES or 2 * known.points > _MOST_POINTS:
        ready[:] = True
    if ready.any():
        yield replace(known, nodes_m2=error_m2, settled=settled).some(_those(ready))
    counts = finer(known.grid.counts)
    for some in _runs(np.flatnonzero(~ready), known.points):
        left = rows.some(some)
        grid = grid_on(left.rings, counts)
        wound = wound_on(left.rings, grid.near, known.wound.orders)
        (values,) = potentials(left.rings, [(grid, few)])
        points = known.points + grid.points(few)
        on = _OnNodes(left, grid, wound, values, points, error_m2[some], settled[some])
        yield from _finer_until_they_hold(on, harmonics[some], change[some])


def _angles_hold(known: _OnNodes, wanted: int) -> Iterator[tuple[int, TrackCurve]]:
    """Yield number and curve of rows, at so many angles and more until their series hold."""
    most = min(_MOST, _FIRST * max(1, _MOST_POINTS // known.grid.points(half_turn(_FIRST))))
    known = known.at_more_angles(min(math.ceil(wanted / known.steps), most // known.steps))
    rows = known.rows
    harmonics, halved, quartered = _harmonics(known.wound, known.values, folds=2)
    error_m2, decay = aliasing(harmonics, halved, quartered, rows.rounding_m2)
    swing = np.ptp(sample_series(harmonics, 8 * known.steps), axis=-1)
    allowed, whole_m2 = rows.allowed_m2(swing), known.nodes_m2 + error_m2 + rows.rounding_m2
    # Where the nodes leave more than is allowed, angles need not be better by far.
    left = np.maximum(allowed - known.nodes_m2, _ANGLES_PART * known.nodes_m2)
    vain = error_m2 <= _NOISE * rows.rounding_m2
    good = (error_m2 + rows.rounding_m2 <= left) | vain
    met = known.settled & good & ((whole_m2 <= allowed) | vain)
    done = good | (2 * known.steps > most)
    for i in np.flatnonzero(done).tolist():
        curve = TrackCurve(
            harmonics[i].copy(), float(whole_m2[i]), float(swing[i]), 2 * known.steps,
            known.points, bool(met[i]),
        )  # fmt: skip
        yield int(rows.number[i]), curve
    more = orders_wanted(known.steps, error_m2, decay, left) / known.steps
    factor = np.where(done, 0.0, np.maximum(2.0, np.ceil(more)))
    for times in np.unique(factor[~done]).tolist():
        steps = int(times) * known.steps
        for some in _runs(np.flatnonzero(factor == times), known.grid.points(half_turn(steps))):
            yield from _angles_hold(known.some(some), steps)


def _runs(numbers: NDArray[np.intp], points: int) -> Iterator[NDArray[np.intp]]:
    """Yield so many rows at a time that their points need no memory."""
    step = max(1, _TOGETHER // points)
    for first in range(0, len(numbers), step):
        yield numbers[first : first + step]


def _those(which: NDArray[np.bool_]) -> Which:
    """Return the numbers of rows, or that it is all of them, which takes no copy."""
    return slice(None) if which.all() else np.flatnonzero(which)


def _orders(rows: _Rows, most: int) -> list[int]:
    """Return how many orders of the winding matter on each patch, at most so many.

    Of a winding in pieces the far ones need few; what they leave out is far below the error asked.
    """
    wanted, pieces = np.full(rows.parts.shape, most), [p.piece for p in rows.rings.first_patches]
    if any(pieces):
        few = orders_that_matter(rows.rings, _LEFT_OUT * rows.parts)
        wanted[:, pieces] = np.minimum(few, most)[:, pieces]
    return [_FIRST * math.ceil(max(each, _FIRST) / _FIRST) for each in wanted.max(axis=0).tolist()]


def _harmonics(wound: Wound, values: list[Array], folds: int = 0) -> list[Complex]:
    """Return c_k of the linkages from all angles; if asked, from every second, fourth... of them.

    Patch by patch and few nodes at a time: all spectra together may be more than the memory holds.
    """
    total: list[Complex] = []
    north = wound.rings.tracks[0].north
    for i, (patch, value) in enumerate(zip(wound.rings.first_patches, values, strict=True)):
        weights = wound[i]
        nodes = max(1, _SPECTRUM // value[:, :, :1].size)
        for first in range(0, value.shape[2], nodes):
            some = slice(first, first + nodes)
            series = [spectrum(north, patch, value[:, :, some])]
            for _ in range(folds):
                series.append(folded(series[-1]))
            found = [linkage_of(weights[:, :, some], each) for each in series]
            total = [a + b for a, b in zip(total, found, strict=True)] if total else found
    return total


@lru_cache(maxsize=64)
def half_turn(steps: int) -> Array:
    """Return the angles from the arm at which the potential is taken [rad], (steps + 1,)."""
    angles = np.linspace(0.0, math.pi, steps + 1)
    angles.flags.writeable = False
    return angles


def linkage_of(winding: Complex, spectrum: Complex) -> Complex:
    """Return c_k, k = 0..K - 1, of a patch's linkages per turn and tesla, (rows, K).

    Parameters
    ----------
    winding
        Harmonics on the patch of each row or of all, (rows, components, n_rho, n_z, orders); they
        may have fewer orders: the others do not matter.
    spectrum
        Of the potential there, (rows, components, n_rho, n_z, K + 1).
    """
    rows, orders = len(spectrum), spectrum.shape[-1] - 1
    total = np.zeros((rows, orders), dtype=np.complex128)
    known = min(orders, winding.shape[-1])
    product = spectrum[..., :known] * winding[..., :known]
    total[:, :known] = product.reshape(rows, -1, known).sum(axis=1)
    conjugate: Complex = np.conj(total)
    return conjugate / (4 * math.pi)


def _merged(known: Array, added: Array, fresh: NDArray[np.bool_]) -> Array:
    result = np.empty((*known.shape[:-1], len(fresh)))
    result[..., ~fresh] = known
    result[..., fresh] = added
    return result
