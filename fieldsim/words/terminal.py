"""What commands print: short texts and tables."""

from __future__ import annotations

import math
import sys
import textwrap
from collections.abc import Iterable, Sequence

from fieldsim.cautions import Caution
from fieldsim.circuit.cautions import open_voltage_caution
from fieldsim.machine.clearance.clearances import Clearance
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cuboid, Cylinder, Magnet
from fieldsim.operation.cautions import fast_magnets_caution, strong_magnets_caution
from fieldsim.operation.opposed_coils import opposed_coil_cautions
from fieldsim.studies.compare import Comparison
from fieldsim.studies.gap import GapStudy
from fieldsim.waveform.emf import EmfWaveform, Speed
from fieldsim.waveform.figures import EmfFigures, emf_figures
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.words.cautions import caution_lines
from fieldsim.words.machine_words import remanence_words
from fieldsim.words.numbers import (
    NOTHING,
    ROUNDING,
    change,
    number,
    plain_number,
    plain_rpm,
    rough,
    share,
)

__all__ = [
    "check_text",
    "comparison_text",
    "emf_text",
    "flux_text",
    "gap_text",
    "print_text",
    "table_text",
]

_PIPED_WIDTH = 120


def print_text(text: str) -> None:
    """Print to standard output, if there is any."""
    if sys.stdout is not None:
        sys.stdout.write(text + "\n")


def folded(text: str) -> str:
    """Return text with its long lines folded between words, the rest of each set in a little."""
    return "\n".join(
        line
        if len(line) <= _PIPED_WIDTH
        else textwrap.fill(line, _PIPED_WIDTH, subsequent_indent="    ", break_on_hyphens=False)
        for line in text.split("\n")
    )


def table_text(header: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> str:
    """Return a table as text; the first ``left`` columns are aligned left, the rest right."""
    from io import StringIO

    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="", show_edge=False)
    for i, name in enumerate(header):
        table.add_column(name, justify="left" if i < left else "right", overflow="fold")
    for row in rows:
        table.add_row(*[Text(cell) for cell in row])  # letter by letter: no markup in a title
    stream = StringIO()
    Console(file=stream, width=_PIPED_WIDTH, color_system=None, highlight=False).print(table)
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines())


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


def check_text(machine: Machine, clearances: tuple[Clearance, ...]) -> str:
    """Return what was understood of a geometry, in a few lines."""
    lines = [machine.title]
    lines += [f"  magnet {m.name}: {_magnet_words(m)}" for m in machine.magnets]
    for rotor in machine.placed_rotors:
        poles: dict[str, int] = {}
        for m in rotor.magnets:
            key = f"{m.magnet.name} north {m.north.value}"
            poles[key] = poles.get(key, 0) + 1
        held = ", ".join(f"{n} x {key}" for key, n in poles.items())
        start = (
            f", starts at {plain_number(math.degrees(rotor.start), 4)} deg" if rotor.start else ""
        )
        lines.append(
            f"  rotor {rotor.name}: {held}; {plain_number(float(rotor.gear_ratio), 6)} turns per "
            f"crank turn{start}"
        )
    for coil in machine.placed_coils:
        a, b = map(_mm, coil.opening)
        lines.append(
            f"  coil {coil.name}: {coil.turns:g} turns, opening {a} x {b} mm, length "
            f"{_mm(coil.length)} mm, build {_mm(coil.build)} mm; mean turn "
            f"{_mm(coil.mean_turn_m)} mm, wire {plain_number(coil.turns * coil.mean_turn_m, 4)} m"
        )
    lines += [f"  clearance {c.first} to {c.second}: {_mm(c.distance_m)} mm" for c in clearances]
    lines += caution_lines([strong_magnets_caution(machine)])
    return folded("\n".join(lines))


def flux_text(table: FluxTable) -> str:
    """Return the swing of every pair and its error."""
    rows = []
    for i, coil in enumerate(table.coils):
        for j, rotor in enumerate(table.rotors):
            curve = table.linkage_Wb[i, j]
            slope = table.derivative_Wb_per_rad()[i, j]
            low, high = float(curve.min()), float(curve.max())
            least = ROUNDING * float(abs(table.linkage_Wb).max()) * 1e3
            rows.append(
                [
                    coil,
                    rotor,
                    *(number(x * 1e3, 4, least) for x in (low, high, high - low)),
                    number(float(abs(slope).max()) * 1e3, 4, least),
                    rough(table.relative_error[i, j], 2),
                ]
            )
    header = [
        "coil",
        "rotor",
        "least mWb",
        "most mWb",
        "swing mWb",
        "steepest mWb/rad",
        "error/swing",
    ]
    return folded(
        f"{table.title}: flux linkage over {table.angles} rotor angles\n\n"
        + table_text(header, rows, left=2)
    )


