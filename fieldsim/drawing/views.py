"""From which sides a machine is best seen: flat views and the plane of shaft and coil."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine import frames
from fieldsim.machine.frames import Vec3, cross, dot, perpendicular_part
from fieldsim.machine.machine import Machine
from fieldsim.machine.shaft import Shaft

__all__ = [
    "View",
    "along_shaft_view",
    "axis_label",
    "main_shaft",
    "oblique_view",
    "seen_from",
    "shaft_and_coil_view",
    "view_from",
]

_ALIGNED = 1e-9
_NAMED = 5e-3  # from this share of a direction on, an axis is named
_AXES: tuple[Vec3, Vec3, Vec3] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
# Drawings show x or y to the right and z up (y up from above), so these are the usual sides.
_USUAL_SIGN = (1.0, -1.0, 1.0)


@dataclass(frozen=True)
class View:
    """A flat picture's frame.

    Parameters
    ----------
    right, up
        Unit vectors of the picture, at right angles.
    through
        A point of the picture's plane [m].
    """

    right: Vec3
    up: Vec3
    through: Vec3 = (0.0, 0.0, 0.0)

    @property
    def towards(self) -> Vec3:
        """Unit vector from the machine to the reader."""
        return cross(self.right, self.up)

    def flat_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 3) [m] as picture coordinates (..., 2) [mm]."""
        flat: NDArray[np.float64] = points @ np.array([self.right, self.up]).T * 1e3
        return flat

    def depth_mm(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how near points (..., 3) [m] stand to the reader (...,) [mm]."""
        depth: NDArray[np.float64] = points @ np.array(self.towards) * 1e3
        return depth


def view_from(direction: Vec3, up: Vec3 | None = None) -> View:
    """Return the view seen from ``direction``, a vector from the machine to the reader.

    Parameters
    ----------
    direction
        Any length above zero.
    up
        What points upwards in the picture; by default z, or y in a view along z.

    Examples
    --------
    >>> view_from((0, 0, 1)).right
    (1.0, 0.0, 0.0)
    >>> view_from((0, -2, 0)).up
    (0.0, 0.0, 1.0)
    """
    towards = frames.unit(direction)
    if up is None:
        up = _AXES[1] if math.hypot(towards[0], towards[1]) < _ALIGNED else _AXES[2]
    up = perpendicular_part(up, towards)
    right = cross(up, towards)
    return View(_clean(right), _clean(up))


def main_shaft(machine: Machine) -> Shaft:
    """Return the first shaft of the direction that most rotors share."""
    shafts = [r.shaft for r in machine.placed_rotors]
    if not shafts:
        coil = machine.placed_coils[0]
        return Shaft(coil.centre, coil.axis)

    def company(shaft: Shaft) -> int:
        return sum(abs(dot(shaft.along, other.along)) > 1 - 1e-6 for other in shafts)

    return max(shafts, key=company)


def along_shaft_view(machine: Machine) -> View:
    """Return the view along the main shaft."""
    return view_from(_usual_side(main_shaft(machine).along))


def shaft_and_coil_view(machine: Machine, coil_name: str | None = None) -> View:
    """Return the view onto the plane that holds the main shaft and a coil's centre.

    Parameters
    ----------
    machine
        The machine.
    coil_name
        Which coil; by default the first that stands off the shaft, else the first.

    Notes
    -----
    Where the coil's centre lies on the shaft, the plane holds the shaft and the coil's axis; and
    where that is parallel to the shaft, the coil's ``side``.
    """
    shaft = main_shaft(machine)
    coils = machine.placed_coils if coil_name is None else (machine.coil(coil_name),)
    for coil in coils:
        offset = np.subtract(coil.centre, shaft.through)
        offset = offset - np.array(shaft.along) * (offset @ np.array(shaft.along))
        reach = max(*coil.opening, coil.length)
        if math.hypot(*offset) > 0.01 * reach:
            second: Vec3 = (float(offset[0]), float(offset[1]), float(offset[2]))
            through = coil.centre
            break
    else:
        if coils:
            coil = coils[0]
            through = coil.centre
            second = coil.axis if abs(dot(coil.axis, shaft.along)) < 0.99 else coil.side
        else:
            through = shaft.through
            second = min(_AXES, key=lambda axis: abs(dot(axis, shaft.along)))
    towards = _usual_side(frames.unit(cross(shaft.along, second)))
    upward = next((a for a in reversed(_AXES) if abs(dot(a, towards)) < _ALIGNED), shaft.along)
    view = view_from(towards, upward)
    return View(view.right, view.up, through)


def oblique_view(machine: Machine) -> View:
    """Return a view from above and one side, with the coils in front of the main shaft."""
    shaft = main_shaft(machine)
    centres = np.array([c.centre for c in machine.placed_coils] or [shaft.through])
    offset = centres.mean(axis=0) - np.array(shaft.through)
    along = np.array(shaft.along)
    offset = offset - along * (offset @ along)
    aside = math.hypot(offset[0], offset[1]) > 1e-4
    azimuth = math.atan2(offset[1], offset[0]) - math.radians(38.0) if aside else -math.radians(60)
    elevation = math.radians(32.0)
    return view_from(
        (
            math.cos(elevation) * math.cos(azimuth),
            math.cos(elevation) * math.sin(azimuth),
            math.sin(elevation),
        )
    )


def axis_label(direction: Vec3, unit: str = " (mm)") -> str:
    """Return the name of a picture axis along ``direction``, with its unit.

    Examples
    --------
    >>> axis_label((0.0, 1.0, 0.0))
    'y (mm)'
    >>> axis_label((0.6, -0.8, 0.0))
    '0.60 x − 0.80 y (mm)'
    >>> axis_label((0.0, -1.0, 0.0), unit="")
    '−y'
    """
    terms: list[str] = []
    for value, name in zip(direction, "xyz", strict=True):
        if abs(value) < _NAMED:
            continue
        size = "" if abs(value) > 1 - 1e-6 else f"{abs(value):.2f} "
        sign = "− " if value < 0 else "+ " if terms else ""
        terms.append(f"{sign if terms else sign.strip()}{size}{name}")
    return " ".join(terms) + unit


def seen_from(direction: Vec3) -> str:
    """Return in words from where a picture is seen.

    Parameters
    ----------
    direction
        From the machine to the reader, a unit vector.

    Examples
    --------
    >>> seen_from((0.0, -1.0, 0.0)), seen_from((0.5, -0.866, 0.0))
    ('seen from −y', 'seen from between +x and −y')
    >>> seen_from((0.42, -0.73, 0.53))
    'seen obliquely from −y'
    """
    sides = {
        f"{'−' if value < 0 else '+'}{name}": abs(value)
        for value, name in zip(direction, "xyz", strict=True)
        if abs(value) >= _NAMED
    }
    if len(sides) > 2:
        return f"seen obliquely from {max(sides, key=lambda side: sides[side])}"
    return f"seen from {'between ' if len(sides) > 1 else ''}{' and '.join(sides)}"


def _usual_side(direction: Vec3) -> Vec3:
    lead = max(range(3), key=lambda i: abs(direction[i]))
    return _scaled(direction, math.copysign(1.0, direction[lead]) * _USUAL_SIGN[lead])


def _scaled(v: Sequence[float], factor: float) -> Vec3:
    return (v[0] * factor + 0.0, v[1] * factor + 0.0, v[2] * factor + 0.0)


def _clean(v: Vec3) -> Vec3:
    return _scaled([0.0 if abs(x) < _ALIGNED else x for x in v], 1.0)
