"""What ``check`` prints: all that was understood of a geometry."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction

from fieldsim.field.iron.skin_effect import skin_depth_m
from fieldsim.machine.clearance.clearances import Clearance
from fieldsim.machine.clearance.shaft_crossings import shaft_cautions
from fieldsim.machine.coils import Coil
from fieldsim.machine.gearing import GearWheel
from fieldsim.machine.gears import CRANK
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet
from fieldsim.machine.mechanics import Adhesive, Crank, Friction
from fieldsim.machine.placed import PlacedRotor
from fieldsim.operation.cautions import strong_magnets_caution
from fieldsim.wire.corners import Corners
from fieldsim.words.cautions import caution_lines
from fieldsim.words.layout import PLAIN_WIDTH, Block, Table, laid_out
from fieldsim.words.load_words import load_lines
from fieldsim.words.machine_words import (
    connection_words,
    iron_words,
    packing_words,
    remanence_words,
)
from fieldsim.words.numbers import number, plain_number, share

__all__ = ["check_text"]

_LYING_M = 1e-6  # nobody can measure less

_ZERO_CELSIUS_K = 273.15
_EXAMPLE_RPM = 120.0  # of the crank
_EXAMPLE_Hz = 50.0  # at which the skin of solid iron is told


def check_text(
    machine: Machine, clearances: tuple[Clearance, ...], width: int = PLAIN_WIDTH
) -> str:
    """Return what was understood of a geometry, a line for each part."""
    lines: list[Block] = [
        machine.title,
        *(f"  magnet {m.name}: {_magnet_words(m)}" for m in machine.magnets),
        *(line for rotor in machine.placed_rotors for line in _rotor_lines(rotor)),
        *(line for coil in machine.coils for line in _coil_lines(machine, coil)),
        *(f"  connection {c.name}: {connection_words(c)}" for c in machine.connections),
        *_iron_lines(machine),
        *_load_lines(machine),
        *_gear_blocks(machine),
        *_crank_lines(machine),
        *(f"  clearance {c.first} to {c.second}: {_gap(c)}" for c in clearances),
        *_uncertain(machine),
        *_absent(machine),
        *caution_lines(
            [
                *improbable_sizes(machine),
                *shaft_cautions(machine),
                strong_magnets_caution(machine),
            ]
        ),
    ]
    return laid_out(lines, width)


def _mm(length_m: float) -> str:
    return plain_number(length_m * 1e3, 4)


def _magnet_words(magnet: Magnet) -> str:
    shape = magnet.shape
    if isinstance(shape, Cuboid):
        words = f"block {' x '.join(map(_mm, shape.size))} mm"
    elif isinstance(shape, Cylinder):
        words = (
            f"cylinder {_mm(shape.diameter)} mm across, {_mm(shape.thickness)} mm thick, "
            f"axis along the {shape.axis.name.lower()}"
        )
    else:
        words = f"ball {_mm(shape.diameter)} mm across"
    return f"{words}, {remanence_words(magnet)}"


def _rotor_lines(rotor: PlacedRotor) -> Iterator[str]:
    poles = Counter(f"{m.magnet.name} north {m.north.value}" for m in rotor.magnets)
    held = ", ".join(f"{count} x {what}" for what, count in poles.items())
    start = f", starts at {plain_number(math.degrees(rotor.start), 4)} deg" if rotor.start else ""
    yield f"  rotor {rotor.name}: {held}; {_turning_words(rotor.gear_ratio)}{start}"
    if any(m.north.axis is ArmAxis.FORWARD for m in rotor.magnets):
        way = "with" if rotor.gear_ratio > 0 else "against"
        yield (
            "    north forward is the way its angle grows: "
            f"{way} its motion when the crank turns forward"
        )


def _turning_words(ratio: Fraction) -> str:
    """Return how something turns when the crank turns forward."""
    turns = f"{plain_number(float(ratio), 6)} turn{'' if abs(ratio) == 1 else 's'} per crank turn"
    return f"{turns}, so its angle {'grows' if ratio > 0 else 'falls'}"


def _gap(clearance: Clearance) -> str:
    if clearance.distance_m < _LYING_M:
        return "0 mm, they lie against each other"
    return f"{_mm(clearance.distance_m)} mm"


def _coil_lines(machine: Machine, coil: Coil) -> Iterator[str]:
    placed = coil.placed
    a, b = map(_mm, placed.opening)
    yield (
        f"  coil {coil.name}: {placed.turns:g} turns, opening {a} x {b} mm, length "
        f"{_mm(placed.length)} mm, build {_mm(placed.build)} mm"
        f"{', round corners' if coil.corners is Corners.ROUND else ''}; mean turn "
        f"{_mm(coil.mean_turn_m)} mm, wire {plain_number(coil.wire_length_m, 4)} m"
    )
    if coil.wire:
        winding = coil.winding
        wire_K = machine.idle_wire_K
        celsius = plain_number(wire_K - _ZERO_CELSIUS_K, 4)
        yield (
            f"    of {winding.wire.name}, {_mm(winding.wire.bare_diameter_m)} mm of copper: "
            f"{plain_number(coil.resistance_ohm(wire_K))} ohm at {celsius} °C"
        )
        yield f"    {packing_words(winding)}"


def _iron_lines(machine: Machine) -> Iterator[str]:
    for piece, line in zip(machine.placed_iron, iron_words(machine), strict=True):
        yield f"  {line[0].lower()}{line[1:]}".replace("×", "x")
        if piece.material.resistivity is not None:
            skin = _mm(float(skin_depth_m(piece.material, math.tau * _EXAMPLE_Hz)))
            yield f"    flux that changes at {_EXAMPLE_Hz:g} Hz keeps to a skin of {skin} mm"


def _load_lines(machine: Machine) -> Iterator[str]:
    if machine.load:
        first, *groups = load_lines(machine.load)
        yield f"  load across {machine.load.across}: {first}"
        yield from (f"    {group}" for group in groups)


def _gear_blocks(machine: Machine) -> Iterator[Block]:
    gears = machine.gears
    if not gears:
        return
    ratios = machine.train.link_ratios
    rows = [
        [
            wheel.name,
            _hangs_on(wheel),
            ", ".join(wheel.rotors) or "-",
            str(wheel.teeth),
            plain_number(float(ratios[wheel.name]), 6),
            plain_number(abs(float(ratios[wheel.name])) * _EXAMPLE_RPM, 5),
        ]
        for wheel in gears.wheels
    ]
    header = [
        "wheel",
        "turned by",
        "rotor",
        "teeth",
        "turns per crank turn",
        f"rpm at {_EXAMPLE_RPM:g} of the crank",
    ]
    yield f"  gears: each mesh passes on {share(gears.mesh_efficiency)} of the power"
    yield from ("", Table(header, rows, left=3, names=1), "")


def _hangs_on(wheel: GearWheel) -> str:
    if wheel.driven_by is None:
        return "the crank" if wheel.on == CRANK else f"the axle of {wheel.on}"
    same = ", the same way" if wheel.sense == "same" else ""
    own = "" if wheel.efficiency is None else f", passing on {share(wheel.efficiency)}"
    return f"wheel {wheel.driven_by}{same}{own}"


def _crank_lines(machine: Machine) -> Iterator[str]:
    if machine.crank:
        yield f"  crank: {_arm_words(machine.crank)}"
    if machine.friction:
        yield f"  friction: {_friction_words(machine.friction)}"
    if machine.adhesive:
        yield f"  glue: {_glue_words(machine.adhesive)}"


def _arm_words(crank: Crank) -> str:
    force = plain_number(crank.hand_force, 4)
    return f"arm of {_mm(crank.arm)} mm; the hand gives up to {force} N"


def _friction_words(friction: Friction) -> str:
    steady = {"at the crank": friction.crank, "at each rotor": friction.each_rotor}
    words = [f"{number(1e3 * torque)} mN m {where}" for where, torque in steady.items() if torque]
    drag = friction.each_rotor_per_speed
    if drag:
        at_1000_rpm = 1e3 * drag * 1000 * math.pi / 30
        words.append(f"and growing with speed, {number(at_1000_rpm)} mN m more at 1000 rpm")
    return ", ".join(words)


def _glue_words(glue: Adhesive) -> str:
    stresses = {"along the joint": glue.shear_strength, "across it": glue.peel_strength}
    holds = [f"{plain_number(p / 1e6)} MPa {way}" for way, p in stresses.items() if p is not None]
    side = "the side across the shaft" if glue.glued_on is None else f"side {glue.glued_on.value}"
    area = "" if glue.area is None else f", {plain_number(1e6 * glue.area)} mm2 of it"
    strength = f"holds {' and '.join(holds)}" if holds else "strength not given"
    density = f"magnets of {plain_number(glue.density, 4)} kg/m3"
    return f"{strength}, on {side}{area}; {density}"


def _uncertain(machine: Machine) -> Iterator[str]:
    if machine.uncertain:
        known = ", ".join(f"{each.path} {each.text}" for each in machine.uncertain)
        yield f"  give or take: {known}"


def _absent(machine: Machine) -> Iterator[str]:
    """Yield what the file leaves out, if it does."""
    bare = [coil.name for coil in machine.coils if not coil.wire]
    parts = {
        f"wire of {', '.join(bare)}": not bare,
        "load": machine.load,
        "gears": machine.gears,
        "crank": machine.crank,
        "friction": machine.friction,
        "glue": machine.adhesive,
    }
    absent = [name for name, part in parts.items() if not part]
    if absent:
        yield f"  left out in the file: {', '.join(absent)}"
