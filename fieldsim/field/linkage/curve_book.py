"""Linkage curves that are known already, wherever their like comes again.

A curve depends on where a coil stands from a track, not on where both stand: coils that stand alike
round a shaft have one curve, shifted; rotors that face each other across a coil have one, mirrored;
and turns, remanence, gears and load are none of its business.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import TrackCurve, quick_curves, track_curve
from fieldsim.machine.magnets import ArmAxis

__all__ = ["CurveBook", "Standing", "standing"]

Array = NDArray[np.float64]

_DIGITS = 13  # metres and components of directions that agree so far are the same
_QUICK = 50_000  # evaluations: some milliseconds, of which calls are a small part
_ON_SHAFT = 1e-12  # of the coil's size


@dataclass(frozen=True)
class Standing:
    """A track and a coil moved to where their like stand too.

    Parameters
    ----------
    track, coil
        The track at height zero; the coil beside the arm's zero direction, not below the track.
    angle_rad
        By which the curve of these comes later.
    sign
        That it is to be taken with.
    """

    track: Track
    coil: CoilInRotor
    angle_rad: float
    sign: int

    @cached_property
    def key(self) -> tuple[Any, ...]:
        """The same for all that have one curve."""

        def plain(value: Any) -> Any:
            if isinstance(value, np.ndarray):
                return tuple((value.round(_DIGITS) + 0.0).ravel().tolist())
            return value

        return (self.track, *(plain(getattr(self.coil, f.name)) for f in fields(self.coil)))


def standing(track: Track, coil: CoilInRotor) -> Standing:
    """Return a track and a coil as their like stand too.

    Notes
    -----
    Turned about the shaft, a curve is shifted. Mirrored in the plane of the track, the potential's
    line integral stays; a magnetisation along the shaft stays, one across it is turned round. The
    sense of the turns is a sign.
    """
    x, y, z = coil.centre.tolist()
    z -= track.height
    frame, sign = coil.frame, 1
    if z < 0.0:
        z = -z
        frame = frame * np.array([[1.0], [1.0], [-1.0]])
        frame[:, 2] *= -1.0  # the turns' sense is that of the mirrored turns
        sign = 1 if track.north is ArmAxis.SHAFT else -1
    angle = 0.0
    out = math.hypot(x, y)
    if out > _ON_SHAFT * (sum(coil.half_opening) + coil.half_length):
        angle = math.atan2(y, x)
        c, s = x / out, y / out
        frame = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) @ frame
        x, y = out, 0.0
    if _backwards(frame[:, 2]):
        frame, sign = frame * np.array([1.0, -1.0, -1.0]), -sign
    if _backwards(frame[:, 0]):
        frame = frame * np.array([-1.0, -1.0, 1.0])
    placed = replace(coil, centre=np.array([x, y, z]), frame=frame)
    return Standing(replace(track, height=0.0), placed, angle, sign)


def _backwards(direction: Array) -> bool:
    size = np.abs(direction)
    # the first of the largest components, which rounding must not choose
    return bool(direction[int(np.argmax(size > size.max() - 1e-9))] < 0.0)


@dataclass(frozen=True)
class CurveBook:
    """Curves by where their track and coil stand; it grows as it is asked.

    Examples
    --------
    >>> from fieldsim.machine.magnets import Cuboid
    >>> track = Track(Cuboid((0.02, 0.01, 0.005)), 0.022, 0.011, ArmAxis.SHAFT)
    >>> facing = replace(track, height=-0.011)
    >>> coil = CoilInRotor(np.array([0.0, 0.022, 0.0]), np.eye(3), (0.012, 0.008), 0.006, 0.006)
    >>> book = CurveBook()
    >>> upper, lower = book.curve(track, coil, 1e-4), book.curve(facing, coil, 1e-4)
    >>> upper.swing_m2 == lower.swing_m2, len(book.curves)
    (True, 1)
    """

    curves: dict[tuple[Any, ...], tuple[float, TrackCurve]] = field(default_factory=dict)

    def curve(self, track: Track, coil: CoilInRotor, relative: float) -> TrackCurve:
        """Return the linkage curve of one magnet of 1 T on its track with one turn of the coil.

        Parameters
        ----------
        track, coil
            What to link, both in the rotor's coordinates.
        relative
            Largest error asked for, relative to the peak-to-peak of the curve.
        """
        place = standing(track, coil)
        if not self._knows(place, relative):
            made = track_curve(place.track, place.coil, 0.0, relative)
            self.curves[place.key] = (relative, made)
        curve = self.curves[place.key][1]
        orders = np.arange(len(curve.harmonics_m2))
        shift = place.sign * np.exp(-1j * place.angle_rad * orders)
        return replace(curve, harmonics_m2=curve.harmonics_m2 * shift)

    def learn(self, asked: Iterable[tuple[Track, CoilInRotor, float]]) -> None:
        """Make those curves together that are quick to make, so that they are known when asked for.

        The others gain nothing by company.

        Parameters
        ----------
        asked
            What `curve` takes; of those that have one curve the first counts.
        """
        missing: dict[tuple[Any, ...], tuple[Track, CoilInRotor, float]] = {}
        for track, coil, relative in asked:
            place = standing(track, coil)
            if not self._knows(place, relative):
                missing.setdefault(place.key, (place.track, place.coil, relative))
        made = quick_curves(list(missing.values()), _QUICK)
        for (key, (_, _, relative)), curve in zip(missing.items(), made, strict=True):
            if curve is not None:
                self.curves[key] = (relative, curve)

    def _knows(self, place: Standing, relative: float) -> bool:
        return place.key in self.curves and self.curves[place.key][0] <= relative
