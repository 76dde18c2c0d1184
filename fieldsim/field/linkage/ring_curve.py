"""The linkage curve of a magnet and a square-standing winding, by harmonics about the shaft.

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
   one's: that difference is stated. As long as it is too large, the next grid is a sixth finer.
2. Angles. A on the last grid at more angles, always multiples, until the Fourier series holds: what
   half and a quarter of the angles give tells what is still wrong (`curve.aliasing`).

**The law.** Where to start, for nodes and for angles, is foretold by ``n**-4 exp(-rate n)`` and a
margin: `ring_nodes.order_for`. The checks make up for what it does not know.
"""

from __future__ import annotations

import math

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
    Grid,
    angular_rate,
    finer_grid,
    foretold_grid,
    order_checked,
    order_for,
    parts_of_error,
)
from fieldsim.field.linkage.ring_patches import Patch, ring_patches, singular_rings
from fieldsim.field.linkage.ring_potential import folded, potentials, spectra
from fieldsim.field.linkage.ring_winding import Winding, winding_harmonics
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

__all__ = ["half_turn", "linkage_of", "ring_curve"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_FIRST = 16  # steps of half a turn of the first look; every finer set holds them
_MOST = 8192
_NODES_PART = 0.5  # of the error allowed
_ANGLES_PART = 0.3  # of the nodes' error, where that is too large
_NOISE = 10  # times rounding: what differs by less does so by chance
_LEFT_OUT = 0.01  # of a part of the error asked, by orders that are left out
_MOST_POINTS = 8_000_000  # nodes times angles: all values at them are kept
_MOST_HARMONICS = 4_000_000  # of a winding: more are made anew whenever they are needed
_SPECTRUM = 500_000  # values turned into a spectrum at once
_BEST_RATE = 0.2  # no error is trusted to be less than this share of the last one


def ring_curve(track: Track, coil: CoilInRotor, error_m2: float, relative: float) -> TrackCurve:
    """Return the linkage curve of one magnet of 1 T on its track with one turn of the coil.

    Parameters
    ----------
    track, coil
        A magnet of any shape, and a winding with an edge along the shaft.
    error_m2
        Largest error asked for; the looser of this and ``relative`` applies.
    relative
        Largest error asked for, relative to the peak-to-peak of the curve.
    """
    singular = singular_rings(track)
    patches = divided(track, ring_patches(track, coil))
    rounding, least = rounding_m2(track, coil), least_swing_m2(track)
    if not patches:
        return TrackCurve(np.zeros(2, dtype=np.complex128), rounding, 0.0, 2, 0, True)
    parts = parts_of_error(patches, singular, relative)

    # Nodes: on few angles, until two grids agree.
    few, foretold = half_turn(_FIRST), order_checked(angular_rate(patches, singular), relative)
    rough = foretold_grid(patches, singular, parts)
    grid = finer_grid(patches, rough)
    rough_values, values = potentials(track, patches, [(rough, few), (grid, few)])
    points = rough.points(few) + grid.points(few)
    orders = _orders(patches, singular, parts, foretold)
    wound = _Wound(patches, grid, orders)
    part = _Wound(patches, rough, [_FIRST] * len(patches), part_of=wound)
    before, _, _ = _gathered(track, part, rough_values)
    nodes_error = 0.0
    while True:
        harmonics, _, _ = _gathered(track, wound, values)
        nodes_error = max(widest(harmonics - before), _BEST_RATE * nodes_error)
        swing = float(np.ptp(sample_series(harmonics, 8 * _FIRST)))
        settled = nodes_error <= _NODES_PART * max(error_m2, relative * max(swing, least))
        noise = ROUNDING * float(np.abs(harmonics).sum()) + rounding
        finest = grid.largest >= MOST_NODES or 2 * points > _MOST_POINTS
        if settled or nodes_error <= _NOISE * noise or finest:
            break
        before, grid = harmonics, finer_grid(patches, grid)
        wound = _Wound(patches, grid, orders)
        (values,) = potentials(track, patches, [(grid, few)])
        points += grid.points(few)

    # Angles: on that grid, until the series holds.
    steps, wanted = _FIRST, foretold
    most = min(_MOST, _FIRST * max(1, int(_MOST_POINTS / grid.points(few))))
    while True:
        factor = min(math.ceil(wanted / steps), most // steps)
        if factor > 1:
            angles = half_turn(factor * steps)
            fresh = np.arange(len(angles)) % factor != 0
            (added,) = potentials(track, patches, [(grid, angles[fresh])])
            points += grid.points(angles[fresh])
            values = [_merged(v, a, fresh) for v, a in zip(values, added, strict=True)]
            steps *= factor
        if steps > max(orders):
            orders = _orders(patches, singular, parts, steps)
            wound = _Wound(patches, grid, orders)
        harmonics, halved, quartered = _gathered(track, wound, values)
        angles_error, decay = aliasing(harmonics, halved, quartered, rounding)
        swing = float(np.ptp(sample_series(harmonics, 8 * steps)))
        allowed, error = max(error_m2, relative * max(swing, least)), nodes_error + angles_error
        # Where the nodes leave more than is allowed, angles need not be better by far.
        left = max(allowed - nodes_error, _ANGLES_PART * nodes_error)
        good = angles_error + rounding <= left or angles_error <= _NOISE * rounding
        if good or 2 * steps > most:
            break
        wanted = max(2 * steps, math.ceil(orders_wanted(steps, angles_error, decay, left)))
    met = good and (error + rounding <= allowed or angles_error <= _NOISE * rounding)
    return TrackCurve(harmonics, error + rounding, swing, 2 * steps, points, bool(settled and met))


def _orders(
    patches: tuple[Patch, ...], singular: Array, parts: list[float], most: int
) -> list[int]:
    """Return how many orders of the winding matter on each patch, at most so many.

    Of a winding in pieces the far ones need few; what they leave out is far below the error asked.
    """
    wanted = [
        order_for(angular_rate((patch,), singular), _LEFT_OUT * part) if patch.piece else most
        for patch, part in zip(patches, parts, strict=True)
    ]
    return [_FIRST * math.ceil(max(min(each, most), _FIRST) / _FIRST) for each in wanted]


class _Wound:
    """The winding's harmonics on a grid, made once if they do not need much memory.

    Those on a rougher grid are a part of those on a finer one.
    """

    def __init__(
        self,
        patches: tuple[Patch, ...],
        grid: Grid,
        orders: list[int],
        part_of: _Wound | None = None,
    ) -> None:
        self.patches, self.nodes, self.orders, self.finer = patches, grid.near, orders, part_of
        size = sum(math.prod(n.counts) * k for n, k in zip(grid.near, orders, strict=True))
        self._kept = (
            [self._made(i) for i in range(len(patches))] if size <= _MOST_HARMONICS else None
        )

    def __getitem__(self, i: int) -> Complex:
        """Return those of one patch, (components, n_rho, n_z, orders)."""
        return self._made(i) if self._kept is None else self._kept[i]

    def _made(self, i: int) -> Complex:
        finer = self.finer
        part_of = None if finer is None else ([finer.nodes[i]], finer.orders[i])
        return winding_harmonics((self.patches[i],), [self.nodes[i]], self.orders[i], part_of)[0]


def _gathered(track: Track, wound: _Wound, values: list[Array]) -> tuple[Complex, Complex, Complex]:
    """Return c_k of the linkage from all angles, from every second and from every fourth of them.

    Patch by patch and few nodes at a time: all spectra together may be more than the memory holds.
    """
    total: list[Complex] = []
    for i, patch in enumerate(wound.patches):
        weights, value = wound[i], values[i]
        rows = max(1, _SPECTRUM // value[:, :1].size)
        for first in range(0, value.shape[1], rows):
            series = spectra(track, (patch,), [value[:, first : first + rows]])
            half = folded(series)
            part = [weights[:, first : first + rows]]
            found = [linkage_of(part, one) for one in (series, half, folded(half))]
            total = [a + b for a, b in zip(total, found, strict=True)] if total else found
    return total[0], total[1], total[2]


def half_turn(steps: int) -> Array:
    """Return the angles from the arm at which the potential is taken [rad], (steps + 1,)."""
    return np.linspace(0.0, math.pi, steps + 1)


def linkage_of(winding: Winding, series: list[Complex]) -> Complex:
    """Return c_k, k = 0..K - 1, of the linkage per turn and tesla, from spectra of K + 1 orders.

    The winding may have fewer orders: the others do not matter.
    """
    orders = series[0].shape[-1] - 1
    total = np.zeros(orders, dtype=np.complex128)
    for weights, spectrum in zip(winding, series, strict=True):
        known = min(orders, weights.shape[-1])
        product = spectrum[..., :known] * weights[..., :known]
        total[:known] += product.reshape(-1, known).sum(axis=0)
    conjugate: Complex = np.conj(total)
    return conjugate / (4 * math.pi)


def _merged(known: Array, added: Array, fresh: NDArray[np.bool_]) -> Array:
    result = np.empty((*known.shape[:-1], len(fresh)))
    result[..., ~fresh] = known
    result[..., fresh] = added
    return result
