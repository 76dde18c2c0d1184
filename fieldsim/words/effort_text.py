"""What the hand feels and what could come loose, on one screen."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.gears import COMFORTABLE_CRANK_SPEED_rpm
from fieldsim.machine.machine import Machine
from fieldsim.mechanics.iron_assembly import AWAY_M, RotorAssembly
from fieldsim.mechanics.magnet_retention import RotorHold
from fieldsim.operation.cautions import effort_cautions
from fieldsim.operation.effort import Effort, PairForces
from fieldsim.words.cautions import WHO_DECIDES, caution_lines
from fieldsim.words.layout import PLAIN_WIDTH, Block, Table, laid_out
from fieldsim.words.notes import LOSSES, note_lines
from fieldsim.words.numbers import (
    NOTHING,
    ROUNDING,
    SOLVED,
    number,
    plain_number,
    plain_rpm,
    rpm_of,
)
from fieldsim.words.precision import computed_words, square_precision

__all__ = [
    "ROTOR_HEADER",
    "effort_sentences",
    "effort_text",
    "hand_torques_Nm",
    "powers_W",
    "powers_left_out",
    "rotor_cells",
]


def effort_text(
    machine: Machine, effort: Effort, width: int = PLAIN_WIDTH, ranges: Sequence[str] = ()
) -> str:
    """Return the screen of ``effort``; ``ranges`` are lines from `fieldsim.words.range_text`."""
    parts: list[Block] = [_heading(effort), "", *_hand(effort), *ranges, ""]
    parts += [_power_table(effort), ""]
    parts += [_rotor_table(effort), "", *effort_sentences(effort)]
    if effort.pairs:
        parts.append(square_precision(machine))
    computed = computed_words([abs(effort.relative_imbalance)])
    if computed and powers_W(effort)["all: the hand"]:
        parts.append(computed)
    parts += note_lines(effort.notes)
    parts += caution_lines(effort_cautions(machine, effort))
    return laid_out([*parts, WHO_DECIDES], width)


def effort_sentences(effort: Effort) -> list[str]:
    """Return how rotors pull, where the crank rests and what the coils do, a line each."""
    lines = [_pair_line(pair, bool(effort.iron)) for pair in effort.pairs]
    if len(effort.pairs) > 1 or effort.iron:
        lines.append(_shaft_line(effort))
    if effort.assemblies:
        lines.append(_assembly_line(effort.assemblies))
    return [*lines, _rest_line(effort), _electric_line(effort)]


def _heading(effort: Effort) -> str:
    low, high = COMFORTABLE_CRANK_SPEED_rpm
    return (
        f"{effort.title}: crank at {plain_rpm(effort.speed.base_rad_per_s, 6)}\n"
        f"A hand keeps up {low:g} to {high:g} rpm (common practice). All repeats every "
        f"{effort.turns} crank turn{'s' if effort.turns > 1 else ''}."
    )


def hand_torques_Nm(effort: Effort) -> NDArray[np.float64]:
    """Return what the hand gives: average, most, least, and most when turned slowly, (4,).

    What is rounding of the circuit beside the largest is 0, as is what no hand could feel.
    """
    crank = effort.crank
    torques = np.array(
        [crank.average_torque_Nm, crank.peak_torque_Nm, crank.least_torque_Nm,
         effort.slow_peak_torque_Nm]
    )  # fmt: skip
    least = max(SOLVED * np.abs(torques).max(), NOTHING["N m"])
    return np.where(np.abs(torques) < least, 0.0, torques)


def powers_W(effort: Effort) -> dict[str, float]:
    """Return where the hand's power goes, and last the hand's own, by words for it.

    The load is all that hangs on the coils; useful is what lamps take, or resistors if there are
    none. The magnets' swinging power goes in and comes back; what is left of it is rounding, and 0.
    """
    electric, crank = effort.electric, effort.crank
    parts = {
        "useful in the load": electric.useful_W,
        "lost in the load": electric.load_W - electric.useful_W,
        "heat in the wire": electric.wire_W,
        **({"eddy currents in iron": effort.iron_loss.total_W} if effort.iron_loss else {}),
        "friction": crank.friction_W,
        "gear meshes": crank.gears_W,
        "all: the hand": crank.hand_W,
    }
    swing_W = float(np.abs(crank.torque_Nm).max()) * abs(crank.speed_rad_per_s)
    least = max(ROUNDING * max(abs(crank.hand_W), swing_W), NOTHING["W"])
    return {name: power if abs(power) >= least else 0.0 for name, power in parts.items()}


def powers_left_out(effort: Effort) -> tuple[str, ...]:
    """Return which of `powers_W` are not reckoned with, as the file says nothing of them."""
    return tuple(LOSSES[name] for name in effort.left_out)


def _hand(effort: Effort) -> list[Block]:
    torques = hand_torques_Nm(effort)
    rows = [["torque N m", *map(number, torques)]]
    if effort.arm:
        name = f"force N on an arm of {plain_number(1e3 * effort.arm.arm, 4)} mm"
        rows.append([name, *map(number, torques / effort.arm.arm)])
    ripple = ""
    if effort.ripple is not None and torques[0]:
        ripple = f"; the torque swings by {number(effort.ripple)} times its average"
    back = torques[2] < -NOTHING["N m"]
    pulled = "; below zero the crank pulls the hand along" if back else ""
    (*_, hand) = powers_W(effort).values()
    return [
        Table(["at the crank", "average", "most", "least", "most, slowly"], rows),
        f"The hand gives {number(hand)} W{ripple}{pulled}.",
    ]


def _power_table(effort: Effort) -> Table:
    powers = powers_W(effort)
    hand = powers.pop("all: the hand")
    absent = powers_left_out(effort)
    rows = [
        [name, "left out", "-"]
        if name in absent
        else [name, number(power), f"{100 * power / hand:.1f}" if hand > 1e-12 else "-"]
        for name, power in powers.items()
    ]
    return Table(["where it goes", "W", "%"], rows)


def _rotor_table(effort: Effort) -> Table:
    held = zip(effort.holds, effort.speed.rotors_rad_per_s, strict=True)
    return Table(ROTOR_HEADER, [rotor_cells(effort, hold, speed) for hold, speed in held])


ROTOR_HEADER = (
    "rotor",
    "rpm",
    "meshes",
    "gears %",
    "coils mN m",
    "magnets mN m",
    "centrifugal N",
    "leaves at rpm",
    "margin",
)
"""Of `rotor_cells`."""


def rotor_cells(effort: Effort, hold: RotorHold, speed_rad_per_s: float) -> list[str]:
    """Return what a row of a table says of what turns and pulls a rotor, and of its glue."""
    name, weak, train = hold.rotor, hold.weakest, effort.train
    coils, magnets = effort.coil_torque_Nm[name], effort.magnet_torque_Nm[name]
    largest = float(max(np.abs(coils).max(), np.abs(magnets).max()))
    least = 1e3 * max(ROUNDING * largest, NOTHING["N m"])
    return [
        name,
        f"{'+' if speed_rad_per_s > 0 else ''}{plain_number(rpm_of(speed_rad_per_s), 5)}",
        f"{train.meshes[name]}",
        plain_number(100 * train.efficiencies[name], 4),
        number(1e3 * float(coils.mean()), 3, least),
        number(1e3 * float(np.abs(magnets).max()), 3, least),
        number(weak.centrifugal_N, 3, ROUNDING),
        *_fly_off(effort.glue_known, weak.leaves_at_rad_per_s, hold.speed_margin),
    ]


def _fly_off(known: bool, leaves_rad_per_s: float, margin: float) -> tuple[str, str]:
    if not known:
        return "no glue given", "-"
    if math.isinf(leaves_rad_per_s):
        return "never", "-"
    return number(rpm_of(leaves_rad_per_s)), f"{plain_number(margin)} x"


def _pair_line(pair: PairForces, beside_iron: bool) -> str:
    pull = pair.attraction
    names = f"Rotors {pull.first} and {pull.second}"
    if beside_iron:
        names += ", by their magnets alone,"
    loads = (pull.first_load.peak, pull.second_load.peak)
    across = max(load.transverse_N for load in loads)
    bend = max(load.bending_at_hub_Nm for load in loads)
    along = max(load.axial_N for load in loads)
    largest = max(pull.peak_pull_N, pull.peak_push_N, across, along)
    least = ROUNDING * largest
    words = [
        f"pull together with up to {number(max(pull.peak_pull_N, 0.0), 3, least)} N and push apart "
        f"with up to {number(max(pull.peak_push_N, 0.0), 3, least)} N",
        f"load their shafts by magnetism with {number(across, 3, least)} N across and bend them "
        f"with {number(1e3 * bend, 3, least)} mN m at the hub",
    ]
    if pair.locked:
        words.append("always stand alike to each other")
    assembly = pair.assembly
    if assembly is not None and not beside_iron:
        near = float(np.interp(0.01, assembly.distance_m, assembly.pull_N))
        least = ROUNDING * max(largest, abs(assembly.peak_pull_N))
        words.append(
            f"at assembly pull with {number(assembly.peak_pull_N, 3, least)} N in place, "
            f"{number(near, 3, least)} N from 10 mm away"
        )
    return f"{names} " + "; ".join(words) + "."


def _shaft_line(effort: Effort) -> str:
    """Return what each shaft bears from all other rotors and from iron together."""
    peaks = {
        name: (load.peak.axial_N, load.peak.transverse_N, 1e3 * load.peak.bending_at_hub_Nm)
        for name, load in effort.shafts.items()
    }
    least = ROUNDING * max(max(peak) for peak in peaks.values())
    words = [
        f"of {name} {number(along, 3, least)} N along it, {number(across, 3, least)} N across and "
        f"{number(bend, 3, least)} mN m at the hub"
        for name, (along, across, bend) in peaks.items()
    ]
    who = "all others and iron" if effort.iron else "all others"
    return f"From {who} together the shaft bears up to: {'; '.join(words)}."


def _assembly_line(assemblies: Sequence[RotorAssembly]) -> str:
    largest = max(max(abs(each.in_place_N), abs(each.away_N)) for each in assemblies)
    words = [
        f"{each.rotor} with {number(each.in_place_N, 3, ROUNDING * largest)} N in place, "
        f"{number(each.away_N, 3, ROUNDING * largest)} N from {1e3 * AWAY_M:g} mm away"
        for each in assemblies
    ]
    return f"At assembly magnets and iron pull {'; '.join(words)}."


def _rest_line(effort: Effort) -> str:
    rest = effort.rest
    if not len(rest.stable_rad):
        who = "Neither magnets nor iron hold" if effort.iron else "No magnets hold"
        return f"{who} the crank: it rests anywhere."
    degrees = np.degrees(rest.stable_rad)
    period = 360.0 * float(effort.turns)
    gaps = np.diff([*degrees, degrees[0] + period])
    if np.ptp(gaps) < 1e-3 * gaps.mean():
        each, first = plain_number(gaps.mean(), 4), plain_number(degrees[0], 4)
        where = f"every {each} deg of its turn, first at {first} deg"
    else:
        few = ", ".join(plain_number(d, 4) for d in degrees[:6])
        more = f" and {len(degrees) - 6} more" if len(degrees) > 6 else ""
        where = f"at {few}{more} deg in every {plain_number(period, 6)} deg"
    hold = "; friction alone holds it anywhere" if effort.held_by_friction else ""
    force = ""
    if effort.arm:
        force = f", {number(rest.torque_to_pass_Nm / effort.arm.arm)} N on the arm"
    return (
        f"The magnets want the crank to rest {where}; turning past takes "
        f"{number(rest.torque_to_pass_Nm)} N m{force}{hold}."
    )


def _electric_line(effort: Effort) -> str:
    electric = effort.electric
    peak = f"the largest open voltage is {number(electric.open_peak_V, 3, NOTHING['V'])} V"
    if electric.open_because:
        return f"No current is reckoned with, as {electric.open_because}; {peak}."
    warm = ", ".join(
        f"{coil.name} {number(coil.temperature_rise_K, 2)} K"
        for coil in electric.coils
        if coil.temperature_rise_K is not None and coil.temperature_rise_K >= 1.0
    )
    lead = f"coils settle about so much warmer than the air: {warm}; " if warm else ""
    words = f"{lead}{peak}."
    return words[0].upper() + words[1:]
