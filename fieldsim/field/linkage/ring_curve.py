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
from fieldsim.field.linkage.ring_nodes import (
    MOST_NODES,
    angular_rate,
    finer_grid,
    foretold_grid,
    order_for,
)
from fieldsim.field.linkage.ring_patches import ring_patches, singular_rings
from fieldsim.field.linkage.ring_potential import folded, potentials, spectra
from fieldsim.field.linkage.ring_winding import Winding, winding_harmonics
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

__all__ = ["half_turn", "linkage_of", "ring_curve"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_FIRST = 16  # steps of half a turn of the first look; every finer set holds them
_MOST = 2048
_NODES_PART = 0.5  # of the error allowed
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
    patches, singular = ring_patches(track, coil), singular_rings(track)
    rounding, least = rounding_m2(track, coil), least_swing_m2(track)
    if not patches:
        return TrackCurve(np.zeros(2, dtype=np.complex128), rounding, 0.0, 2, 0, True)

    def linkage(winding: Winding, values: list[Array]) -> Complex:
        return linkage_of(winding, spectra(track, patches, values))

    # Nodes: on few angles, until two grids agree.
    few, foretold = half_turn(_FIRST), order_for(angular_rate(patches, singular), relative)
    orders = _FIRST * math.ceil(foretold / _FIRST)  # of the winding: once for all angles to come
    rough = foretold_grid(patches, singular, relative)
    grid = finer_grid(patches, rough)
    rough_values, values = potentials(track, patches, [(rough, few), (grid, few)])
    points = rough.points(few) + grid.points(few)
    winding = winding_harmonics(patches, grid.near, orders)
    part = winding_harmonics(patches, rough.near, _FIRST, part_of=(grid.near, orders))
    before = linkage(part, rough_values)
    nodes_error = 0.0
    while True:
        harmonics = linkage(winding, values)
        nodes_error = max(widest(harmonics - before), _BEST_RATE * nodes_error)
        swing = float(np.ptp(sample_series(harmonics, 8 * _FIRST)))
        settled = nodes_error <= _NODES_PART * max(error_m2, relative * max(swing, least))
        noise = ROUNDING * float(np.abs(harmonics).sum()) + rounding
        if settled or nodes_error <= 10 * noise or grid.largest >= MOST_NODES:
            break
        before, grid = harmonics, finer_grid(patches, grid)
        winding = winding_harmonics(patches, grid.near, orders)
        (values,) = potentials(track, patches, [(grid, few)])
        points += grid.points(few)

    # Angles: on that grid, until the series holds.
    steps, wanted = _FIRST, foretold
    while True:
        factor = min(math.ceil(wanted / steps), _MOST // steps)
        if factor > 1:
            angles = half_turn(factor * steps)
            fresh = np.arange(len(angles)) % factor != 0
            (added,) = potentials(track, patches, [(grid, angles[fresh])])
            points += grid.points(angles[fresh])
            values = [_merged(v, a, fresh) for v, a in zip(values, added, strict=True)]
            steps *= factor
        if steps > orders:
            orders = steps
            winding = winding_harmonics(patches, grid.near, orders)
        series = spectra(track, patches, values)
        half = folded(series)
        harmonics, halved, quartered = (
            linkage_of(winding, one) for one in (series, half, folded(half))
        )
        angles_error, decay = aliasing(harmonics, halved, quartered, rounding)
        swing = float(np.ptp(sample_series(harmonics, 8 * steps)))
        allowed, error = max(error_m2, relative * max(swing, least)), nodes_error + angles_error
        good = error + rounding <= allowed or angles_error <= 3 * rounding
        if good or 2 * steps > _MOST:
            break
        more = orders_wanted(steps, angles_error, decay, allowed - nodes_error)
        wanted = max(2 * steps, math.ceil(more))
    return TrackCurve(harmonics, error + rounding, swing, 2 * steps, points, bool(settled and good))


def half_turn(steps: int) -> Array:
    """Return the angles from the arm at which the potential is taken [rad], (steps + 1,)."""
    return np.linspace(0.0, math.pi, steps + 1)


def linkage_of(winding: Winding, series: list[Complex]) -> Complex:
    """Return c_k, k = 0..K - 1, of the linkage per turn and tesla, from spectra of K + 1 orders."""
    orders = series[0].shape[-1] - 1
    total = np.zeros(orders, dtype=np.complex128)
    for weights, spectrum in zip(winding, series, strict=True):
        product = spectrum[..., :orders] * weights[..., :orders]
        total += product.reshape(-1, orders).sum(axis=0)
    conjugate: Complex = np.conj(total)
    return conjugate / (4 * math.pi)


def _merged(known: Array, added: Array, fresh: NDArray[np.bool_]) -> Array:
    result = np.empty((*known.shape[:-1], len(fresh)))
    result[..., ~fresh] = known
    result[..., fresh] = added
    return result