def speed_words(speed: Speed) -> str:
    """Return a speed in words."""
    what = "crank" if speed.given_as == "crank" else "every rotor"
    return f"{what} at {plain_rpm(speed.base_rad_per_s, 6)}"


def turned_by(speed: Speed) -> str:
    """Return what a speed is of, in words."""
    return "the crank" if speed.given_as == "crank" else "the rotors"


def _figure_cells(f: EmfFigures) -> list[str]:
    volts = [number(v, 4, NOTHING["V"]) for v in (f.peak_V, f.rms_V, f.rectified_mean_V)]
    swing = number(f.peak_to_peak_linkage_Wb * 1e3, 4, 1e3 * NOTHING["Wb"])
    return [*volts, number(f.form_factor, 4), number(f.frequency_Hz, 4), swing]


_FIGURE_HEADER = ["peak V", "RMS V", "rectified mean V", "form factor", "Hz", "swing mWb"]


def period_words(waveform: EmfWaveform) -> str:
    """Return in words how often the coils repeat, which may be sooner than the rotors do."""
    what = "crank" if waveform.speed.given_as == "crank" else "rotor"
    turns = waveform.period.turns / waveform.repeats
    shown = f"{turns}" if turns.denominator <= 1000 else plain_number(float(turns), 6)
    unit = f"{what} turn" if turns <= 1 else f"{what} turns"
    length = f"{shown} {unit}, {plain_number(waveform.period_s / waveform.repeats, 4)} s"
    if waveform.period.exact:
        return f"the waveform repeats every {length}"
    return f"the waveform repeats after a long time or never; the figures are of {length}"


def _open_voltage(figures: Iterable[EmfFigures]) -> Caution | None:
    return open_voltage_caution(max(f.peak_V for f in figures))


def emf_text(machine: Machine, waveform: EmfWaveform, ranges: Sequence[str] = ()) -> str:
    """Return the figures of every coil, the period, the error and the cautions.

    ``ranges`` are lines from `fieldsim.words.range_text`.
    """
    figures = emf_figures(waveform)
    lines = [
        f"{waveform.title}: EMF with nothing connected, {speed_words(waveform.speed)}",
        "",
        table_text(
            ["coil", *_FIGURE_HEADER], [[coil, *_figure_cells(f)] for coil, f in figures.items()]
        ),
        "",
        *ranges,
        f"{period_words(waveform)}; linkage is good to {rough(waveform.relative_error, 2)} of its "
        "swing",
    ]
    lines += caution_lines(
        [
            _open_voltage(figures.values()),
            fast_magnets_caution(machine, waveform.speed),
            *opposed_coil_cautions(machine, waveform),
        ]
    )
    return folded("\n".join(lines))


def comparison_text(comparison: Comparison, speed: Speed, ranges: Sequence[str] = ()) -> str:
    """Return the designs side by side; ``ranges`` are from `fieldsim.words.range_text`."""
    rows = []
    for design in comparison.designs:
        for coil, f in design.figures.items():
            ratio = comparison.ratio_to_first(design, coil, "rms_V")
            rows.append(
                [
                    design.title,
                    coil,
                    *_figure_cells(f),
                    number(ratio, 4) if ratio is not None else "-",
                ]
            )
    caution = _open_voltage(f for d in comparison.designs for f in d.figures.values())
    table = table_text(["design", "coil", *_FIGURE_HEADER, "RMS to first"], rows, left=2)
    heading = f"EMF with nothing connected, {speed_words(speed)}\n"
    lines = [heading, table, *(["", *ranges] if ranges else [])]
    lines += [f"\n{line}" for line in caution_lines([caution])]
    return folded("\n".join(lines))


def gap_text(study: GapStudy, speed: Speed) -> str:
    """Return the rows of a gap study and the fits."""
    rows = [
        [
            number(row.gap_m * 1e3, 4),
            coil,
            *_figure_cells(row.figures[coil])[:3],
            change(row.percent_per_tenth_mm[coil] / 100, 2).removesuffix(" %"),
        ]
        for row in study.rows
        for coil in study.coils
    ]
    header = ["gap mm", "coil", "peak V", "RMS V", "rectified mean V", "RMS % per 0.1 mm"]
    lines = [
        f"{study.title}: clearance of rotor {', '.join(study.rotors)}, {speed_words(speed)}",
        "",
        table_text(header, rows, left=2),
    ]
    for coil, fit in study.fits.items():
        length = (
            f"{plain_number(fit.decay_length_m * 1e3)} mm"
            if math.isfinite(fit.decay_length_m)
            else "no length"
        )
        lines.append(
            f"\ncoil {coil}: RMS falls to 37 % every {length}; the exponential "
            f"{plain_number(fit.rms_at_zero_gap_V, 4)} V * exp(-gap / length) fits within "
            f"{share(fit.largest_relative_misfit, 2)}"
        )
    lines += caution_lines([_open_voltage(f for row in study.rows for f in row.figures.values())])
    return folded("\n".join(lines))
