"""What ``light`` prints: lamps, power, meters, coils and cautions on one screen."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fieldsim.circuit.lamp_speeds import LampSpeed
from fieldsim.circuit.meters import MeterReadings
from fieldsim.circuit.results import CircuitResult, LampReport
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine.load.circuit_parts import Short
from fieldsim.machine.machine import Machine
from fieldsim.operation.cautions import fast_magnets_caution
from fieldsim.operation.coil_heat import CoilHeat
from fieldsim.operation.light import LightReport
from fieldsim.studies.lamp_start import EYE_S, LampStart
from fieldsim.waveform.emf import Speed
from fieldsim.words.cautions import caution_lines
from fieldsim.words.layout import PLAIN_WIDTH, Block, Table, laid_out
from fieldsim.words.notes import note_lines
from fieldsim.words.numbers import (
    SOLVED,
    in_unit,
    number,
    plain_number,
    plain_rpm,
    quantity,
    rpm_of,
    share,
)
from fieldsim.words.precision import computed_words, linear_precision
from fieldsim.words.speeds import period_words, speed_words, turned_by

__all__ = [
    "COIL_HEADER",
    "LAMP_HEADER",
    "coil_cells",
    "lamp_cells",
    "lamp_sentence",
    "lamp_start_text",
    "light_text",
    "needed_speed",
    "power_rows",
    "powers_in_circuit_W",
    "reading_cells",
]

VISIBLE_FLICKER_Hz = 60.0
"""Below it most eyes see lamps flicker (common practice, no published source)."""


def light_text(
    machine: Machine, report: LightReport, width: int = PLAIN_WIDTH, ranges: Sequence[str] = ()
) -> str:
    """Return the screen of a machine at a speed; ``ranges`` from `fieldsim.words.range_text`."""
    result = report.result
    lines: list[Block] = [f"{report.title}: {speed_words(report.run.speed)}", "", verdict(report)]
    lines += ranges
    if result.lamps:
        lines += ["", Table(LAMP_HEADER, [lamp_cells(lamp) for lamp in result.lamps])]
    if report.has_load:
        lines += ["", Table(["average power", "mW", "share"], power_rows(result))]
    lines += _iron_lines(report)
    lines += ["", _meter_table(report)]
    if report.has_load:
        lines += ["", Table(COIL_HEADER, [coil_cells(coil) for coil in report.coils])]
    waveform = report.run.emf.waveform
    what = "Voltages and currents repeat" if report.has_load else "The voltages repeat"
    lines += ["", f"{period_words(waveform, what)}.", _precision(machine, report, ranges)]
    lines += note_lines(report.run.warnings)
    fast = fast_magnets_caution(machine, report.run.speed)
    lines += caution_lines((*report.cautions, fast, *improbable_sizes(machine)))
    return laid_out(lines, width)


def _iron_lines(report: LightReport) -> list[str]:
    """Return in a line what the iron takes besides what the coils give, if eddy currents do."""
    loss = report.iron_loss
    if not loss:
        return []
    pieces = ", ".join(name for name, power in loss.pieces_W.items() if power > 0)
    return [
        f"Eddy currents in {pieces} take {in_unit(loss.from_rotors_W, 'mW')} mW from the hand "
        "besides; hysteresis, which is not modelled, takes more."
    ]


def _precision(machine: Machine, report: LightReport, ranges: Sequence[str]) -> str:
    """Return how good the computation is, and without ranges first what the inputs allow."""
    balance = report.result.balance
    errors = [report.run.emf.waveform.relative_error]
    if report.result.source_power_W > 0:
        errors += [balance.charge, balance.energy, balance.discretisation]
    return computed_words(errors) if ranges else linear_precision(machine, errors)


def verdict(report: LightReport) -> str:
    """Return what lights, in a sentence."""
    if not report.has_load:
        coil = report.result.circuit.outlets[0].name
        return (
            "Open circuit: nothing is connected. To see what lights, add for instance\n"
            f"  load: {{across: {coil}, rectifier: bridge, lamps: {{colour: white, parallel: 6}}}}"
            + ("\nand the wire of each coil: wire: {gauge: AWG 32}" if not report.coils else "")
        )
    short = [t for t in report.result.parts if isinstance(t.part, Short)]
    if short:
        outlet = report.result.outlets[short[0].outlet]
        rms_A = math.sqrt(report.result.average(outlet.current_A**2))
        return f"Short circuit across {outlet.name}: {in_unit(rms_A, 'mA')} mA RMS."
    sentences = [lamp_sentence(lamp) for lamp in report.result.lamps]
    for i, lamp in enumerate(report.result.lamps):
        if not lamp.lights and report.lamp_speeds:
            sentences[i] += f" {needed_speed(report.lamp_speeds[i], report.run.speed)}"
    if not sentences:
        return f"No lamps in the load; it takes {quantity(report.result.useful_power_W, 'W')}."
    return "\n".join(sentences)


def lamp_sentence(lamp: LampReport) -> str:
    """Return whether a lamp lights, in a sentence."""
    many = f"{lamp.count} x {lamp.label}" if lamp.count > 1 else lamp.label
    lights = "light" if lamp.count > 1 else "lights"
    stays = "stay" if lamp.count > 1 else "stays"
    average = f"{in_unit(lamp.average_current_A, 'mA')} mA on average"
    if lamp.flashes:
        flash = "flash" if lamp.count > 1 else "flashes"
        return (
            f"{many} {flash} {number(lamp.flash_Hz or 0.0)} times a second: {average}, too little "
            f"to glow by, which takes {in_unit(lamp.visible_current_A, 'mA')} mA, but "
            f"{in_unit(lamp.seen_peak_A, 'mA')} mA at its brightest to the eye."
        )
    if not lamp.lights:
        return (
            f"{many} {stays} dark: {average}, seen from {in_unit(lamp.visible_current_A, 'mA')} mA."
        )
    rated = f"{share(lamp.share_of_rated)} of the rated {in_unit(lamp.rated_current_A, 'mA')} mA"
    flicker = ""
    if lamp.flicker_Hz and lamp.flicker_Hz < VISIBLE_FLICKER_Hz and lamp.flicker_percent > 10:
        flicker = f"; flickers visibly, {number(lamp.flicker_Hz)} times a second"
    return f"{many} {lights}: {average} each, {rated}{flicker}."


def needed_speed(lamp: LampSpeed, speed: Speed) -> str:
    """Return from which speed on a lamp lights, in a sentence."""
    what = turned_by(speed)
    if lamp.lowest_speed_rad_per_s is None:
        return f"Up to {plain_rpm(lamp.looked_up_to_rad_per_s, 4)} of {what} no speed lights it."
    return f"It would light from {number(rpm_of(lamp.lowest_speed_rad_per_s))} rpm of {what}."


LAMP_HEADER = (
    "lamp",
    "number",
    "lights",
    "average mA",
    "peak mA",
    "seen from mA",
    "rated mA",
    "of rated",
    "flicker Hz",
    "depth",
)
"""Of `lamp_cells`."""


def lamp_cells(lamp: LampReport) -> list[str]:
    """Return what a row of a table says of a lamp."""
    seen = lamp.lights or lamp.flashes
    return [
        lamp.label,
        str(lamp.count),
        _lights(lamp),
        in_unit(lamp.average_current_A, "mA"),
        in_unit(lamp.peak_current_A, "mA"),
        in_unit(lamp.visible_current_A, "mA"),
        in_unit(lamp.rated_current_A, "mA"),
        share(lamp.share_of_rated),
        number(lamp.flicker_Hz) if seen and lamp.flicker_Hz else "-",
        f"{lamp.flicker_percent:.0f} %" if seen else "-",
    ]


def _lights(lamp: LampReport) -> str:
    if lamp.flashes:
        return f"flashes, {number(lamp.flash_Hz or 0.0)} Hz"
    return "yes" if lamp.lights else "no"


COIL_HEADER = (
    "coil",
    "RMS mA",
    "wire bears mA",
    "heat mW",
    "warmer than air K",
    "warm ohm",
)
"""Of `coil_cells`."""


def coil_cells(coil: CoilHeat) -> list[str]:
    """Return what a row of a table says of how hard a coil works."""
    return [
        coil.name,
        in_unit(coil.rms_current_A, "mA"),
        in_unit(coil.recommended_current_A, "mA"),
        in_unit(coil.heat_W, "mW"),
        in_unit(coil.temperature_rise_K, "K"),
        number(coil.resistance_ohm, 4),
    ]


def power_rows(result: CircuitResult) -> list[list[str]]:
    """Return where the power goes: what, milliwatts, share of all."""
    source = result.source_power_W
    some = in_unit(source, "mW") != "0"
    return [
        [what, in_unit(watt, "mW"), f"{100 * watt / source:.1f} %" if some else "-"]
        for what, watt in powers_in_circuit_W(result).items()
    ]


def powers_in_circuit_W(result: CircuitResult) -> dict[str, float]:
    """Return where the power goes by words for it: first all of it, last what is made use of."""
    powers = {"from the magnets": result.source_power_W}
    powers |= {f"coil {coil.name}": coil.heat_W for coil in result.coils.values()}
    if result.iron_W > 0:
        powers["iron, by currents"] = result.iron_W
    alike: dict[str, tuple[int, float]] = {}
    for trace in result.parts:
        label = "bridge diode" if trace.label.startswith("bridge diode") else trace.label
        count, watt = alike.get(label, (0, 0.0))
        alike[label] = count + trace.count, watt + trace.power_of_all_W
    powers |= {
        f"{count} x {label}" if count > 1 else label: watt for label, (count, watt) in alike.items()
    }
    return {**powers, "useful": result.useful_power_W}


def _meter_table(report: LightReport) -> Table:
    rows = [
        [
            row.where,
            ("on" if row.loaded else "off") if report.has_load else "none",
            *reading_cells(row.readings),
        ]
        for row in report.meters
    ]
    ohm = report.meter.input_ohm
    size = f"{plain_number(ohm / 1e6)} Mohm" if ohm >= 1e6 else f"{plain_number(ohm, 6)} ohm"
    across = f"meter of {size} across"
    header = [across, "load", "DC V", "AC V, averaging", "AC V, true RMS", "peak hold V"]
    return Table(header, rows, left=2)


def reading_cells(readings: MeterReadings) -> tuple[str, str, str, str]:
    """Return what a display of a tenth of a millivolt shows: DC, averaging, true RMS, peak hold."""
    least = max(5e-5, SOLVED * readings.peak_hold_most_V)

    def volt(value: float) -> str:
        return in_unit(value, "V", least=least)

    low, high = volt(readings.peak_hold_least_V), volt(readings.peak_hold_most_V)
    return (
        volt(readings.dc_V),
        volt(readings.average_responding_V),
        volt(readings.true_rms_V),
        low if low == high else f"{low} to {high}",
    )


def lamp_start_text(start: LampStart, width: int = PLAIN_WIDTH) -> str:
    """Return when each lamp comes on after a start from rest."""
    crank = start.crank
    lines = [
        f"Start-up: from rest to full speed in {number(crank.ramp_s)} s, wobbling by "
        f"{share(crank.wobble)} twice a turn, followed for "
        f"{number(start.result.duration_s)} s, with wire that is still cold"
    ]
    for lamp in start.lamps:
        if lamp.first_lights_s is None:
            lines.append(f"  {lamp.label}: stays dark")
        else:
            lines.append(
                f"  {lamp.label}: first lights after {number(lamp.first_lights_s)} s (average over "
                f"the last {EYE_S:g} s); {in_unit(lamp.average_at_end_A, 'mA')} mA on average over "
                f"the last {number(lamp.stretch_s)} s"
            )
    if not start.lamps:
        lines.append("  no lamps")
    return laid_out([*lines, *note_lines(start.notes)], width)
