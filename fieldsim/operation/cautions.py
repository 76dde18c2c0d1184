"""What can hurt in a machine that is handled and cranked."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from fieldsim.cautions import Caution, Fact, Hazard
from fieldsim.machine.gears import COMFORTABLE_CRANK_SPEED_rpm
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cylinder, Shape, Sphere
from fieldsim.waveform.emf import Speed

if TYPE_CHECKING:
    from fieldsim.machine.mechanics import Crank
    from fieldsim.mechanics.crank_effort import CrankEffort
    from fieldsim.mechanics.magnet_retention import RotorHold
    from fieldsim.operation.effort import Effort, PairForces

__all__ = [
    "FORCE_MARGIN",
    "NOTABLE_RIM_M_PER_S",
    "PINCH_N",
    "SHAKING_N",
    "UNEVEN_SPEED",
    "balance_caution",
    "crank_cautions",
    "effort_cautions",
    "fast_magnets_caution",
    "glue_caution",
    "pinch_caution",
    "strong_magnets_caution",
    "uneven_speed_caution",
]

PINCH_N = 20.0
"""From this pull on, a finger between the magnets is hurt: common practice, no published source.
Small edges hurt at less."""

FORCE_MARGIN = 4.0
"""A joint is called near its limit when it bears more than one part in four of what breaks it:
common practice for glue of uncertain quality, no published source."""

SHAKING_N = 1.0
"""Sideways pull of an unbalanced rotor from which a word is due: common practice, no published
source."""

UNEVEN_SPEED = 0.1
"""Share of its average by which the crank's speed may swing before a word is due: common practice,
no published source. Voltages swing with it, lamps more."""

NOTABLE_RIM_M_PER_S = 5.0
"""Speed of a magnet's outer edge above which a hobby builder should think twice: common practice,
no published source."""


def strong_magnets_caution(machine: Machine) -> Caution:
    """Return the caution for handling the magnets of a machine, named for the strongest."""
    strongest = max(machine.magnets, key=lambda m: m.shape.volume_m3 * m.remanence)
    count = sum(len(rotor.magnets) for rotor in machine.placed_rotors)
    facts = {"count": float(count), **_sizes_m(strongest.shape)}
    return Caution(Hazard.STRONG_MAGNETS, strongest.name, strongest.remanence, None, facts)


def _sizes_m(shape: Shape) -> dict[str, float]:
    if isinstance(shape, Sphere):
        return {"diameter_m": shape.diameter}
    if isinstance(shape, Cylinder):
        return {"diameter_m": shape.diameter, "thickness_m": shape.thickness}
    return dict(zip(("first_m", "second_m", "third_m"), shape.size, strict=True))


def fast_magnets_caution(machine: Machine, speed: Speed) -> Caution | None:
    """Return the caution for the rotor whose magnets' edges are fastest; None if that is slow."""
    edges = [
        (abs(turning) * (mounted.radius + mounted.magnet.size[0] / 2), rotor.name, abs(turning))
        for rotor, turning in zip(machine.placed_rotors, speed.rotors_rad_per_s, strict=True)
        for mounted in rotor.magnets
    ]
    fastest, name, turning = max(edges, key=lambda edge: edge[0], default=(0.0, "", 0.0))
    if fastest < NOTABLE_RIM_M_PER_S:
        return None
    facts = {"speed_rad_per_s": turning}
    return Caution(Hazard.FAST_MAGNETS, name, fastest, NOTABLE_RIM_M_PER_S, facts)


def pinch_caution(pairs: Iterable[PairForces]) -> Caution | None:
    """Return the caution for the pair that pulls most, in place or on the way there; or None."""
    pulls = [
        (
            max(
                pair.attraction.peak_pull_N,
                pair.assembly.peak_pull_N if pair.assembly else -math.inf,
            ),
            f"{pair.attraction.first} and {pair.attraction.second}",
        )
        for pair in pairs
    ]
    pull_N, names = max(pulls, key=lambda pull: pull[0], default=(0.0, ""))
    return None if pull_N < PINCH_N else Caution(Hazard.PINCH, names, pull_N, PINCH_N)


