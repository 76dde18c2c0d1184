"""Single bodies of iron that the tests magnetise, and what comes of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldsim.field.iron.block_body import BlockBody
from fieldsim.field.iron.fineness import profile_of
from fieldsim.field.iron.round_body import Profile, RoundBody
from fieldsim.field.iron.sides import Arc, Line
from fieldsim.machine.iron import Ball, Rod
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron


def round_body(*profiles: Profile, panels=3, order=6, harmonics=3, origin=(0, 0, 0), frame=None):
    """Return round pieces about the z axis, or about the third column of a frame."""
    counts = tuple(
        2 * panels if i % 2 and len(profile.sides) > 1 else panels
        for profile in profiles
        for i, _ in enumerate(profile.sides)
    )
    frame = np.eye(3) if frame is None else frame
    return RoundBody(np.array(origin, float), frame, profiles, counts, order, harmonics)


def profile(kind, *sizes, susceptibility, height=0.0):
    """Return the cross-section of a shape of sizes that no file may have."""
    small = profile_of(kind(*(size / 100 for size in sizes)), height / 100, susceptibility)
    sides = [
        replace(s, start=(100 * s.start[0], 100 * s.start[1]), end=(100 * s.end[0], 100 * s.end[1]))
        if isinstance(s, Line)
        else Arc(100 * s.radius, 100 * s.height)
        for s in small.sides
    ]
    return Profile(tuple(sides), susceptibility)


def rod(diameter, length, susceptibility, height=0.0):
    """Return the cross-section of a rod."""
    return profile(Rod, diameter, length, susceptibility=susceptibility, height=height)


def ball(diameter, susceptibility, height=0.0):
    """Return the cross-section of a ball."""
    return profile(Ball, diameter, susceptibility=susceptibility, height=height)


def block_body(half, susceptibility, panels=(2, 2, 2), order=6, origin=(0, 0, 0), frame=None):
    """Return a block."""
    frame = np.eye(3) if frame is None else frame
    return BlockBody(np.array(origin, float), frame, half, susceptibility, panels, order)


def charges(body, field):
    """Return the charge at a body's points in a field: a vector, or a function of points."""
    applied = field(body.points) if callable(field) else np.broadcast_to(field, body.points.shape)
    normal = np.einsum("pi,pi->p", applied, body.normals)
    return body.charges(normal[:, None])[:, 0]


def moment(body, field):
    """Return the magnetic moment of a body in a field."""
    return charges(body, field) @ body.points


def placed(
    shape,
    permeability=500.0,
    saturation=2.0,
    centre=(0.0, 0.0, 0.0),
    axis=(0.0, 0.0, 1.0),
    side=(0.0, 0.0, 0.0),
):
    """Return a piece of iron as it stands in space; its side is any that is across its axis."""
    if not any(side):
        side = np.roll(axis, 1) - np.dot(np.roll(axis, 1), axis) * np.array(axis)
        side = tuple((side / np.linalg.norm(side)).tolist())
    material = Material(permeability, saturation)
    return PlacedIron("piece", shape, centre, axis, side, material)
