"""The linkage curve of a magnet and a square-standing winding, orders raised until they hold.

See `fieldsim.field.linkage.ring_linkage` for the method.
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
from fieldsim.field.linkage.ring_linkage import FAR_RAD, RingLinkage, folded
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

__all__ = ["ring_curve"]

Array = NDArray[np.float64]

_FIRST = 16  # steps of half a turn of the first look; every finer set holds them
_MOST = 2048
_LIKELY = 0.26  # sets of first orders that a natural digit takes
_MOST_AT_ONCE = 16  # sets of first steps, before their number is known to be needed
_SMALL = 10_000  # evaluations
_SERIES_DIGITS = 3.0  # beyond the error asked for, natural, in the highest order
_START_DIGITS = 3.4  # beyond the error asked for, natural; what most windings need
_ROUGHER = 2.5  # digits by which the comparison is rougher
_SHARE = 1.2  # of the difference to the rougher result, reported as error
_QUADRATURE_PART = 0.5  # of the error allowed
_ORDERS = np.arange(1, 201)
_RHO_GAIN = 2.0 * np.log(_ORDERS)
_Z_GAIN = 2.8 * np.log(_ORDERS)
_STEPS = np.arange(1, _FIRST * _MOST_AT_ONCE)
_STEPS_GAIN = 3.0 * np.log(_STEPS)


def _orders(rates: list[tuple[float, float]], digits: float) -> list[tuple[int, int]]:
    """Return orders in rho and z on each patch for an error of exp(-digits).

    The error is taken as order**-p exp(-rate (order - lost)). Both were measured on many windings:
    in rho p is 2 and three orders are lost; in z, where the weights are those of integration, p is
    3 to 4 and none is.
    """

    def order(rate: float, lost: int, gain: Array, least: int) -> int:
        # What an order wins only grows with it, so the first that is enough can be searched for.
        first = int(np.searchsorted(rate * (_ORDERS - lost) + gain, digits))
        return max(int(_ORDERS[min(first, len(_ORDERS) - 1)]), least)

    return [(order(rho, 3, _RHO_GAIN, 5), order(z, 0, _Z_GAIN, 3)) for rho, z in rates]


def _rougher(
    orders: list[tuple[int, int]], rates: list[tuple[float, float]], digits: float
) -> list[tuple[int, int]]:
    """Return clearly lower orders: at least one less in z, three in rho.

    Over distance from the shaft the turns are spread unevenly, with kinks at their corners; where
    few orders do, one more or less changes little, up or down.
    """
    lower = _orders(rates, digits - _ROUGHER)
    return [
        (min(a, max(c - 3, 2)), min(b, d - 1)) for (a, b), (c, d) in zip(lower, orders, strict=True)
    ]


def _count(orders: list[tuple[int, int]], far: list[tuple[int, int]], angles: Array) -> int:
    """Return how many evaluations nodes of these orders take at some angles."""
    beyond = int((angles >= FAR_RAD).sum())
    near = len(angles) - beyond
    return near * sum(a * b for a, b in orders) + beyond * sum(a * b for a, b in far)


def _sets_likely(rate: float, relative: float) -> int:
    """Return how many sets of the first steps of half a turn will most likely be enough.

    The orders left out are taken as order**-3 exp(-0.8 rate order), as was found on many windings
    whose turns lie square to the shaft: right for two in three, seldom off by more than one set.
    """
    needed = _SERIES_DIGITS - math.log(relative)
    order = int(np.searchsorted(0.8 * rate * _STEPS + _STEPS_GAIN, needed))
    return min(order // _FIRST + 1, _MOST_AT_ONCE)


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

    Notes
    -----
    The result at few angles is compared with one of lower orders throughout, whose error is some
    ten times larger; 1.2 times the difference stands for the interpolation part of the error.
    Angles are added, in multiples of the first, until the error from their number, the other part,
    is small enough.
    """
    linkage = RingLinkage(track, coil)
    rounding, least = rounding_m2(track, coil), least_swing_m2(track)
    if not linkage.patches:
        return TrackCurve(np.zeros(2, dtype=np.complex128), rounding, 0.0, 2, 0, True)
    likely = _FIRST
    if all(patch.in_plane for patch in linkage.patches):
        likely *= _sets_likely(linkage.angular_rate, relative)
    few, many = (np.linspace(0.0, math.pi, steps + 1) for steps in (_FIRST, likely))
    digits, points = -math.log(relative) + _START_DIGITS, 0
    # The winding's harmonics are cheap; enough of them at once saves making them again.
    usual = _FIRST * math.ceil(-_LIKELY * math.log(relative))
    while True:
        orders, far = _orders(linkage.rates, digits), _orders(linkage.far_rates, digits)
        nodes, far_nodes = linkage.nodes(orders), linkage.nodes(far)
        low = _rougher(orders, linkage.rates, digits)
        low_far = _rougher(far, linkage.far_rates, digits)
        low_nodes, low_far_nodes = linkage.nodes(low), linkage.nodes(low_far)
        # A small job is done at once; of a large one the orders in rho and z are settled first.
        angles = many if _count(orders, far, many) <= _SMALL else few
        steps = len(angles) - 1
        resolved = usual
        while resolved < steps:
            resolved *= 2  # few different numbers, so that what is remembered fits again
        potential, low_potential = linkage.potentials(
            [(nodes, far_nodes, angles), (low_nodes, low_far_nodes, few)]
        )
        winding, low_winding = linkage.winding([nodes, low_nodes], [resolved, _FIRST])
        spectra = linkage.spectra(potential)
        harmonics = linkage.harmonics_m2(winding, spectra)
        rough = linkage.harmonics_m2(low_winding, linkage.spectra(low_potential))
        first = harmonics
        if steps > _FIRST:
            same = [p[..., :: steps // _FIRST] for p in potential]
            first = linkage.harmonics_m2(winding, linkage.spectra(same))
        points += _count(orders, far, angles) + _count(low, low_far, few)
        quadrature = _SHARE * widest(first - rough)
        swing = float(np.ptp(sample_series(harmonics, max(256, 8 * steps))))
        allowed = _QUADRATURE_PART * max(error_m2, relative * max(swing, least))
        settled = quadrature <= allowed
        noise = ROUNDING * float(np.abs(harmonics).sum()) + rounding
        if settled or quadrature <= 10 * noise or max(max(o) for o in orders) >= _ORDERS[-1]:
            break
        digits += 1.3 * math.log(quadrature / max(allowed, noise)) + 0.7

    while True:
        halved = folded(spectra)
        error, decay = aliasing(
            harmonics,
            linkage.harmonics_m2(winding, halved),
            linkage.harmonics_m2(winding, folded(halved)),
            rounding,
        )
        allowed = max(error_m2, relative * max(swing, least))
        good = quadrature + error + rounding <= allowed or error <= 3 * rounding
        if good or 2 * steps > _MOST:
            break
        wanted = orders_wanted(steps, error, decay, allowed - quadrature)
        if steps == _FIRST < likely:
            wanted = likely  # what few steps tell about many is little
        factor = min(max(2, math.ceil(wanted / steps)), _MOST_AT_ONCE, _MOST // steps)
        fine = np.linspace(0.0, math.pi, factor * steps + 1)
        fresh = np.arange(len(fine)) % factor != 0
        (added,) = linkage.potentials([(nodes, far_nodes, fine[fresh])])
        points += _count(orders, far, fine[fresh])
        potential = [_interleaved(p, a, fresh) for p, a in zip(potential, added, strict=True)]
        steps *= factor
        if steps > resolved:
            (winding,) = linkage.winding([nodes], [steps])
            resolved = steps
        spectra = linkage.spectra(potential)
        harmonics = linkage.harmonics_m2(winding, spectra)
        swing = float(np.ptp(sample_series(harmonics, max(256, 8 * steps))))
    return TrackCurve(
        harmonics, quadrature + error + rounding, swing, 2 * steps, points, bool(settled and good)
    )


def _interleaved(known: Array, added: Array, fresh: NDArray[np.bool_]) -> Array:
    result = np.empty((*known.shape[:-1], len(fresh)))
    result[..., ~fresh] = known
    result[..., fresh] = added
    return result
