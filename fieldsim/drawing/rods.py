"""Shafts and arms of a machine as rods, and the circles that its magnets sweep."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.solids import (
    Material,
    Rod,
    Solid,
    magnet_frame,
    outer_radius_m,
    rod_outside,
)
from fieldsim.drawing.views import View
from fieldsim.machine.frames import dot
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedRotor
from fieldsim.machine.shaft import Shaft

__all__ = ["same_line", "shafts_and_arms", "swept_circle_mm"]

Points = NDArray[np.float64]

_SPARE = 0.14  # of the machine's size: how far shafts stand out
_APART = 0.02  # of the same: half of what is left free between two shafts on one line


def shafts_and_arms(
    geometry: Machine, magnets: list[Solid], windings: list[Solid], crank_angle_rad: float
) -> list[Rod]:
    """Return shafts and arms, without what lies inside other parts."""
    rods: list[Rod] = []
    everything = [*magnets, *windings]
    corners = np.concatenate([s.corners for s in everything])
    done: list[Shaft] = []
    for rotor in geometry.placed_rotors:
        along = np.array(rotor.shaft.along)
        origin = np.array(rotor.shaft.through)
        for mounted in rotor.magnets:
            centre, _ = magnet_frame(rotor, mounted, crank_angle_rad)
            foot = origin + along * mounted.height
            if mounted.radius > 1e-6:
                arm = Rod(rotor.name, Material.ARM, foot, centre)
                rods += rod_outside(arm, everything)
        if any(same_line(rotor.shaft, other) for other in done):
            continue
        done.append(rotor.shaft)
        own = [r for r in geometry.placed_rotors if same_line(r.shaft, rotor.shaft)]
        crossed = [(s.corners - origin) @ along for s in windings if _crosses(rotor.shaft, s)]
        reaches = [
            (name, heights if len(heights) else (corners - origin) @ along)
            for name, heights in _by_speed(own, magnets)
        ]
        for name, low, high in _shaft_ends(reaches, crossed, float(np.ptp(corners, axis=0).max())):
            shaft = Rod(name, Material.SHAFT, origin + low * along, origin + high * along)
            rods += rod_outside(shaft, everything)
    return rods


def _by_speed(rotors: Sequence[PlacedRotor], magnets: Sequence[Solid]) -> list[tuple[str, Points]]:
    """Return, for rotors of one line that turn alike, a name and all heights of their magnets.

    Heights are from the first rotor's ``through`` along its shaft [m].
    """
    along, origin = (np.array(v) for v in (rotors[0].shaft.along, rotors[0].shaft.through))
    found = []
    for speed in dict.fromkeys(_turns(rotor, along) for rotor in rotors):
        names = [rotor.name for rotor in rotors if _turns(rotor, along) == speed]
        own = [(s.corners - origin) @ along for s in magnets if s.part in names]
        found.append((names[0], np.concatenate(own) if own else np.empty(0)))
    return found


def _turns(rotor: PlacedRotor, along: Points) -> Fraction:
    """Return a rotor's turns about a line per crank turn, as seen from one end of the line."""
    return Fraction(rotor.gear_ratio) * (1 if np.array(rotor.shaft.along) @ along > 0 else -1)


def _shaft_ends(
    reaches: Sequence[tuple[str, Points]], crossed: Sequence[Points], scale: float
) -> list[tuple[str, float, float]]:
    """Return where the shafts of one line begin and end: apart, where what they turn is.

    Parameters
    ----------
    reaches
        Name and heights of what each shaft turns [m].
    crossed
        Heights of the windings that the line passes through [m].
    scale
        Size of the machine [m].

    Returns
    -------
    list
        Name, lower and upper end [m]. Shafts that would reach into each other are drawn as one.
    """
    spare, apart = _SPARE * scale, _APART * scale
    spans: list[tuple[str, float, float]] = []
    for name, heights in sorted(reaches, key=lambda reach: float(reach[1].min())):
        low, high = float(heights.min()), float(heights.max())
        if spans and low < spans[-1][2] + 2 * apart:
            first, start, end = spans[-1]
            spans[-1] = (first, start, max(end, high))
        else:
            spans.append((name, low, high))
    lowest = min([spans[0][1], *(float(c.min()) for c in crossed)]) - spare
    highest = max([spans[-1][2], *(float(c.max()) for c in crossed)]) + spare
    middles = [(one[2] + two[1]) / 2 for one, two in pairwise(spans)]
    begins = [
        lowest,
        *(max(m + apart, one[1] - spare) for m, one in zip(middles, spans[1:], strict=True)),
    ]
    ends = [
        *(min(m - apart, one[2] + spare) for m, one in zip(middles, spans[:-1], strict=True)),
        highest,
    ]
    return [(name, b, e) for (name, _, _), b, e in zip(spans, begins, ends, strict=True)]


def swept_circle_mm(rotor: PlacedRotor, magnets: list[Solid], view: View) -> Points:
    """Return the circle (points, 2) of the rotor's outermost magnet corner [mm]."""
    frame = np.asarray(rotor.frame, dtype=np.float64)
    turn = np.linspace(0, 2 * np.pi, 181)
    ring = np.outer(np.cos(turn), frame[:, 0]) + np.outer(np.sin(turn), frame[:, 1])
    return view.flat_mm(np.array(rotor.shaft.through) + outer_radius_m(rotor, magnets) * ring)


def _crosses(shaft: Shaft, solid: Solid) -> bool:
    """Return whether a shaft's line passes through a solid."""
    far = 10.0 * float(np.abs(solid.corners - np.array(shaft.through)).max())
    reach = far * np.array(shaft.along)
    origin = np.array(shaft.through)
    whole = Rod("", Material.SHAFT, origin - reach, origin + reach)
    pieces = rod_outside(whole, [solid])
    return len(pieces) != 1


def same_line(one: Shaft, two: Shaft) -> bool:
    """Return whether two shafts lie on one line, whichever way they point."""
    along = np.array(one.along)
    off = np.subtract(two.through, one.through)
    off = off - along * (off @ along)
    return abs(dot(one.along, two.along)) > 1 - 1e-9 and float(off @ off) < 1e-12
