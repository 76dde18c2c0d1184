"""Magnets, rotors, coils and machines that tests build: the only place that knows how to.

If the constructors of the package change, this file changes and no test does. Two sets of builders:
those named ``si_`` take every fact in SI units, in a fixed order. The others take lengths and
places in millimetres and angles in radians, so that tests read like a drawing, and left to
themselves make the plainest machine: a bar at 22 mm on an arm along x, turning about z, above a
coil at y = 22 mm whose axis is z too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.rotor_force import magnet_poses
from fieldsim.machine.coils import Coil
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Shape, Sphere
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedMagnet, PlacedRotor
from fieldsim.machine.rotors import Mount, Rotor
from fieldsim.machine.shaft import Shaft
from fieldsim.machine_file.reader import read
from fieldsim.wire.corners import Corners

GEOMETRIES = Path(__file__).parents[1] / "geometries"
MM = 1e-3


def si_magnet(name: str, shape: Shape, remanence: float) -> Magnet:
    """Return a kind of magnet."""
    return Magnet(name, shape, remanence)


def si_mounted(
    kind: Magnet, radius: float, angle: float, height: float, north: North
) -> PlacedMagnet:
    """Return a magnet on an arm."""
    return PlacedMagnet(kind, radius, angle, height, north)


def si_shaft(through, along) -> Shaft:
    """Return a line to turn about."""
    return Shaft(through, along)


def si_rotor(
    name: str,
    shaft: Shaft,
    zero,
    magnets: tuple[PlacedMagnet, ...],
    gear_ratio: Fraction | float = 1,
    start: float = 0.0,
) -> PlacedRotor:
    """Return magnets that turn together."""
    return PlacedRotor(name, shaft, zero, magnets, Fraction(gear_ratio), start)


def si_coil(
    name: str, centre, axis, side, opening, length: float, build: float, turns: float
) -> PlacedCoil:
    """Return a winding."""
    return PlacedCoil(name, centre, axis, side, opening, length, build, turns)


def si_machine(
    title: str,
    magnets: tuple[Magnet, ...],
    rotors: tuple[PlacedRotor, ...],
    coils: tuple[PlacedCoil, ...],
) -> Machine:
    """Return a machine; ``magnets`` may be empty even if the rotors carry some."""
    del magnets
    return described(title, rotors, coils)


def shipped(name: str) -> Machine:
    """Return the machine of a file that comes with the package."""
    return read(GEOMETRIES / f"{name}.yaml")


def block(along_arm: float, across: float, along_shaft: float) -> Cuboid:
    """Return a block by its edges in arm axes."""
    return Cuboid((along_arm * MM, across * MM, along_shaft * MM))


def disc(diameter: float, thickness: float, axis: ArmAxis = ArmAxis.SHAFT) -> Cylinder:
    """Return a disc or rod, lying along an arm axis."""
    return Cylinder(diameter * MM, thickness * MM, axis)


def ball(diameter: float) -> Sphere:
    """Return a ball."""
    return Sphere(diameter * MM)


BAR = block(20, 10, 5)


def magnet(shape: Shape = BAR, remanence_T: float = 1.2, name: str = "m") -> Magnet:
    """Return a kind of magnet."""
    return si_magnet(name, shape, remanence_T)


def mounted(
    kind: Magnet | Shape = BAR,
    radius: float = 22.0,
    height: float = 13.0,
    angle: float = 0.0,
    north: North = North.PLUS_SHAFT,
) -> PlacedMagnet:
    """Return a magnet on an arm; a bare shape is a magnet of 1.2 T."""
    kind = kind if isinstance(kind, Magnet) else magnet(kind)
    return si_mounted(kind, radius * MM, angle, height * MM, north)


def shaft(through=(0.0, 0.0, 0.0), along=(0.0, 0.0, 1.0)) -> Shaft:
    """Return a line to turn about."""
    return si_shaft(tuple(x * MM for x in through), along)


def rotor(
    *magnets: PlacedMagnet,
    through=(0.0, 0.0, 0.0),
    along=(0.0, 0.0, 1.0),
    zero=(1.0, 0.0, 0.0),
    ratio: Fraction | float = 1,
    start: float = 0.0,
    name: str = "r",
) -> PlacedRotor:
    """Return magnets that turn together."""
    return si_rotor(name, shaft(through, along), zero, magnets, ratio, start)


def coil(
    centre=(0.0, 22.0, 0.0),
    axis=(0.0, 0.0, 1.0),
    side=(1.0, 0.0, 0.0),
    opening=(24.0, 16.0),
    length: float = 10.0,
    build: float = 4.0,
    turns: float = 1000.0,
    name: str = "c",
    corners: Corners = Corners.SHARP,
) -> PlacedCoil:
    """Return a winding."""
    made = si_coil(
        name,
        tuple(x * MM for x in centre),
        axis,
        side,
        (opening[0] * MM, opening[1] * MM),
        length * MM,
        build * MM,
        turns,
    )
    return replace(made, corners=corners)


def machine_of(*parts: PlacedRotor | PlacedCoil, title: str = "") -> Machine:
    """Return rotors and coils as one machine, its kinds of magnets gathered from the rotors."""
    rotors = tuple(part for part in parts if isinstance(part, PlacedRotor))
    coils = tuple(part for part in parts if isinstance(part, PlacedCoil))
    return described(title, rotors, coils)


def described(
    title: str, rotors: tuple[PlacedRotor, ...], coils: tuple[PlacedCoil, ...]
) -> Machine:
    """Return the machine whose placed parts are these; its values must be such as a file allows.

    Kinds of magnets of one name that differ are told apart by a number.
    """
    names: dict[Magnet, str] = {}
    for rotor_ in rotors:
        for each in rotor_.magnets:
            if each.magnet not in names:
                taken = each.magnet.name in names.values()
                names[each.magnet] = each.magnet.name + (f"{len(names)}" if taken else "")
    kinds = tuple(Magnet(name, kind.shape, kind.remanence) for kind, name in names.items())
    return Machine(
        title,
        kinds,
        tuple(described_rotor(each, names) for each in rotors),
        tuple(described_coil(each) for each in coils),
    )


def described_rotor(placed: PlacedRotor, names: dict[Magnet, str]) -> Rotor:
    """Return a rotor as a builder would describe it, its magnets one by one."""
    mounts = tuple(
        Mount(names[m.magnet], m.radius, m.height, m.north, m.angle) for m in placed.magnets
    )
    return Rotor(placed.name, placed.shaft, placed.zero, mounts, placed.gear_ratio, placed.start)


def described_coil(placed: PlacedCoil) -> Coil:
    """Return a coil as a builder would describe it, without wire."""
    return Coil(
        placed.name,
        placed.centre,
        placed.axis,
        placed.side,
        placed.opening,
        placed.length,
        placed.build,
        int(placed.turns),
        corners=placed.corners,
    )


@dataclass(frozen=True)
class Standing:
    """Parts in space that no file could describe, such as a winding as thin as a line.

    It has what flux tables, the EMF and drawings ask of a machine, and no more.
    """

    title: str
    placed_rotors: tuple[PlacedRotor, ...]
    placed_coils: tuple[PlacedCoil, ...] = ()
    magnets: tuple[Magnet, ...] = ()
    placed_iron: tuple[PlacedIron, ...] = ()

    def placed_rotor(self, name: str) -> PlacedRotor:
        """Return the rotor of that name."""
        return {rotor.name: rotor for rotor in self.placed_rotors}[name]


IRON = """
title: a rod, a plate, a ball and a frame
magnets: {bar: {size: [20 mm, 10 mm, 5 mm], remanence: 1.2 T}}
rotors:
  upper:
    shaft: {through: [0 mm, 0 mm, 0 mm], along: [0, 0, 1]}
    zero: [1, 0, 0]
    magnets: [{magnet: bar, radius: 26 mm, height: 12 mm, north: +shaft, count: 4}]
