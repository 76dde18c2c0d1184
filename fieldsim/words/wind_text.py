"""What ``wind`` and ``match`` print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldsim.cautions import Caution, Hazard
from fieldsim.circuit.cautions import TOUCH_V
from fieldsim.studies.gauges import GaugeRow, GaugeStudy
from fieldsim.studies.joint_match import JointMatch
from fieldsim.studies.lamp_counts import LampCount
from fieldsim.studies.wind import WoundCoil
from fieldsim.waveform.emf import Speed
from fieldsim.wire.corners import Corners
from fieldsim.wire.winding import Winding
from fieldsim.words.cautions import caution_lines, caution_text
from fieldsim.words.layout import PLAIN_WIDTH, Block, Table, laid_out
from fieldsim.words.notes import note_lines
from fieldsim.words.numbers import (
    in_unit,
    number,
    plain_number,
    plain_rpm,
    quantity,
    rpm_of,
    share,
)
from fieldsim.words.speeds import speed_words, turned_by

if TYPE_CHECKING:
    from fieldsim.circuit.lamp_speeds import LampSpeed
    from fieldsim.machine.shared_spools import SpoolUse
    from fieldsim.studies.match import MatchStudy

__all__ = [
    "gauge_cells",
    "gauge_sentences",
    "gauge_text",
    "lamp_speed_line",
    "match_text",
    "wound_text",
]

_ZERO_CELSIUS_K = 273.15


def wound_text(
    coils: Sequence[WoundCoil],
    title: str,
    temperature_K: float,
    width: int = PLAIN_WIDTH,
    spools: Sequence[SpoolUse] = (),
) -> str:
    """Return what the wire of each coil comes to, one column a coil, and what spools have left."""
    columns = [_wound_cells(coil) for coil in coils]
    names = list(dict.fromkeys(name for column in columns for name in column))
    rows = [[name, *(column.get(name, "-") for column in columns)] for name in names]
    header = [
        f"at {plain_number(temperature_K - _ZERO_CELSIUS_K, 4)} °C",
        *(coil.name for coil in coils),
    ]
    lines: list[Block] = [f"{title}: wire of each coil", "", Table(header, rows)]
    lines += [_spool_line(use) for use in spools]
    for coil in coils:
        lines += caution_lines([coil.winding.caution(coil.name)])
    return laid_out(lines, width)


def _spool_line(use: SpoolUse) -> str:
    return (
        f"{'spool' if len(use.spools) == 1 else 'spools'} {', '.join(use.spools)}: "
        f"{number(use.supply_m, 4)} m, of which {', '.join(use.coils)} "
        f"{'takes' if len(use.coils) == 1 else 'take'} {number(use.used_m, 4)} m; left over "
        f"{in_unit(use.leftover_m, 'm', least=5e-4)} m, {in_unit(use.leftover_kg * 1e3, 'g')} g"
    )


def _wound_cells(coil: WoundCoil) -> dict[str, str]:
    winding = coil.winding
    wire = winding.wire
    cells = {
        "wire": wire.name,
        "copper, with enamel (mm)": ", ".join(
            plain_number(d * 1e3, 4) for d in (wire.bare_diameter_m, wire.overall_diameter_m)
        ),
        "packing": winding.packing.name,
        "turns": str(winding.turns),
        "layers, turns in each": _layers(winding),
        "build (mm)": in_unit(winding.build_m, "mm"),
        "mean turn (mm)": in_unit(winding.mean_turn_m, "mm"),
        "corners": winding.spec.corners.value,
        "wire length (m)": number(winding.wire_length_m, 4),
    }
    if winding.spec.corners is Corners.SHARP:
        bent_m = winding.wire_length_rounded_corners_m
        cells["  if it bends round the corners (m)"] = number(bent_m, 4)
    cells["mass of wire (g)"] = in_unit(winding.mass_kg * 1e3, "g")
    if winding.leftover_m is not None and winding.leftover_kg is not None:
        cells["left over (m; g)"] = (
            f"{in_unit(winding.leftover_m, 'm', least=5e-4)}; "
            f"{in_unit(winding.leftover_kg * 1e3, 'g')}"
        )
    if winding.room_left_m is not None:
        cells["room left in the build (mm)"] = in_unit(winding.room_left_m, "mm")
    cells |= {
        "wire, copper in the section": f"{share(winding.wire_fill)}, {share(winding.copper_fill)}",
        "resistance (ohm)": number(coil.resistance_ohm, 4),
        "inductance (mH)": number(coil.inductance_H * 1e3, 4),
        "current for long, RMS (mA)": in_unit(coil.recommended_current_A, "mA"),
    }
    return cells


def _layers(winding: Winding) -> str:
    if winding.layers is None or winding.turns_per_layer is None:
        return "spread evenly"
    odd, even = winding.turns_per_layer
    return f"{winding.layers}, {odd}" if odd == even else f"{winding.layers}, {odd} and {even}"


def gauge_text(study: GaugeStudy, speed: Speed, width: int = PLAIN_WIDTH) -> str:
    """Return what each gauge gives: the best marked, and those that drive the load too hard."""
    return laid_out(_gauge_blocks(study, speed), width)


def _gauge_blocks(study: GaugeStudy, speed: Speed) -> list[Block]:
    return [
        f"Each gauge filling the section of {', '.join(study.coils)}, with enamel like now; "
        f"{speed_words(speed)}",
        "",
        Table(*gauge_cells(study)),
        *gauge_sentences(study),
    ]


def gauge_cells(study: GaugeStudy) -> tuple[list[str], list[list[str]]]:
    """Return the header and the rows of a table of gauges, the last column for marks."""
    header = ["wire", "turns", "wire m", "ohm", "open peak V", "open RMS V"]
    if study.loaded:
        header += ["load RMS mA", *(["lamp mA"] if study.lamps else []), "load mW", "heat mW", ""]
    else:
        header += ["most mW", ""]
    return header, [_gauge_cells(row, study, row is study.best) for row in study.rows]


def gauge_sentences(study: GaugeStudy) -> list[str]:
    """Return which gauge is best, what to heed and which are left out, a line each."""
    if study.loaded:
        lines = _advice(study)
    else:
        lines = ["most mW: into a resistor equal to the coil's own, its inductance left out"]
    over = [row for row in study.rows if row.overloaded]
    high = [row for row in study.rows if row.open_circuit_peak_V > TOUCH_V]
    if over:
        lines.append(f"Caution: {_span(over)} (over): more current than the wire bears for long")
    if high:
        most = number(max(row.open_circuit_peak_V for row in high))
        lines.append(
            f"Caution: {_span(high)}: open ends peak above {TOUCH_V:.0f} V, up to {most} V; do not "
            "touch them while it turns"
        )
    return lines + [f"left out: {text}" for text in study.left_out]


def _advice(study: GaugeStudy) -> list[str]:
    """Return which wire to take, and what the others that are marked do to the load."""
    best, brightest = study.best, study.brightest
    what = "light" if study.lamps else "power"
    lines = []
    if brightest is None:
        lines.append(f"no wire here gives the load any {what} at this speed")
    elif best is None:
        lines.append(f"every wire here that gives {what} overloads the load or itself")
    else:
        gives = (
            f"{quantity(best.lamp_current_average_A or 0.0, 'A')} in the brightest lamp"
            if study.lamps
            else quantity(best.load_power_W, "W")
        )
        within = "" if brightest.within_ratings else " within the ratings"
        lines.append(f"best: {gauge_name(best)}, most {what}{within}, {gives}")
        if brightest is best and best not in (study.rows[0], study.rows[-1]):
            lines.append("thicker wire gives too little voltage, thinner wire too much resistance")
        if study.lamps and not best.lit:
            lines.append("no lamp plainly glows with it at this speed")
    return lines + [
        f"Caution: {_span(rows)} (over): {caution_text(worst)}"
        for worst, rows in _beyond_ratings(study)
    ]


def _beyond_ratings(study: GaugeStudy) -> list[tuple[Caution, list[GaugeRow]]]:
    """Return each way of driving the load too hard, at its worst, with the wires that do it."""
    found: dict[Hazard, list[tuple[Caution, GaugeRow]]] = {}
    for row in study.rows:
        for caution in row.overdriven:
            found.setdefault(caution.kind, []).append((caution, row))
    return [
        (max((c for c, _ in pairs), key=lambda c: c.value), [row for _, row in pairs])
        for pairs in found.values()
    ]


def _span(rows: Sequence[GaugeRow]) -> str:
    first, last = gauge_name(rows[0]), gauge_name(rows[-1])
    return first if len(rows) == 1 else f"{first} to {last}"


def gauge_name(row: GaugeRow) -> str:
    """Return the gauge without the grade of its enamel."""
    return " ".join(row.wire.name.split()[:2]).removesuffix(",")


def _gauge_cells(row: GaugeRow, study: GaugeStudy, best: bool) -> list[str]:
    turns = list(row.turns.values())
    shown = " + ".join(map(str, turns)) if len(turns) <= 3 else str(row.turns_in_all)
    if len(turns) > 1 and len(set(turns)) == 1:
        shown = f"{len(turns)} x {turns[0]}"
    marks = {"best": best, "over": not row.within_ratings, "now": row.own}
    mark = ", ".join(word for word, due in marks.items() if due)
    cells = [
        gauge_name(row),
        shown,
        number(row.wire_length_m),
        number(row.resistance_ohm),
        in_unit(row.open_circuit_peak_V, "V"),
        in_unit(row.open_circuit_rms_V, "V"),
    ]
    if not study.loaded:
        most_W = row.open_circuit_rms_V**2 / (4 * row.resistance_ohm)
        return [*cells, in_unit(most_W, "mW"), mark]
    cells.append(in_unit(row.current_rms_A, "mA"))
    if study.lamps:
        cells.append(in_unit(row.lamp_current_average_A or 0.0, "mA"))
    return [*cells, in_unit(row.load_power_W, "mW"), in_unit(row.coil_heat_W, "mW"), mark]


def match_text(study: MatchStudy, width: int = PLAIN_WIDTH) -> str:
    """Return the matched load, the matched gauge, and the speeds at which lamps light."""
    curve = study.curve
    lines: list[Block] = [
        f"{study.title}: what matches across {study.load_across}, {speed_words(study.speed)}",
        "",
    ]
    lines += [lamp_speed_line(lamp, study.speed) for lamp in study.lamps]
    lines.append(
        f"Load: {in_unit(curve.best_load_resistance_ohm, 'ohm')} ohm in place of the load take "
        f"most, {quantity(curve.best_load_power_W, 'W')}; the coils have "
        f"{in_unit(study.coil_resistance_ohm, 'ohm')} ohm."
    )
    if curve.own_load_resistance_ohm is not None and curve.own_load_power_W > 1e-9:
        part = curve.own_load_power_W / curve.best_load_power_W
        words = share(part, 2) if part >= 0.005 else "next to nothing"
        lines.append(
            f"The load of the file takes {quantity(curve.own_load_power_W, 'W')}, as "
            f"{quantity(curve.own_load_resistance_ohm, 'ohm')} would: {words} of the most."
        )
    lines += _count_blocks(study.lamp_counts)
    step = max(1, math.ceil(len(curve.power_W) / 7))
    shown = range(0, len(curve.power_W), step)
    rows = [
        ["load ohm", *(number(curve.load_resistance_ohm[i]) for i in shown)],
        ["mW", *(in_unit(curve.power_W[i], "mW") for i in shown)],
    ]
    lines += ["", Table(rows[0], rows[1:]), "", *_gauge_blocks(study.gauges, study.speed)]
    if study.together is not None:
        lines.append(_together_line(study.together))
    lines += note_lines(study.notes)
    return laid_out(lines, width)


def _together_line(found: JointMatch) -> str:
    """Return which gauge, turns and load give most together, in a sentence."""
    turns = ", ".join(f"{count} turns in {coil}" for coil, count in found.turns.items())
    if found.lamp_current_average_A is None:
        load = "".join(f", {quantity(ohm, 'ohm')} as load" for ohm in found.load.values())
        gives, now = quantity(found.gives, "W"), quantity(found.gives_now, "W")
    else:
        series, strings = (int(count) for count in found.load.values())
        load = f", {strings} x {series} lamp{'s' * (series > 1)}"
        gives = f"{quantity(found.gives, 'A')} in all lamps"
        now = quantity(found.gives_now, "A")
    return (
        f"best of {found.tried} with turns and load varied too: {found.gauge}, {turns}{load}: "
        f"{gives}, now {now}"
    )


def _count_blocks(counts: Sequence[LampCount]) -> list[Block]:
    """Return how many lamps light, in a table; nothing where none does."""
    if not counts:
        return []
    heading = ["lamps in series", "strings that light", "lamps in all", "strings for their rating"]
    rows = [
        [
            str(each.series),
            f"up to {each.most}",
            str(each.lamps),
            "too many" if each.fewest is None else f"{each.fewest} or more",
        ]
        for each in counts
    ]
    return ["", Table(heading, rows)]


def lamp_speed_line(lamp: LampSpeed, speed: Speed) -> str:
    """Return from which speed on a lamp lights, in a sentence."""
    what = turned_by(speed)
    seen = f"(from {in_unit(lamp.visible_current_A, 'mA')} mA on average)"
    if lamp.lowest_speed_rad_per_s is None:
        up_to = plain_rpm(lamp.looked_up_to_rad_per_s, 4)
        return f"{lamp.label}: stays dark up to {up_to} of {what} {seen}."
    rpm = number(rpm_of(lamp.lowest_speed_rad_per_s))
    return f"{lamp.label}: lights from {rpm} rpm of {what} {seen}."
