"""The iron's share of a coil's linkage with a magnet on its track, as a Fourier series.

The charge that one ampere in the coil draws to the iron, times the magnet's scalar potential where
that charge is, is by reciprocity what the iron adds to the linkage: -mu0 times the integral of both
over the surface. Only the magnet moves, and about its shaft: every order of the charge on a ring
about the shaft meets the same order of the magnet's potential on that ring.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.rings import ChargedPoints, OwnRings, PatchRings
from fieldsim.field.linkage.curve import (
    ROUNDING,
    TrackCurve,
    added_series,
    aliasing,
    least_swing_m2,
    orders_wanted,
    widest,
)
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import Track
from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder

__all__ = ["SeenIron", "iron_curve"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_FIRST = 32  # steps of half a turn of the first look; every finer set holds them
_MOST = 1024
_ANGLES_PART = 0.15  # of the error allowed
_MARGIN = 2.0  # other angles may be worse than those at which points are asked
_PROBES = 8  # angles at which points are asked
_OWN_ORDER = 12  # nodes on a part of a turn, for iron round about the shaft
_ORDERS_A_PART = 5.0  # of Fourier series, that so many nodes hold
_POINTS = 200_000  # at once, to bound memory


@dataclass(frozen=True, eq=False)
class SeenIron:
    """The charge that an ampere in one turn of a coil draws, as one rotor's magnets see it.

    Parameters
    ----------
    whole
        For iron beside the shaft: all its charges, from fine nodes.
    points, rings
        Few charges, and rings, that stand for these and for those from rough nodes.
    own, rough_own
        For iron round about the shaft, from fine nodes, and from the rough ones that tell their
        error.
    """

    whole: tuple[ChargedPoints, ...]
    points: tuple[ChargedPoints, ...]
    rings: tuple[PatchRings, ...]
    own: tuple[OwnRings, ...]
    rough_own: tuple[OwnRings, ...]
    _errors: dict[Track, float] = field(default_factory=dict, repr=False)

    def stand_in_error_m2(self, track: Track) -> float:
        """Return what the few points do wrong, asked at some angles the first time."""
        if track not in self._errors:
            probes = _probes(self.points)
            one, other = (_linkages(track, each, probes) for each in (self.whole, self.points))
            self._errors[track] = _MARGIN * float(np.abs(one - other).max())
        return self._errors[track]


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
    own = _own_series(track, seen.own, _OWN_ORDER)
    rough_own = _own_series(track, seen.rough_own, _OWN_ORDER - 3)
    beside, rough, error, steps = _beside_series(track, seen, own, error_m2, relative)
    series = added_series(own, beside)
    doubt = added_series(series, -added_series(rough_own, rough))
    swing = float(np.ptp(sample_series(series, 8 * steps)))
    allowed = max(error_m2, relative * max(swing, least_swing_m2(track)))
    good = error + float(widest(doubt)) <= allowed
    points = steps * sum(len(ring.radius) for ring in seen.rings)
    return TrackCurve(series, error, swing, 2 * steps, points, good, doubt)


def _beside_series(
    track: Track, seen: SeenIron, own: Complex, error_m2: float, relative: float
) -> tuple[Complex, Complex, float, int]:
    """Return c_k for iron beside the shaft, from fine and from rough nodes.

    Then the error from rings and the number of angles, and half that number.
    """
    if not seen.rings:
        nothing = np.zeros(1, dtype=np.complex128)
        return nothing, nothing, 0.0, _FIRST
    least, steps = least_swing_m2(track), _FIRST
    radius, height = (
        np.concatenate([getattr(ring, k) for ring in seen.rings]) for k in ("radius", "height")
    )
    potential = _potential(track, radius, height, np.linspace(0.0, math.pi, steps + 1))
    while True:
        charge = np.concatenate([ring.spectrum(steps, 0) for ring in seen.rings])
        floor = ROUNDING * float(np.abs(charge[:, 0]).sum()) * max(track.shape.size)
        # What half and a quarter of the angles would have told.
        series, halved, quartered = (
            _linkage(charge[:, : steps // n], _spectrum(track, potential[:, ::n]))
            for n in (1, 2, 4)
        )
        found = aliasing(series, halved, quartered, max(floor, 1e-300))
        error, decay = (float(each) for each in found)
        swing = float(np.ptp(sample_series(added_series(series, own), 8 * steps)))
        allowed = _ANGLES_PART * max(error_m2, relative * max(swing, least))
        if error <= max(allowed, 3 * floor) or steps >= _MOST:
            break
        wanted = orders_wanted(steps, error, decay, allowed)
        factor = min(max(math.ceil(wanted / steps), 2), 8)
        angles = np.linspace(0.0, math.pi, factor * steps + 1)
        fresh = np.arange(len(angles)) % factor != 0
        more = np.empty((len(radius), len(angles)))
        more[:, ~fresh] = potential
        more[:, fresh] = _potential(track, radius, height, angles[fresh])
        potential, steps = more, factor * steps
    charge = np.concatenate([ring.spectrum(steps, 1) for ring in seen.rings])
    rough = _linkage(charge, _spectrum(track, potential))
    # What rings and angles did wrong together: some angles asked of the points themselves.
    probes = _probes(seen.points)
    direct = _linkages(track, seen.points, probes)
    waves = np.exp(1j * probes[:, None] * np.arange(len(series)))
    found = 2 * (waves @ series).real - series[0].real
    error += _MARGIN * float(np.abs(found - direct).max()) + floor + seen.stand_in_error_m2(track)
    return series, rough, error, steps


def _own_series(track: Track, rings: Sequence[OwnRings], order: int) -> Complex:
    """Return c_k for iron round about the shaft.

    The potential of a magnet that touches the iron has kinks under its edges, so that its Fourier
    integrals are taken by Gauss's rule between them: ``order`` nodes on every part of the turn.
    """
    total = np.zeros(1, dtype=np.complex128)
    x, w = gauss_legendre(order)
    for each in rings:
        k = np.arange(each.spectrum.shape[1])
        ends = _ends(track, each.radius, len(k))
        width = np.diff(ends, axis=1)[:, :, None] / 2
        psi = (ends[:, :-1, None] + width * (x + 1)).reshape(len(ends), -1)
        weight = (width * w).reshape(len(ends), -1)
        potential = _potential(track, each.radius, each.height, psi)
        waves = np.sin(psi[..., None] * k) if _is_odd(track) else np.cos(psi[..., None] * k)
        found = np.einsum("na,nak->nk", potential * weight, waves) / math.pi
        spectrum = found * (-1j if _is_odd(track) else 1.0)
        total = added_series(total, _linkage(each.spectrum, spectrum))
    return total


def _ends(track: Track, radius: Array, orders: int) -> Array:
    """Return where parts of half a turn end on rings [rad], (rings, parts + 1)."""
    shape, r = track.shape, np.maximum(radius, 1e-9)[:, None]
    half = [edge / 2 for edge in shape.size]
    near, far = track.radius - half[0], track.radius + half[0]
    if isinstance(shape, Cuboid) or (isinstance(shape, Cylinder) and shape.axis.value != 2):
        cosines = np.concatenate([near / r, far / r], axis=1)
        kinks = [np.arccos(np.clip(cosines, -1, 1)), np.arcsin(np.clip(half[1] / r, 0, 1))]
    else:
        across = (r * r + track.radius**2 - half[0] ** 2) / (2 * r * max(track.radius, 1e-9))
        kinks = [np.arccos(np.clip(across, -1, 1))]
    even = np.linspace(0.0, math.pi, math.ceil(orders / _ORDERS_A_PART) + 1)
    return np.sort(np.concatenate([*kinks, np.tile(even, (len(radius), 1))], axis=1), axis=1)


def _probes(points: Sequence[ChargedPoints]) -> Array:
    """Return angles at which to ask: all round, and where the iron is."""
    round_ = 2 * math.pi / _PROBES * np.arange(_PROBES)
    nearest = [
        np.angle((np.abs(each.charge[:, 0]) * np.exp(1j * each.angle)).sum()) for each in points
    ]
    return np.concatenate([round_, np.array(nearest)])


def _linkages(track: Track, points: Sequence[ChargedPoints], angles: Array) -> Array:
    """Return the linkage with all charges of fine nodes, at arm angles."""
    return np.asarray(np.sum([_at_angles(track, each, angles) for each in points], axis=0))


def _at_angles(track: Track, points: ChargedPoints, angles: Array) -> Array:
    """Return the linkage with the charges of fine nodes, at arm angles."""
    fine = points.where(points.charge[:, 0] != 0.0)
    turned = fine.angle - angles[:, None]
    arm = np.empty((3, *turned.shape))
    arm[0], arm[1] = fine.radius * np.cos(turned) - track.radius, fine.radius * np.sin(turned)
    arm[2] = fine.height - track.height
    potential = magnet_potential(track.shape, arm.reshape(3, -1), track.north.value)
    return np.asarray(-potential.reshape(turned.shape) @ fine.charge[:, 0])


def _potential(track: Track, radius: Array, height: Array, angles: Array) -> Array:
    """Return mu0 times the potential of a magnet of 1 T on rings [m], (rings, angles).

    The angles may be those of each ring.
    """
    shape = (len(radius), angles.shape[-1])
    cosine, sine = (np.broadcast_to(wave(angles), shape) for wave in (np.cos, np.sin))
    result = np.empty(shape)
    step = max(1, _POINTS // shape[1])
    for first in range(0, len(radius), step):
        part = slice(first, first + step)
        arm = np.empty((3, *result[part].shape))
        np.multiply(radius[part, None], cosine[part], out=arm[0])
        np.multiply(radius[part, None], sine[part], out=arm[1])
        arm[0] -= track.radius
        arm[2] = height[part, None] - track.height
        found = magnet_potential(track.shape, arm.reshape(3, -1), track.north.value)
        result[part] = found.reshape(result[part].shape)
    return result


def _spectrum(track: Track, half_turn: Array) -> Complex:
    """Return F_k of a potential from half a turn of it, k below its steps, (rings, steps)."""
    sign = -1.0 if _is_odd(track) else 1.0
    turn = np.concatenate([half_turn, sign * half_turn[:, -2:0:-1]], axis=1)
    steps = half_turn.shape[1] - 1
    return np.asarray(np.fft.rfft(turn, axis=1)[:, :steps] / (2 * steps))


def _is_odd(track: Track) -> bool:
    """Return whether the potential has the other sign on the other side of the arm."""
    return track.north is ArmAxis.FORWARD


def _linkage(charge: Complex, potential: Complex) -> Complex:
    """Return c_k of the linkage from the orders of charge and potential on rings."""
    return np.asarray(-np.einsum("nk,nk->k", charge, np.conj(potential)))
