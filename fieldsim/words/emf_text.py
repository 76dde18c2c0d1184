"""What ``flux``, ``emf``, ``compare`` and ``gap`` print."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from fieldsim.cautions import Caution
from fieldsim.circuit.cautions import open_voltage_caution
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine.machine import Machine
from fieldsim.operation.cautions import fast_magnets_caution
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.operation.opposed_coils import opposed_coil_cautions
from fieldsim.operation.saturated_emf import SaturatedEmf
from fieldsim.studies.compare import Comparison
from fieldsim.studies.gap import GapRow, GapStudy
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.figures import EmfFigures
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.words.cautions import caution_lines
from fieldsim.words.layout import PLAIN_WIDTH, Block, Table, laid_out
from fieldsim.words.machine_words import connection_words
from fieldsim.words.numbers import ROUNDING, SOLVED, change, number, plain_number, share
from fieldsim.words.precision import computed_words, gap_precision, linear_precision
from fieldsim.words.saturation_text import saturation_blocks
from fieldsim.words.speeds import period_words, speed_words

__all__ = ["comparison_text", "emf_text", "flux_text", "gap_text"]


def flux_text(table: FluxTable, machine: Machine, width: int = PLAIN_WIDTH) -> str:
    """Return the swing of every pair and its error."""
    rows = []
    slopes, errors = table.derivative_Wb_per_rad(), table.relative_error
    least = ROUNDING * float(abs(table.linkage_Wb).max()) * 1e3
    for i, coil in enumerate(table.coils):
        for j, rotor in enumerate(table.rotors):
            curve = table.linkage_Wb[i, j]
            low, high = float(curve.min()), float(curve.max())
            rows.append(
                [
                    coil,
                    rotor,
                    *(number(x * 1e3, 4, least) for x in (low, high, high - low)),
                    number(float(abs(slopes[i, j]).max()) * 1e3, 4, least),
                    _NONE if np.isnan(errors[i, j]) else plain_number(100 * errors[i, j], 1),
                ]
            )
    header = [
        "coil",
        "rotor",
        "least mWb",
        "most mWb",
        "swing mWb",
        "steepest mWb/rad",
        "computed to % of swing",
    ]
    lines: list[Block] = [
        f"{table.title}: flux linkage over {table.angles} rotor angles",
        "",
        Table(header, rows, left=2),
        "",
        linear_precision(machine, [], "linkage", gap=False),
    ]
    return laid_out(lines, width)


_HEADER = ["peak V", "RMS V", "rectified mean V", "form factor", "Hz", "swing mWb"]
_NONE = "-"

Figures = Mapping[str, EmfFigures] | Mapping[str, EmfFigures | None]


def _rows(coils: Figures, connections: Figures) -> Iterator[tuple[str, list[str]]]:
    """Yield names and figures as texts; dashes where there are none.

    What is left where joined coils cancel is 0 beside what they give by themselves.
    """
    of_coils = [f for f in coils.values() if f is not None]
    largest_V = max(f.rms_V for f in of_coils)
    largest_Wb = max(f.peak_to_peak_linkage_Wb for f in of_coils)
    for name, f in coils.items():
        yield name, _cells(f, 0.0, 0.0)
    for name, f in connections.items():
        yield name, _cells(f, SOLVED * largest_V, SOLVED * largest_Wb)


def _cells(f: EmfFigures | None, least_V: float, least_Wb: float) -> list[str]:
    if f is None:
        return [_NONE] * len(_HEADER)
    volts = [number(v, 4, least_V) for v in (f.peak_V, f.rms_V, f.rectified_mean_V)]
    swing = number(f.peak_to_peak_linkage_Wb * 1e3, 4, least_Wb * 1e3)
    if f.rms_V <= least_V:
        return [*volts, _NONE, _NONE, swing]
    return [*volts, number(f.form_factor, 4), number(f.frequency_Hz, 4), swing]


def _open_voltage(figures: Iterable[EmfFigures | None]) -> Caution | None:
    return open_voltage_caution(max(f.peak_V for f in figures if f is not None))


def _joined_note(*connections: Mapping[str, EmfFigures | None]) -> list[str]:
    """Return why a connection has no figures, if one has none."""
    unknown = dict.fromkeys(name for of in connections for name, f in of.items() if f is None)
    if not unknown:
        return []
    return [
        f"{', '.join(unknown)}: coils in parallel share by their resistances; give each its wire."
    ]


def emf_text(
    point: MachineAtSpeed,
    width: int = PLAIN_WIDTH,
    ranges: Sequence[str] = (),
    saturated: SaturatedEmf | None = None,
) -> str:
    """Return the figures of coils and connections, the period, how good they are, the cautions.

    ``ranges`` are lines from `fieldsim.words.range_text`; what iron that saturates leaves is told
    where it was solved for.
    """
    machine, waveform = point.machine, point.waveform
    coils, joined = point.figures, point.connection_figures
    rows = [[name, *cells] for name, cells in _rows(coils, joined)]
    words = period_words(waveform)
    lines: list[Block] = [
        f"{waveform.title}: EMF with nothing connected, {speed_words(waveform.speed)}",
        "",
        Table(["coil", *_HEADER], rows),
        "",
        *(f"{each.name} is {connection_words(each)}." for each in machine.connections),
        *_joined_note(joined),
        *ranges,
        f"{words[0].upper()}{words[1:]}.",
        *_eddy_lines(point),
        computed_words([waveform.relative_error])
        if ranges
        else linear_precision(machine, [waveform.relative_error]),
        *([] if saturated is None else saturation_blocks(saturated)),
    ]
    lines += caution_lines(
        [
            _open_voltage([*coils.values(), *joined.values()]),
            fast_magnets_caution(machine, waveform.speed),
            *opposed_coil_cautions(machine, waveform),
            *improbable_sizes(machine),
            *point.saturation,
            *point.solid_iron,
        ]
    )
    return laid_out(lines, width)


def _eddy_lines(point: MachineAtSpeed) -> list[str]:
    """Return what eddy currents in iron take of the voltage, in a line if there are any."""
    if not point.eddy_shares:
        return []
    taken = [f"{share(part, 2)} of {name}" for name, part in point.eddy_shares.items()]
    return [
        f"Eddy currents in solid iron take of the RMS at this speed: {', '.join(taken)}; the "
        "swing is that at rest."
    ]


def comparison_text(
    comparison: Comparison, speed: Speed, width: int = PLAIN_WIDTH, ranges: Sequence[str] = ()
) -> str:
    """Return the designs side by side; ``ranges`` are from `fieldsim.words.range_text`."""
    designs = comparison.designs
    rows = []
    for design in designs:
        for name, cells in _rows(design.figures, design.connections):
            ratio = comparison.ratio_to_first(design, name, "rms_V")
            rows.append(
                [design.title, name, *cells, _NONE if ratio is None else number(ratio, 4, SOLVED)]
            )
    told = [f for d in designs for f in (*d.figures.values(), *d.connections.values())]
    lines: list[Block] = [
        f"EMF with nothing connected, {speed_words(speed)}",
        "",
        Table(["design", "coil", *_HEADER, "RMS to first"], rows, left=2),
        "",
        *_joined_note(*(design.connections for design in designs)),
        *ranges,
        "Where the magnets are alike, ratios are better than the voltages. "
        f"{computed_words(d.relative_error for d in designs)}".rstrip(),
    ]
    return laid_out([*lines, *caution_lines([_open_voltage(told)])], width)


def gap_text(study: GapStudy, machine: Machine, speed: Speed, width: int = PLAIN_WIDTH) -> str:
    """Return the rows of a gap study and the fits."""
    rows = [
        [number(row.gap_m * 1e3, 4), name, *cells[:3], _slope(row, name, cells[1])]
        for row in study.rows
        for name, cells in _rows(row.figures, row.connections)
    ]
    header = ["gap mm", "coil", *_HEADER[:3], "RMS % per 0.1 mm"]
    lines: list[Block] = [
        f"{study.title}: clearance of rotor {', '.join(study.rotors)}, {speed_words(speed)}",
        "",
        Table(header, rows, left=2),
        "",
        *_fit_lines(study),
        *_joined_note(study.rows[0].connections),
        gap_precision(study, machine),
    ]
    told = [f for row in study.rows for f in row.told.values()]
    return laid_out([*lines, *caution_lines([_open_voltage(told)])], width)


def _slope(row: GapRow, name: str, rms_V: str) -> str:
    """Return the change with 0.1 mm more gap, in percent, where there is a voltage to change."""
    if rms_V in ("0", _NONE):
        return _NONE
    return change(row.percent_per_tenth_mm[name] / 100, 2).removesuffix(" %")


def _fit_lines(study: GapStudy) -> Sequence[str]:
    lines = []
    for name, fit in study.fits.items():
        volts = f"{plain_number(fit.rms_at_zero_gap_V, 4)} V"
        misfit = share(fit.largest_relative_misfit, 2)
        if math.isfinite(fit.decay_length_m):
            length = f"{plain_number(fit.decay_length_m * 1e3)} mm"
            lines.append(
                f"{name}: RMS falls to 37 % every {length}, from {volts} at no gap; the "
                f"rows lie within {misfit} of that"
            )
        else:
            lines.append(f"{name}: RMS does not fall with the gap; it is {volts} within {misfit}")
    return lines
