"""Flux density with iron, outside and inside, in a field that is applied to it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.iron_system import Body, iron_system
from fieldsim.field.iron.point_charges import Reach, field_of_charges
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.iron.screened_bodies import ScreenedBlock, ScreenedRound
from fieldsim.machine.clearance.iron_bodies import iron_distance
from fieldsim.machine.placed import PlacedIron

__all__ = ["flux_with_iron_T"]

Array = NDArray[np.float64]

_MU0 = 4e-7 * math.pi
_INFINITE = 1e12  # as a susceptibility
_NEIGHBOURS = 6
_THIN = 0.25  # of the smallest size: how near a surface the field is told well
_STEP = 1e-4  # of the smallest size: for slopes of the distance


def flux_with_iron_T(
    pieces: Sequence[PlacedIron],
    sources: Sequence[Reach],
    applied_T: Callable[[Array], Array],
    at: Array,
) -> Array:
    """Return the flux density with linear iron [T], (n, 3).

    Parameters
    ----------
    pieces
        Of iron, apart from each other.
    sources
        How far points are from what makes the applied field.
    applied_T
        Its flux density at points (n, 3) [m], (n, 3) [T].
    at
        Points in space [m], (n, 3).

    Notes
    -----
    Outside, the charge on the surface adds its field. Inside, H is what the applied field and that
    charge leave of each other, far too little to be told by their difference. But inside, the
    charge that a body of infinite permeability draws cancels the applied field, so H is the field
    of what the true charge differs from that one by. Nearer to a surface than its nodes are to each
    other, the field at that distance is taken.
    """
    from scipy.spatial import KDTree

    magnetic = [piece for piece in pieces if piece.material.susceptibility > 0]
    if not magnetic:
        return applied_T(at)
    near_m = _THIN * min(min(piece.shape.size) for piece in magnetic)

    def looked_at(points: Array) -> Array:
        return np.full(len(points), near_m)

    system = iron_system(magnetic, [*sources, looked_at], [looked_at], FINENESSES[1])
    applied = applied_T(system.points)[:, :, None] / _MU0
    charge = system.charges(applied)
    tree = KDTree(system.points)
    spacing = tree.query(system.points, _NEIGHBOURS)[0][:, -1]
    nearest = tree.query(at)[1]
    moved, permeability = _off_surfaces(magnetic, at, spacing[nearest])
    found = applied_T(moved) + _MU0 * field_of_charges(system.points, charge, moved)[..., 0]
    body_of = np.repeat(np.arange(len(system.bodies)), [len(b.points) for b in system.bodies])
    for i, body in enumerate(system.bodies):
        within = (permeability > 1) & (body_of[nearest] == i)
        if within.any():
            own = body_of == i
            felt = applied[own] + field_of_charges(system.points[~own], charge[~own], body.points)
            drawn = _ideal(body).charges(np.einsum("pif,pi->pf", felt, body.normals))
            inside = field_of_charges(body.points, charge[own] - drawn, moved[within])[..., 0]
            found[within] = _MU0 * permeability[within, None] * inside
    return found


def _ideal(body: Body) -> Body:
    """Return a body of the same shape and infinite permeability."""
    if isinstance(body, ScreenedRound | ScreenedBlock):
        return _ideal(body.body)
    if isinstance(body, RoundBody):
        profiles = tuple(replace(each, susceptibility=_INFINITE) for each in body.profiles)
        return replace(body, profiles=profiles)
    return replace(body, susceptibility=_INFINITE)


def _off_surfaces(pieces: Sequence[PlacedIron], at: Array, least_m: Array) -> tuple[Array, Array]:
    """Return points moved off surfaces that are nearer than that, and the permeability there."""
    moved, permeability = at.copy(), np.ones(len(at))
    for piece in pieces:
        distance, thinnest = iron_distance(piece), min(piece.shape.size)
        apart = distance(at)
        least = np.minimum(least_m, _THIN * thinnest)
        near = np.abs(apart) < least
        step = _STEP * thinnest * np.eye(3)
        slope = np.stack([distance(at[near] + d) - distance(at[near] - d) for d in step], axis=1)
        slope /= np.maximum(np.linalg.norm(slope, axis=1, keepdims=True), 1e-30)
        away = np.where(apart < 0, -least, least) - apart
        moved[near] += away[near, None] * slope
        permeability[apart < 0] = piece.material.permeability
    return moved, permeability