coils:
  pickup:
    {centre: [0 mm, 26 mm, 0 mm], axis: [0, 0, 1], side: [1, 0, 0], opening: [14 mm, 20 mm],
     length: 10 mm, build: 7 mm, turns: 1200,
     core: {shape: rod, diameter: 8 mm, length: 12 mm}}
iron:
  plate: {shape: disc, diameter: 80 mm, thickness: 3 mm, centre: [0 mm, 0 mm, 17 mm], on: upper}
  ball: {shape: ball, diameter: 12 mm, centre: [0 mm, -30 mm, 0 mm]}
  frame: {shape: block, size: [60 mm, 5 mm, 30 mm], centre: [0 mm, 52 mm, 0 mm], axis: [0, 0, 1],
          side: [1, 0, 0]}
"""
"""A machine with a core, a plate on its rotor, a ball and a frame, as its file has it."""


def field_T(turning: PlacedRotor, angle_rad: float, points):
    """Return a rotor's flux density at points in space, magnet by magnet."""
    (centres,), (turns,) = magnet_poses(turning, angle_rad)
    total = np.zeros_like(points)
    for each, centre, turn in zip(turning.magnets, centres, turns, strict=True):
        total += outside_field_T(Body.from_mounted(each), (points - centre) @ turn) @ turn.T
    return total
