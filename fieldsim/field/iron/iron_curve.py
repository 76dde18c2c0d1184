"""The iron's share of a coil's linkage with a magnet on its track, as a Fourier series.

The charge that one ampere in the coil draws to the iron, times the magnet's scalar potential where
that charge is, is by reciprocity what the iron adds to the linkage: -mu0 times the integral of both
over the surface. Only the magnet moves, and about its shaft: every order of the charge on a ring
about the shaft meets the same order of the magnet's potential on that ring.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.rings import ChargedPoints, OwnRings, PatchRings
from fieldsim.field.linkage.curve import (
    ROUNDING,
    TrackCurve,
    aliasing,
    least_swing_m2,
    orders_wanted,
    widest,
)
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import Track
from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.machine.magnets import ArmAxis

__all__ = ["SeenIron", "iron_curve"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_FIRST = 32  # steps of half a turn of the first look; every finer set holds them
_MOST = 1024
_ANGLES_PART = 0.3  # of the error allowed
_MARGIN = 2.0  # other angles may be worse than those at which rough nodes are asked
_PROBES = 8  # angles at which rough nodes are asked
_OWN_STEPS = 2  # of half a turn, for each order of the charge
_POINTS = 200_000  # at once, to bound memory


@dataclass(frozen=True, eq=False)
class SeenIron:
    """The charge that an ampere in one turn of a coil draws, as one rotor's magnets see it.

    Parameters
    ----------
    rings
        For iron beside the shaft.
    own
        For iron round about it.
    rough_points, rough_own
        Both from rougher nodes: by what these differ stands for the error.
    """

    rings: tuple[PatchRings, ...]
    own: tuple[OwnRings, ...]
    rough_points: tuple[ChargedPoints, ...]
    rough_own: tuple[OwnRings, ...]


def iron_curve(track: Track, seen: SeenIron, error_m2: float, relative: float) -> TrackCurve:
    """Return the iron's share of the linkage of a magnet of 1 T with one turn.

    Parameters
    ----------
    track
        Of the magnet.
    seen
        The iron.
    error_m2
        Largest error asked for; the looser of this and ``relative`` applies.
    relative
        Largest error asked for, relative to the peak-to-peak of the curve.
    """
    least = least_swing_m2(track)
    own, own_error = _own_series(track, seen.own)
    own_error += widest(_less(own, _own_series(track, seen.rough_own)[0]))
    beside, angles_error, steps, floor = _beside_series(track, seen.rings, own, error_m2, relative)
    series = np.zeros(max(len(own), len(beside)), dtype=np.complex128)
    series[: len(own)] += own
    series[: len(beside)] += beside
    # Asked directly at some angles, rough nodes tell what rings and angles did wrong as well.
    probes = _probes(seen.rough_points)
    rough = sum(_at_angles(track, points, probes) for points in seen.rough_points)
    waves = np.exp(1j * probes[:, None] * np.arange(len(beside)))
    fine = 2 * (waves @ beside).real - beside[0].real
    nodes_error = _MARGIN * float(np.abs(fine - rough).max(initial=0.0))
    swing = float(np.ptp(sample_series(series, 8 * steps)))
    error = nodes_error + angles_error + own_error + floor
    good = error <= max(error_m2, relative * max(swing, least), 10 * floor)
    return TrackCurve(series, error, swing, 2 * steps, steps * len(seen.rings), good)


def _less(series: Complex, other: Complex) -> Complex:
    rest = np.zeros(max(len(series), len(other)), dtype=np.complex128)
    rest[: len(series)] += series
    rest[: len(other)] -= other
    return rest


def _beside_series(
    track: Track, rings: Sequence[PatchRings], own: Complex, error_m2: float, relative: float
) -> tuple[Complex, float, int, float]:
    """Return c_k for iron beside the shaft, the error from the number of angles, and their number.

    The last is what rounding leaves.
    """
    if not rings:
        return np.zeros(2, dtype=np.complex128), 0.0, _FIRST, 0.0
    least, steps = least_swing_m2(track), _FIRST
    radius, height = (np.concatenate([getattr(r, k) for r in rings]) for k in ("radius", "height"))
    potential = _potential(track, radius, height, np.linspace(0.0, math.pi, steps + 1))
    while True:
        charge = np.concatenate([each.spectrum(steps) for each in rings])
        floor = ROUNDING * float(np.abs(charge[:, 0]).sum()) * max(track.shape.size)
        # What half and a quarter of the angles would have told.
        series, halved, quartered = (
            _linkage(charge[:, : steps // n], _spectrum(track, potential[:, ::n]))
            for n in (1, 2, 4)
        )
        error, decay = aliasing(series, halved, quartered, max(floor, 1e-300))
        swing = float(np.ptp(sample_series(-_less(-series, own), 8 * steps)))
        allowed = _ANGLES_PART * max(error_m2, relative * max(swing, least))
        if error <= max(allowed, 3 * floor) or steps >= _MOST:
            return series, error, steps, floor
        wanted = orders_wanted(steps, error, decay, allowed)
        factor = min(max(math.ceil(wanted / steps), 2), 8)
        angles = np.linspace(0.0, math.pi, factor * steps + 1)
        fresh = np.arange(len(angles)) % factor != 0
        more = np.empty((len(radius), len(angles)))
        more[:, ~fresh] = potential
        more[:, fresh] = _potential(track, radius, height, angles[fresh])
        potential, steps = more, factor * steps


def _own_series(track: Track, rings: Sequence[OwnRings]) -> tuple[Complex, float]:
    """Return c_k for iron round about the shaft, and the error from the number of angles."""
    total, error = np.zeros(2, dtype=np.complex128), 0.0
    for each in rings:
        orders = each.spectrum.shape[1]
        steps = 2 * _OWN_STEPS * orders
        angles = np.linspace(0.0, math.pi, steps + 1)
        potential = _potential(track, each.radius, each.height, angles)
        series, halved = (
            _linkage(each.spectrum, _spectrum(track, potential[:, ::n])[:, :orders]) for n in (1, 2)
        )
        error += widest(series - halved)
        total = -_less(-total, series)
    return total, error


def _probes(points: Sequence[ChargedPoints]) -> Array:
    """Return angles at which to ask: all round, and where the iron is."""
    round_ = 2 * math.pi / _PROBES * np.arange(_PROBES)
    nearest = [np.angle((np.abs(p.charge) * np.exp(1j * p.angle)).sum()) for p in points]
    return np.concatenate([round_, np.array(nearest)])


def _at_angles(track: Track, points: ChargedPoints, angles: Array) -> Array:
    """Return the linkage with charges at points, at arm angles."""
    turned = points.angle - angles[:, None]
    arm = np.empty((3, *turned.shape))
    arm[0], arm[1] = points.radius * np.cos(turned) - track.radius, points.radius * np.sin(turned)
    arm[2] = points.height - track.height
    potential = magnet_potential(track.shape, arm.reshape(3, -1), track.north.value)
    return np.asarray(-potential.reshape(turned.shape) @ points.charge)


def _potential(track: Track, radius: Array, height: Array, angles: Array) -> Array:
    """Return mu0 times the potential of a magnet of 1 T on rings [m], (rings, angles)."""
    result = np.empty((len(radius), len(angles)))
    step = max(1, _POINTS // len(angles))
    for first in range(0, len(radius), step):
        r, z = (part[first : first + step, None] for part in (radius, height))
        arm = np.empty((3, len(r), len(angles)))
        arm[0], arm[1] = r * np.cos(angles) - track.radius, r * np.sin(angles)
        arm[2] = z - track.height
        found = magnet_potential(track.shape, arm.reshape(3, -1), track.north.value)
        result[first : first + step] = found.reshape(len(r), -1)
    return result


def _spectrum(track: Track, half_turn: Array) -> Complex:
    """Return F_k of a potential from half a turn of it, k below its steps, (rings, steps)."""
    sign = -1.0 if track.north is ArmAxis.FORWARD else 1.0  # seen from the other side of the arm
    turn = np.concatenate([half_turn, sign * half_turn[:, -2:0:-1]], axis=1)
    steps = half_turn.shape[1] - 1
    return np.asarray(np.fft.rfft(turn, axis=1)[:, :steps] / (2 * steps))


def _linkage(charge: Complex, potential: Complex) -> Complex:
    """Return c_k of the linkage from the orders of charge and potential on rings."""
    return np.asarray(-np.einsum("nk,nk->k", charge, np.conj(potential)))
