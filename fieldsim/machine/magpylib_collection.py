"""Hand the machine to magpylib, for its fields, forces and interactive pictures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor
from fieldsim.wire.corners import Corners

if TYPE_CHECKING:
    import magpylib
    from numpy.typing import NDArray

    from fieldsim.machine.machine import Machine

__all__ = ["magpylib_coil", "magpylib_collection", "magpylib_magnet", "magpylib_rotor"]

_CHORDS = 16  # round a corner; what they cut off is below a thousandth of its area
# Turns a cylinder's own axis (z) onto the arm axis it lies along.
_AXIS_TURN = {
    ArmAxis.ARM: np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]),
    ArmAxis.FORWARD: np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]),
    ArmAxis.SHAFT: np.eye(3),
}


def magpylib_magnet(
    rotor: PlacedRotor, mounted: PlacedMagnet, rotor_angle_rad: float = 0.0
) -> magpylib.magnet.Cuboid | magpylib.magnet.Cylinder | magpylib.magnet.Sphere:
    """Return one mounted magnet, in place, at a rotor angle."""
    import magpylib
    from scipy.spatial.transform import Rotation

    angle = mounted.angle + rotor_angle_rad
    c, s = math.cos(angle), math.sin(angle)
    arm = rotor.frame @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    position = np.array(rotor.shaft.through) + arm @ [mounted.radius, 0.0, mounted.height]
    shape = mounted.magnet.shape
    label = f"{rotor.name}: {mounted.magnet.name}"
    polarization = np.array(mounted.polarization_T)
    if isinstance(shape, Cuboid):
        return magpylib.magnet.Cuboid(
            dimension=shape.size,
            polarization=polarization,
            position=position,
            orientation=Rotation.from_matrix(arm),
            style_label=label,
        )
    if isinstance(shape, Cylinder):
        turn = _AXIS_TURN[shape.axis]
        return magpylib.magnet.Cylinder(
            dimension=(shape.diameter, shape.thickness),
            polarization=turn.T @ polarization,
            position=position,
            orientation=Rotation.from_matrix(arm @ turn),
            style_label=label,
        )
    return magpylib.magnet.Sphere(
        diameter=shape.diameter,
        polarization=polarization,
        position=position,
        orientation=Rotation.from_matrix(arm),
        style_label=label,
    )


def magpylib_rotor(rotor: PlacedRotor, rotor_angle_rad: float = 0.0) -> magpylib.Collection:
    """Return all magnets of a rotor at a rotor angle."""
    import magpylib

    return magpylib.Collection(
        *[magpylib_magnet(rotor, m, rotor_angle_rad) for m in rotor.magnets],
        style_label=rotor.name,
    )


def magpylib_coil(coil: PlacedCoil, layers: int = 3, rows: int = 5) -> magpylib.Collection:
    """Return a coil carrying one ampere a turn as ``layers`` x ``rows`` closed filaments.

    Round corners are drawn in short chords.
    """
    import magpylib

    depth = coil.build * (np.arange(layers) + 0.5) / layers
    rise = coil.length * ((np.arange(rows) + 0.5) / rows - 0.5)
    lines = []
    for u in depth:
        flat = _turn(coil, float(u))
        for w in rise:
            local = np.column_stack([flat, np.full(len(flat), w)])
            lines.append(
                magpylib.current.Polyline(
                    vertices=np.array(coil.centre) + local @ coil.frame.T,
                    current=coil.turns / (layers * rows),
                )
            )
    return magpylib.Collection(*lines, style_label=coil.name)


def _turn(coil: PlacedCoil, depth_m: float) -> NDArray[np.float64]:
    """Return a turn at a depth as a closed polygon across the axis, (points, 2) [m]."""
    corners = np.array([[1, -1], [1, 1], [-1, 1], [-1, -1]])
    half = np.array(coil.opening) / 2
    if coil.corners is Corners.SHARP:
        flat = corners * (half + depth_m)
    else:
        bend = np.linspace(0.0, math.pi / 2, _CHORDS + 1)
        angle = bend + math.pi / 2 * np.arange(-1, 3)[:, None]
        out = depth_m * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        flat = ((corners * half)[:, None] + out).reshape(-1, 2)
    return np.concatenate([flat, flat[:1]])


def magpylib_collection(machine: Machine, crank_angle_rad: float = 0.0) -> magpylib.Collection:
    """Return the whole machine at a crank angle: one child collection a rotor and a coil.

    Coils carry one ampere a turn; set their current to zero for the magnets' field alone.
    """
    import magpylib

    rotors = [
        magpylib_rotor(r, r.start + float(r.gear_ratio) * crank_angle_rad)
        for r in machine.placed_rotors
    ]
    return magpylib.Collection(
        *rotors, *[magpylib_coil(c) for c in machine.placed_coils], style_label=machine.title
    )
