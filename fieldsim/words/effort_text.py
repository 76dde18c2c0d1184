"""What the hand feels and what could come loose, on one screen."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.gears import COMFORTABLE_CRANK_SPEED_rpm
from fieldsim.machine.machine import Machine
from fieldsim.mechanics.effort import Effort, PairForces
from fieldsim.words.cautions import WHO_DECIDES, effort_cautions
from fieldsim.words.terminal import folded, number, table_text

__all__ = ["effort_text"]

_RPM = 2 * math.pi / 60
_NOTHING = 1e-9  # beside what it goes with: rounding, shown as zero


def effort_text(geometry: Machine, effort: Effort) -> str:
    """Return the screen of the ``effort`` command."""
    parts = [_heading(effort), "", _hand_table(effort), "", _power_table(effort), ""]
    parts += [_rotor_table(effort), "", *(_pair_line(pair) for pair in effort.pairs)]
    if len(effort.pairs) > 1:
        parts.append(_shaft_line(effort))
    parts += [_rest_line(effort), _electric_line(effort)]
    parts += [f"Note: {note}" for note in effort.notes]
    parts += [f"Caution: {caution}" for caution in effort_cautions(geometry, effort)]
    return folded("\n".join([*parts, WHO_DECIDES]))


def _shown(value: float, beside: float) -> str:
    """Return a number to three digits, or 0 where it is rounding beside another."""
    return number(value, 3) if abs(value) > _NOTHING * abs(beside) else "0"


def _heading(effort: Effort) -> str:
    low, high = COMFORTABLE_CRANK_SPEED_rpm
    rpm = effort.speed.base_rad_per_s / _RPM
    return (
        f"{effort.title}: crank at {rpm:.6g} rpm\n"
        f"A hand keeps up {low:g} to {high:g} rpm (common practice). All repeats every "
        f"{effort.turns} crank turn{'s' if effort.turns > 1 else ''}."
    )


def _hand_table(effort: Effort) -> str:
    crank = effort.crank
    torques = np.array([crank.average_Nm, crank.peak_Nm, crank.lowest_Nm, effort.start_Nm])
    largest = float(np.abs(torques).max())
    rows = [["torque N m", *(_shown(t, largest) for t in torques)]]
    if effort.arm:
        mm = f"{1e3 * effort.arm.arm:.4g}"
        forces = torques / effort.arm.arm
        rows.append(
            [f"force N on an arm of {mm} mm", *(_shown(f, float(np.ptp(forces))) for f in forces)]
        )
    ripple = ""
    if effort.ripple is not None:
        ripple = f"; the torque swings by {number(effort.ripple, 3)} times its average"
    pulled = "; below zero the crank pulls the hand along" if crank.lowest_Nm < -1e-9 else ""
    return table_text(["at the crank", "average", "most", "least", "most, slowly"], rows) + (
        f"\nThe hand gives {_shown(crank.hand_W, largest)} W{ripple}{pulled}."
    )


def _power_table(effort: Effort) -> str:
    electric, crank = effort.electric, effort.crank
    hand = crank.hand_W
    rows = [
        [name, _shown(power, hand), f"{100 * power / hand:.1f}" if hand > 1e-12 else "-"]
        for name, power in (
            ("load on the coils", electric.load_W),
            ("heat in the wire", electric.source_W - electric.load_W),
            ("friction", crank.friction_W),
            ("gear meshes", crank.gears_W),
        )
    ]
    table = table_text(["where it goes", "W", "%"], rows)
    return f"{table}\nThe books close to {abs(effort.imbalance):.1e}."


def _rotor_table(effort: Effort) -> str:
    train = effort.train
    rows = []
    for hold, speed in zip(effort.holds, effort.speed.rotors_rad_per_s, strict=True):
        name, weak = hold.rotor, hold.weakest
        coils, magnets = effort.coil_torque_Nm[name], effort.magnet_torque_Nm[name]
        largest = float(max(np.abs(coils).max(), np.abs(magnets).max()))
        rows.append(
            [
                name,
                f"{speed / _RPM:+.5g}",
                f"{train.meshes[name]}",
                f"{100 * train.efficiencies[name]:.4g}",
                _shown(1e3 * float(coils.mean()), 1e3 * largest),
                _shown(1e3 * float(np.abs(magnets).max()), 1e3 * largest),
                _shown(weak.centrifugal_N, 1.0),
                *_fly_off(effort.glue_known, weak.leaves_at_rad_s, hold.speed_margin),
            ]
        )
    header = ["rotor", "rpm", "meshes", "gears %", "coils mN m", "magnets mN m", "centrifugal N"]
    return table_text([*header, "leaves at rpm", "margin"], rows)


def _fly_off(known: bool, leaves_rad_s: float, margin: float) -> tuple[str, str]:
    if not known:
        return "no glue given", "-"
    if math.isinf(leaves_rad_s):
        return "never", "-"
    return number(leaves_rad_s / _RPM, 3), f"{margin:.3g} x"


def _pair_line(pair: PairForces) -> str:
    pull = pair.attraction
    names = f"Rotors {pull.first} and {pull.second}"
    forces: list[NDArray[np.float64]] = [
        pull.pull_N,
        pull.first_load.axial_N,
        pull.first_load.transverse_N,
        pull.second_load.axial_N,
        pull.second_load.transverse_N,
    ]
    largest = max(float(np.abs(force).max()) for force in forces)
    across = max(float(load.transverse_N.max()) for load in (pull.first_load, pull.second_load))
    bend = max(float(load.bending_Nm.max()) for load in (pull.first_load, pull.second_load))
    words = [
        f"pull together with up to {_shown(max(pull.peak_pull_N, 0.0), largest)} N and push apart "
        f"with up to {_shown(max(pull.peak_push_N, 0.0), largest)} N",
        f"load their shafts by magnetism with {_shown(across, largest)} N across and bend them "
        f"with {_shown(1e3 * bend, largest)} mN m at the hub",
    ]
    if pair.locked:
        words.append("always stand alike to each other")
    assembly = pair.assembly
    if assembly is not None:
        near = float(np.interp(0.01, assembly.distance_m, assembly.pull_N))
        scale = max(largest, abs(assembly.peak_N))
        words.append(
            f"at assembly pull with {_shown(assembly.peak_N, scale)} N in place, "
            f"{_shown(near, scale)} N from 10 mm away"
        )
    return f"{names} " + "; ".join(words) + "."


def _shaft_line(effort: Effort) -> str:
    """Return what each shaft bears from all other rotors together."""
    loads = effort.shafts
    peaks = {
        name: (np.abs(load.axial_N).max(), load.transverse_N.max(), 1e3 * load.bending_Nm.max())
        for name, load in loads.items()
    }
    largest = float(max(max(peak) for peak in peaks.values()))
    words = [
        f"of {name} {_shown(along, largest)} N along it, {_shown(across, largest)} N across and "
        f"{_shown(bend, largest)} mN m at the hub"
        for name, (along, across, bend) in peaks.items()
    ]
    return f"From all others together the shaft bears up to: {'; '.join(words)}."


def _rest_line(effort: Effort) -> str:
    rest = effort.rest
    if not len(rest.stable_rad):
        return "No magnets hold the crank: it rests anywhere."
    degrees = np.degrees(rest.stable_rad)
    period = 360.0 * float(effort.turns)
    gaps = np.diff([*degrees, degrees[0] + period])
    if np.ptp(gaps) < 1e-3 * gaps.mean():
        where = f"every {gaps.mean():.4g} deg of its turn, first at {degrees[0]:.4g} deg"
    else:
        few = ", ".join(f"{d:.4g}" for d in degrees[:6])
        more = f" and {len(degrees) - 6} more" if len(degrees) > 6 else ""
        where = f"at {few}{more} deg in every {period:.6g} deg"
    hold = "; friction alone holds it anywhere" if effort.held_by_friction else ""
    force = ""
    if effort.arm:
        force = f", {number(rest.cogging_peak_Nm / effort.arm.arm, 3)} N on the arm"
    return (
        f"The magnets want the crank to rest {where}; turning past takes "
        f"{number(rest.cogging_peak_Nm, 3)} N m{force}{hold}."
    )


def _electric_line(effort: Effort) -> str:
    electric = effort.electric
    peak = f"the largest open voltage is {number(electric.open_peak_V, 3)} V"
    if electric.open_because:
        return f"No current is reckoned with, as {electric.open_because}; {peak}."
    warm = ", ".join(
        f"{coil.name} {number(coil.rise_K, 2)} K"
        for coil in electric.coils
        if coil.rise_K is not None and coil.rise_K >= 1.0
    )
    lead = f"Coils get warmer than the air by some: {warm}; " if warm else ""
    words = f"{lead}{peak}."
    return words[0].upper() + words[1:]
