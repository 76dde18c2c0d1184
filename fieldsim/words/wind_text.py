"""What ``wind`` and ``match`` print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldsim.circuit.cautions import TOUCH_V
from fieldsim.studies.gauges import GaugeRow, GaugeStudy
from fieldsim.studies.wind import WoundCoil
from fieldsim.waveform.emf import Speed
from fieldsim.wire.winding import Winding
from fieldsim.words.light_text import power, three
from fieldsim.words.terminal import folded, number, speed_words, table_text

if TYPE_CHECKING:
    from fieldsim.circuit.lamp_speeds import LampSpeed
    from fieldsim.studies.match import MatchStudy

__all__ = ["gauge_text", "match_text", "wound_text"]

_ZERO_CELSIUS_K = 273.15


def wound_text(coils: Sequence[WoundCoil], title: str, temperature_K: float) -> str:
    """Return what the wire of each coil comes to, one column a coil."""
    columns = [_wound_cells(coil) for coil in coils]
    names = list(dict.fromkeys(name for column in columns for name in column))
    rows = [[name, *(column.get(name, "-") for column in columns)] for name in names]
    header = [f"at {temperature_K - _ZERO_CELSIUS_K:.4g} °C", *(coil.name for coil in coils)]
    lines = [f"{title}: wire of each coil", "", table_text(header, rows)]
    lines += [f"Caution: {coil.name}: {text}" for coil in coils for text in coil.winding.cautions]
    return folded("\n".join(lines))


def _wound_cells(coil: WoundCoil) -> dict[str, str]:
    winding = coil.winding
    wire = winding.wire
    cells = {
        "wire": wire.name,
        "copper, with enamel (mm)": f"{wire.bare_diameter_m * 1e3:.4g}, "
        f"{wire.overall_diameter_m * 1e3:.4g}",
        "packing": winding.packing.name,
        "turns": str(winding.turns),
        "layers, turns in each": _layers(winding),
        "build (mm)": three(winding.build_m * 1e3),
        "mean turn (mm)": three(winding.mean_turn_m * 1e3),
        "wire length (m)": number(winding.wire_length_m),
        "  if it bends round the corners (m)": number(winding.wire_length_rounded_m),
        "mass of wire (g)": three(winding.mass_kg * 1e3),
    }
    if winding.leftover_m is not None and winding.leftover_kg is not None:
        cells["left over (m; g)"] = (
            f"{three(winding.leftover_m)}; {three(winding.leftover_kg * 1e3)}"
        )
    if winding.room_left_m is not None:
        cells["room left in the build (mm)"] = three(winding.room_left_m * 1e3)
    cells |= {
        "wire, copper in the section": f"{winding.wire_fill:.1%}, {winding.copper_fill:.1%}",
        "resistance (ohm)": number(coil.resistance_ohm),
        "inductance (mH)": number(coil.inductance_H * 1e3),
        "current for long, RMS (mA)": three(coil.recommended_A * 1e3),
    }
    return cells


def _layers(winding: Winding) -> str:
    if winding.layers is None or winding.turns_per_layer is None:
        return "spread evenly"
    odd, even = winding.turns_per_layer
    return f"{winding.layers}, {odd}" if odd == even else f"{winding.layers}, {odd} and {even}"


def gauge_text(study: GaugeStudy, speed: Speed) -> str:
    """Return what each gauge gives, the best marked."""
    best = study.best
    lamps = any(row.lamp_A is not None for row in study.rows)
    header = ["wire", "turns", "wire m", "ohm", "open peak V", "open RMS V"]
    if study.loaded:
        header += ["load RMS mA", *(["lamp mA"] if lamps else []), "load mW", "heat mW", ""]
    else:
        header += ["most mW"]
    rows = [_gauge_cells(row, study, lamps, row is best) for row in study.rows]
    over = [row for row in study.rows if row.coil_current_A > row.recommended_A]
    high = [row for row in study.rows if row.open_peak_V > TOUCH_V]
    lines = [
        f"Each gauge filling the section of {', '.join(study.coils)}, with enamel like now; "
        f"{speed_words(speed)}",
        "",
        table_text(header, rows),
    ]
    if not study.loaded:
        lines.append("most mW: into a resistor equal to the coil's own, its inductance left out")
    elif best is not None:
        lines.append(
            f"most power into the load: {gauge_name(best)}, {power(best.load_W)}; thicker wire "
            "gives too little voltage, thinner wire too much resistance"
        )
    if over:
        lines.append(f"Caution: {_span(over)}: more current than the wire bears for long")
    if high:
        most = three(max(row.open_peak_V for row in high))
        lines.append(
            f"Caution: {_span(high)}: open ends peak above {TOUCH_V:.0f} V, up to {most} V; do not "
            "touch them while it turns"
        )
    lines += [f"left out: {text}" for text in study.left_out]
    return folded("\n".join(lines))


def _span(rows: Sequence[GaugeRow]) -> str:
    first, last = gauge_name(rows[0]), gauge_name(rows[-1])
    return first if len(rows) == 1 else f"{first} to {last}"


def gauge_name(row: GaugeRow) -> str:
    """Return the gauge without the grade of its enamel."""
    return " ".join(row.wire.name.split()[:2])


def _gauge_cells(row: GaugeRow, study: GaugeStudy, lamps: bool, best: bool) -> list[str]:
    turns = [str(winding.turns) for winding in row.windings.values()]
    cells = [
        gauge_name(row),
        " + ".join(turns) if len(turns) <= 3 else str(row.turns),
        number(row.wire_m, 3),
        number(row.resistance_ohm, 3),
        three(row.open_peak_V),
        three(row.open_rms_V),
    ]
    if not study.loaded:
        return [*cells, three(1e3 * row.open_rms_V**2 / (4 * row.resistance_ohm))]
    cells.append(three(1e3 * row.current_A))
    if lamps:
        cells.append(three(1e3 * (row.lamp_A or 0.0)))
    return [*cells, three(1e3 * row.load_W), three(1e3 * row.heat_W), "most" if best else ""]


def match_text(study: MatchStudy) -> str:
    """Return the matched load, the matched gauge, and the speeds at which lamps light."""
    curve = study.curve
    lines = [f"{study.title}: what matches across {study.outlet}, {speed_words(study.speed)}", ""]
    lines += [_lamp_line(lamp, study.speed) for lamp in study.lamps]
    lines.append(
        f"Load: {three(curve.best_ohm)} ohm in place of the load take most, {power(curve.best_W)}; "
        f"the coils have {three(study.coil_ohm)} ohm."
    )
    if curve.load_ohm is not None and curve.load_W > 1e-9:
        share = curve.load_W / curve.best_W
        part = f"{share:.0%}" if share >= 0.005 else "next to nothing"
        lines.append(
            f"The load of the file takes {power(curve.load_W)}, as {_ohm(curve.load_ohm)} would: "
            f"{part} of the most."
        )
    step = max(1, math.ceil(len(curve.power_W) / 14))
    shown = range(0, len(curve.power_W), step)
    rows = [
        ["load ohm", *(number(curve.resistance_ohm[i], 3) for i in shown)],
        ["mW", *(three(1e3 * curve.power_W[i]) for i in shown)],
    ]
    lines += ["", table_text(rows[0], rows[1:]), "", gauge_text(study.gauges, study.speed)]
    lines += [f"Note: {text}" for text in study.notes]
    return folded("\n".join(lines))


def _ohm(ohm: float) -> str:
    """Return a resistance in a unit in which it reads well."""
    for size, unit in ((1e6, "Mohm"), (1e4, "kohm")):
        if ohm >= size:
            return f"{number(ohm / (1e6 if unit == 'Mohm' else 1e3), 3)} {unit}"
    return f"{three(ohm)} ohm"


def _lamp_line(lamp: LampSpeed, speed: Speed) -> str:
    what = "the crank" if speed.given_as == "crank" else "the rotors"
    seen = f"(from {three(1e3 * lamp.visible_A)} mA on average)"
    if lamp.speed_rad_s is None:
        up_to = f"{lamp.up_to_rad_s * 30 / math.pi:.4g} rpm"
        return f"{lamp.label}: stays dark up to {up_to} of {what} {seen}."
    rpm = lamp.speed_rad_s * 30 / math.pi
    return f"{lamp.label}: lights from {three(rpm)} rpm of {what} {seen}."