def balance_caution(hold: RotorHold) -> Caution | None:
    """Return a caution about a rotor whose magnets do not balance each other, or None."""
    if hold.imbalance_N < SHAKING_N:
        return None
    facts = {"speed_rad_per_s": hold.speed_rad_per_s}
    return Caution(Hazard.BALANCE, hold.rotor, hold.imbalance_N, SHAKING_N, facts)


def glue_caution(hold: RotorHold) -> Caution | None:
    """Return a caution if a magnet is near leaving its arm, or does not even hold at rest.

    Its value is the share of the joint's strength in use.
    """
    weak = hold.weakest
    if weak.glue_load * FORCE_MARGIN <= 1:
        return None
    kind = Hazard.FLYING_MAGNETS if weak.leaves_at_rad_per_s else Hazard.LOOSE_MAGNETS
    facts: dict[str, Fact] = {
        "magnet": weak.name,
        "number": float(weak.number),
        "magnetic_N": math.hypot(weak.magnetic_shear_N, weak.magnetic_lift_N),
        "centrifugal_N": weak.centrifugal_N,
        "speed_rad_per_s": hold.speed_rad_per_s,
        "leaves_at_rad_per_s": weak.leaves_at_rad_per_s,
    }
    return Caution(kind, hold.rotor, weak.glue_load, 1 / FORCE_MARGIN, facts)


def crank_cautions(effort: CrankEffort, arm: Crank | None = None) -> list[Caution]:
    """Return what the hand should know: too large a force on the arm, too high a speed."""
    found = []
    if arm and effort.peak_torque_Nm / arm.arm > arm.hand_force:
        force_N = effort.peak_torque_Nm / arm.arm
        facts = {"arm_m": arm.arm}
        found.append(Caution(Hazard.HAND_FORCE, "crank", force_N, arm.hand_force, facts))
    low, high = (rpm * math.pi / 30 for rpm in COMFORTABLE_CRANK_SPEED_rpm)
    speed = abs(effort.speed_rad_per_s)
    if speed > high * (1 + 1e-9):
        facts = {"comfortable_from_rad_per_s": low}
        found.append(Caution(Hazard.CRANK_SPEED, "crank", speed, high, facts))
    return found


def uneven_speed_caution(effort: Effort) -> Caution | None:
    """Return the caution for a crank whose speed the magnets do not let be steady, or None.

    Its value is the larger swing to either side.
    """
    swing = effort.swing
    if swing.largest <= UNEVEN_SPEED:
        return None
    facts: dict[str, Fact] = {
        "least": swing.least,
        "most": swing.most,
        "speed_rad_per_s": abs(effort.speed.base_rad_per_s),
    }
    return Caution(Hazard.UNEVEN_SPEED, "crank", swing.largest, UNEVEN_SPEED, facts)


def effort_cautions(machine: Machine, effort: Effort) -> tuple[Caution, ...]:
    """Return what can hurt in a machine that is being cranked, each kind once.

    Parameters
    ----------
    machine
        The machine.
    effort
        Of the same machine, at a speed.
    """
    from fieldsim.circuit.cautions import open_voltage_caution

    hottest = max(effort.electric.coils, key=lambda coil: coil.temperature_rise_K or 0.0)
    found = [
        pinch_caution(effort.pairs),
        *crank_cautions(effort.crank, effort.arm),
        uneven_speed_caution(effort),
        _flying(machine, effort),
        balance_caution(max(effort.holds, key=lambda hold: hold.imbalance_N)),
        *effort.electric.circulating,
        None if hottest.heat is None else hottest.heat.caution,
        *effort.solid_iron,
        open_voltage_caution(effort.electric.open_peak_V),
        strong_magnets_caution(machine),
    ]
    return tuple(caution for caution in found if caution is not None)


def _flying(machine: Machine, effort: Effort) -> Caution | None:
    """Return the caution for the rotor whose magnets leave first, or that for fast magnets."""
    if effort.glue_known:
        for hold in sorted(effort.holds, key=lambda h: h.speed_margin):
            caution = glue_caution(hold)
            if caution is not None:
                return caution
    return fast_magnets_caution(machine, effort.speed)
