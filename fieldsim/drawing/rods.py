"""Shafts and arms of a machine as rods, and the circles that its magnets sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.painter_order import Boxes
from fieldsim.drawing.solids import (
    Material,
    Rod,
    Solid,
    magnet_frame,
    outer_radius_m,
    rod_outside,
)
from fieldsim.drawing.views import View
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedRotor
from fieldsim.machine.shaft import Shaft

__all__ = ["shafts_and_arms", "swept_circle_mm"]

Points = NDArray[np.float64]

_SPARE = 0.14  # of the machine's size: how far shafts stand out
_APART = 0.02  # of the same: half of what is left free between two shafts on one line


def shafts_and_arms(
    machine: Machine, magnets: list[Solid], windings: list[Solid], crank_angle_rad: float
) -> list[Rod]:
    """Return shafts and arms, without what lies inside other parts."""
    rods: list[Rod] = []
    everything = [*magnets, *windings]
    corners = np.concatenate([s.corners for s in everything])
    outside = _Outside(everything)
    done: list[Shaft] = []
    for rotor in machine.placed_rotors:
        along = np.array(rotor.shaft.along)
        origin = np.array(rotor.shaft.through)
        for mounted in rotor.magnets:
            centre, _ = magnet_frame(rotor, mounted, crank_angle_rad)
            foot = origin + along * mounted.height
            if mounted.radius > 1e-6:
                arm = Rod(rotor.name, Material.ARM, foot, centre)
                rods += outside.pieces(arm)
        if any(rotor.shaft.is_on_line_of(other) for other in done):
            continue
        done.append(rotor.shaft)
        own = [r for r in machine.placed_rotors if r.shaft.is_on_line_of(rotor.shaft)]
        crossed = [(s.corners - origin) @ along for s in windings if _crosses(rotor.shaft, s)]
        reaches = [_reach(each, magnets, corners, rotor.shaft) for each in own]
        for name, low, high in _shaft_ends(reaches, crossed, float(np.ptp(corners, axis=0).max())):
            shaft = Rod(name, Material.SHAFT, origin + low * along, origin + high * along)
            rods += outside.pieces(shaft)
    return rods


class _Outside:
    """What is left of rods outside solids; only those near a rod are looked at."""

    def __init__(self, solids: list[Solid]) -> None:
        self._solids, self._boxes = solids, Boxes([s.corners for s in solids])

    def pieces(self, rod: Rod) -> list[Rod]:
        """Return the pieces of a rod that lie outside all solids."""
        near = self._boxes.meeting(np.array([rod.start, rod.end]))
        return rod_outside(rod, [self._solids[i] for i in near])


@dataclass(frozen=True)
class _Reach:
    """What a piece of shaft turns: from where to where along its line [m], and how fast.

    ``turns`` are per crank turn, as seen from one end of the line.
    """

    rotor: str
    low: float
    high: float
    turns: Fraction


def _reach(rotor: PlacedRotor, magnets: Sequence[Solid], corners: Points, line: Shaft) -> _Reach:
    """Return how far a rotor's magnets reach along a line; without magnets, all corners."""
    along, origin = np.array(line.along), np.array(line.through)
    own = [s.corners for s in magnets if s.part == rotor.name]
    heights = (np.concatenate(own or [corners]) - origin) @ along
    sense = 1 if np.array(rotor.shaft.along) @ along > 0 else -1
    return _Reach(rotor.name, float(heights.min()), float(heights.max()), sense * rotor.gear_ratio)


def _shaft_ends(
    reaches: Sequence[_Reach], crossed: Sequence[Points], scale: float
) -> list[tuple[str, float, float]]:
    """Return where the shafts of one line begin and end: apart, where what they turn is.

    Parameters
    ----------
    reaches
        Of the rotors on the line.
    crossed
        Heights of the windings that the line passes through [m].
    scale
        Size of the machine [m].

    Returns
    -------
    list
        Name, lower and upper end [m]. Neighbours that turn alike are on one shaft, and so are drawn
        those that reach into each other.
    """
    spare, apart = _SPARE * scale, _APART * scale
    pieces: list[_Reach] = []
    for reach in sorted(reaches, key=lambda each: each.low):
        last = pieces[-1] if pieces else None
        if last and (last.turns == reach.turns or reach.low < last.high + 2 * apart):
            pieces[-1] = replace(last, high=max(last.high, reach.high))
        else:
            pieces.append(reach)
    begins, ends = [pieces[0].low - spare], [pieces[-1].high + spare]
    for heights in crossed:
        begins[0] = min(begins[0], float(heights.min()) - spare)
        ends[-1] = max(ends[-1], float(heights.max()) + spare)
    for one, two in pairwise(pieces):
        middle = (one.high + two.low) / 2
        ends.insert(-1, min(middle - apart, one.high + spare))
        begins.append(max(middle + apart, two.low - spare))
    return [(each.rotor, b, e) for each, b, e in zip(pieces, begins, ends, strict=True)]


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
