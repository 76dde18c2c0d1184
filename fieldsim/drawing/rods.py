"""Shafts and arms of a machine as rods, and the circles that its magnets sweep."""

from __future__ import annotations

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

__all__ = ["shafts_and_arms", "swept_circle_mm"]

Points = NDArray[np.float64]


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
        if any(_same_line(rotor.shaft, other) for other in done):
            continue
        done.append(rotor.shaft)
        own = [r for r in geometry.placed_rotors if _same_line(r.shaft, rotor.shaft)]
        names = {r.name for r in own}
        near = np.concatenate([s.corners for s in magnets if s.part in names] or [corners])
        crossed = [s.corners for s in windings if _crosses(rotor.shaft, s)]
        heights = (np.concatenate([near, *crossed]) - origin) @ along
        spare = 0.14 * float(np.ptp(corners, axis=0).max())
        low, high = heights.min() - spare, heights.max() + spare
        shaft = Rod(rotor.name, Material.SHAFT, origin + low * along, origin + high * along)
        rods += rod_outside(shaft, everything)
    return rods


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


def _same_line(one: Shaft, two: Shaft) -> bool:
    along = np.array(one.along)
    off = np.subtract(two.through, one.through)
    off = off - along * (off @ along)
    return abs(dot(one.along, two.along)) > 1 - 1e-9 and float(off @ off) < 1e-12
