"""Solid iron whose eddy currents are left out though they matter: what is not along itself."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.field.iron.screened_bodies import has_eddies
from fieldsim.field.iron.skin_effect import skin_depth_m
from fieldsim.machine.iron import Tube
from fieldsim.machine.placed import PlacedIron, PlacedRotor
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.moving_flux import principal_rad_per_s

__all__ = ["solid_iron_cautions"]

Array = NDArray[np.float64]

_ALONG = 0.5  # of its charge, from which a piece counts as magnetised along itself
_LEAST_T = 0.02  # average over a section: less does not count beside the magnets


def solid_iron_cautions(point: MachineAtSpeed) -> tuple[Caution, ...]:
    """Return a caution for each piece of iron whose skin is thin and whose eddies are left out.

    Parameters
    ----------
    point
        The machine at its speed.

    Notes
    -----
    Due where a rotor's magnets change the field of a piece with resistivity, the skin at the
    strongest wave's frequency is less than half the piece's thickness, and what the magnets draw to
    it is mostly not of the kind that eddy currents are reckoned with for
    (`fieldsim.field.iron.screened_bodies`). Pieces that carry less than 0.02 T are left out.
    """
    found: dict[str, Caution] = {}
    solid = [p for p in point.machine.placed_iron if _is_solid(p)]
    if not solid or not any(rotor.magnets for rotor in point.machine.placed_rotors):
        return ()
    omega = principal_rad_per_s(point.flux_table, point.speed)
    speeds = dict(zip(point.flux_table.rotors, point.speed.rotors_rad_per_s, strict=True))
    fastest = max(abs(speed) for speed in speeds.values())
    thin = []
    for piece in solid:
        changing = [r for r in point.machine.placed_rotors if _passes(r, piece, point, speeds)]
        # Each rotor's strongest wave is taken to be of one order.
        seen = max((omega * abs(speeds[r.name]) / fastest for r in changing), default=0.0)
        depth_m = float(skin_depth_m(piece.material, seen)) if seen else math.inf
        if depth_m < _depth_m(piece):
            thin.append((piece, changing, depth_m, seen))
    carried = point.carried_T if thin else {}
    for piece, changing, depth_m, seen in thin:
        if carried.get(piece.name, 0.0) < _LEAST_T:
            continue
        if has_eddies(piece) and all(point.eddies.share_along(r, piece) > _ALONG for r in changing):
            continue
        facts = {"frequency_Hz": seen / math.tau, "carried_T": carried[piece.name]}
        found[piece.name] = Caution(Hazard.SOLID_IRON, piece.name, depth_m, _depth_m(piece), facts)
    return tuple(found.values())


def _is_solid(piece: PlacedIron) -> bool:
    return piece.material.resistivity is not None and piece.material.susceptibility > 0


def _passes(
    rotor: PlacedRotor, piece: PlacedIron, point: MachineAtSpeed, speeds: dict[str, float]
) -> bool:
    """Return whether a rotor's magnets move past a piece."""
    if not rotor.magnets:
        return False
    carrier = next((r for r in point.machine.placed_rotors if r.name == piece.rotor), None)
    if carrier is None or not carrier.shaft.is_on_line_of(rotor.shaft):
        return True
    same_way = np.dot(carrier.shaft.along, rotor.shaft.along) > 0
    turning = speeds[carrier.name] if same_way else -speeds[carrier.name]
    return abs(turning - speeds[rotor.name]) > 1e-9 * abs(speeds[rotor.name])


def _depth_m(piece: PlacedIron) -> float:
    """Return how deep flux has to get; currents round a whole tube leave it one side to enter."""
    shape = piece.shape
    if isinstance(shape, Tube):
        return min((shape.outer - shape.inner) / (4 if shape.slit else 2), shape.length / 2)
    return min(shape.size) / 2
