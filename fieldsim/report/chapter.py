"""One design's chapter of a report: everything about it as markup, and the files it links to."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.cautions import Caution, Hazard
from fieldsim.charts.figure_style import COLOURS, figure_style, figure_svg
from fieldsim.circuit.cautions import open_voltage_caution
from fieldsim.drawing.field_picture import crank_at_coil_rad
from fieldsim.drawing.painting import BEHIND_CUT
from fieldsim.machine.clearance.shaft_crossings import shaft_cautions
from fieldsim.machine.improbable_sizes import improbable_sizes
from fieldsim.machine_file.reader import read
from fieldsim.operation.cautions import (
    effort_cautions,
    fast_magnets_caution,
    strong_magnets_caution,
)
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.opposed_coils import opposed_coil_cautions
from fieldsim.operation.terminal_voltage import main_source, open_emf_V
from fieldsim.report.figures import (
    asked_torque_figure,
    emf_figure,
    field_page_figure,
    gap_figure,
    given_torque_figure,
    lamp_figure,
    lever_figure,
    linkage_figures,
    machine_figures,
    total_linkage_figure,
)
from fieldsim.report.markup import Markup, element, joined
from fieldsim.report.power_tables import (
    coil_table,
    gauge_table,
    hand_table,
    lamp_table,
    load_table,
    power_table,
    rotor_table,
    winding_table,
)
from fieldsim.report.tables import (
    ReportTable,
    clearance_table,
    emf_table,
    flux_table_of,
    gap_table,
    lever_table,
    meter_table,
)
from fieldsim.report.themed_svg import inline_svg
from fieldsim.studies.design_study import Changes, DesignStudy, study_design
from fieldsim.studies.sensitivity import Kind, Sensitivity
from fieldsim.tables.dataset import Dataset
from fieldsim.waveform.figures import rms
from fieldsim.words.cautions import WHO_DECIDES, caution_text
from fieldsim.words.effort_text import effort_sentences
from fieldsim.words.first_screen import Answer, Facts, answers, facts_of, key_numbers
from fieldsim.words.light_text import lamp_sentence
from fieldsim.words.machine_words import machine_words, model_words
from fieldsim.words.notes import note_text
from fieldsim.words.numbers import NOTHING, change, number, plain_number, rough, typeset
from fieldsim.words.precision import gap_precision, linear_precision
from fieldsim.words.range_text import page_range_lines
from fieldsim.words.speeds import period_words, speed_words
from fieldsim.words.wind_text import gauge_sentences, lamp_speed_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["Chapter", "chapter_of", "chapter_of_file"]

_FEW = 3
_LAST = ("gap", "gauges", "lamps", "effort", "levers")  # they need what changes do


@dataclass(frozen=True)
class Chapter:
    """A design's part of a report; plain data, so that it can come from another process.

    Parameters
    ----------
    number
        Of the design, from 1.
    title, file
        Of the geometry.
    answers, numbers
        For the first screen.
    facts, voltages
        By which designs are compared; the voltages are peak, RMS and rectified mean [V] where
        the load is or of the coil that gives most, open.
    contents
        Identifiers and headings of the sections.
    body
        The sections.
    files
        Datasets by file name.
    """

    number: int
    title: str
    file: str
    answers: tuple[Answer, ...]
    numbers: tuple[tuple[str, str], ...]
    facts: Facts
    voltages: tuple[float, float, float]
    contents: tuple[tuple[str, str], ...]
    body: Markup
    files: dict[str, Dataset]


def chapter_of_file(
    path: str,
    number: int,
    crank_rad_per_s: float,
    progress: Callable[[float], None] | None = None,
    *,
    changes: Callable[[], Changes] | None = None,
) -> Chapter:
    """Read a geometry file, compute everything about it and write it up.

    Parameters
    ----------
    path
        The file.
    number
        Of the design in the report, from 1.
    crank_rad_per_s
        Speed of the crank.
    progress
        Called with the share that is done, from 0 to 1.
    changes
        Gives what changing the design does, where that is computed elsewhere.

    Raises
    ------
    FieldsimError
        If the file or the machine is wrong.
    """
    say = progress or (lambda _share: None)
    point = OperatingPoint(read(path), crank_speed_rad_per_s=crank_rad_per_s)
    study = study_design(point, changes=changes, progress=lambda done: say(0.4 * done))
    source = Path(path).read_text(encoding="utf-8-sig")
    return chapter_of(study, source, number, lambda done: say(0.4 + 0.6 * done))


def chapter_of(
    study: DesignStudy,
    source: str,
    number: int,
    progress: Callable[[float], None] | None = None,
) -> Chapter:
    """Write up a computed design.

    Parameters
    ----------
    study
        The design.
    source
        Text of its file.
    number
        Of the design in the report, from 1.
    progress
        Called with the share that is done, from 0 to 1.
    """
    writer = _Writer(study, number)
    sections = (
        ("machine", "The machine and its field", writer.machine),
        ("lamps", "Lamps, currents and meters", writer.lamps),
        ("effort", "Effort at the crank", writer.effort),
        ("cautions", "Cautions", writer.cautions),
        ("levers", "What helps most", writer.levers),
        ("gauges", "Other gauges of wire", writer.gauges),
        ("gap", "Sensitivity to the gap", writer.gap),
        ("linkage", "Flux linkage", writer.linkage),
        ("emf", "EMF", writer.emf),
        ("inputs", "Inputs and errors", lambda: writer.inputs(source)),
    )
    parts: dict[str, Markup] = {}
    order = sorted(sections, key=lambda s: _LAST.index(s[0]) if s[0] in _LAST else -1)
    with figure_style():
        for done, (key, heading, write) in enumerate(order, start=1):
            title = element("h3", heading)
            parts[key] = element("section", title, *write(), id=f"d{number}-{key}")
            if progress is not None:
                progress(done / len(sections))
    contents = tuple((f"d{number}-{key}", heading) for key, heading, _ in sections)
    return Chapter(
        number, study.machine.title, study.machine.file, answers(study),
        tuple(key_numbers(study)), facts_of(study),
        _voltages(study), contents, joined([parts[key] for key, _, _ in sections]), writer.files,
    )  # fmt: skip


@dataclass
class _Writer:
    """Writes sections of one design, and keeps the files that their tables link to."""

    study: DesignStudy
    number: int
    files: dict[str, Dataset] = field(default_factory=dict)
    _figures: int = 0

    @property
    def stem(self) -> str:
        """Start of the names of this design's files."""
        return f"design{self.number}"

    @property
    def speed(self) -> str:
        """The speed in words, as it stands under pictures."""
        return speed_words(self.study.point.speed)

    @property
    def _range_lines(self) -> tuple[list[str], list[str], list[str]]:
        """Ranges of light, effort and EMF, in the order of the page."""
        study = self.study
        return page_range_lines(study.ranges, study.light is not None, study.effort)

    def machine(self) -> list[Markup]:
        """Write the drawings, the field, the parts in words, the clearances and the windings."""
        machine = self.study.machine
        parts = "; ".join(machine_words(machine)[:6])
        pictures = [
            self._figure(figure, f"The machine to scale, {view}.", parts)
            for view, figure in machine_figures(machine)
        ]
        keys = [
            ("North pole", COLOURS["north"]),
            ("South pole", COLOURS["south"]),
            ("Winding, cut at its middle", COLOURS["winding cut"]),
            ("Winding behind the cut", BEHIND_CUT),
            ("Shaft", COLOURS["shaft"]),
            ("Turning, crank forward", "var(--turning)"),
            ("Thin arrow: angle 0, and how angles grow", "var(--ink)"),
        ]
        if machine.placed_iron:
            keys.append(("Iron", COLOURS["iron"]))
        legend = element(
            "ul",
            *(
                element("li", element("span", class_="swatch", style=f"background:{colour}",
                                      aria_hidden="true"), words)
                for words, colour in keys
            ),
            class_="legend",
        )  # fmt: skip
        words = element("ul", *(element("li", line) for line in machine_words(machine)))
        sizes = [self._table(clearance_table(self.study, self.stem))]
        if machine.windings:
            sizes.append(self._table(winding_table(machine, self.stem)))
        return [_grid(*pictures, self._field(), element("div", legend, words), *sizes)]

    def _field(self) -> Markup:
        turn = crank_at_coil_rad(self.study.machine)
        degrees = plain_number(round(math.degrees(turn), 2), 6)
        where = (
            "at its start" if degrees == "0"
            else f"turned {degrees}°, where a magnet stands nearest to the coil"
        )  # fmt: skip
        text = (
            "Size of the magnets' flux density in colour, its direction as lines, in the plane "
            f"through shaft and coil, with the crank {where}, and no current in the coil"
        )
        text += ", iron left out." if self.study.machine.placed_iron else "."
        return self._figure(field_page_figure(self.study.machine, turn), text)

    def linkage(self) -> list[Markup]:
        """Write linkage against angle, by rotor and in total."""
        table, coils = self.study.point.flux_table, self.study.point.flux_table.coils
        swing = 1e3 * table.peak_to_peak_Wb
        found = []
        for i, (coil, figure) in enumerate(linkage_figures(table).items()):
            label = f"Flux linkage of coil {coil} with each rotor against the rotor's own angle."
            found.append(
                self._figure(
                    figure, label, f"The largest swing is {plain_number(swing[i].max())} mWb"
                )
            )
        label = "Total flux linkage of each coil with all rotors while the crank turns."
        total = max(f.peak_to_peak_linkage_Wb for f in self.study.point.figures.values())
        of = _count(len(coils), "coil")
        found.append(
            self._figure(
                total_linkage_figure(self.study.point.waveform),
                label,
                f"The largest swing is {plain_number(total * 1e3)} mWb, of {of}",
            )
        )
        return [_grid(*found, self._table(_narrow(flux_table_of(self.study, self.stem))))]

    def emf(self) -> list[Markup]:
        """Write the waveform and its figures."""
        waveform, figures = self.study.point.waveform, self.study.point.figures
        peak = max(f.peak_V for f in figures.values())
        picture = self._figure(
            emf_figure(waveform),
            f"EMF of each coil over one electrical period, nothing connected, {self.speed}.",
            f"It peaks at {number(peak, 3, NOTHING['V'])} V",
        )
        words = period_words(waveform)
        note = element("p", f"{_capital(words)}.")
        return [
            *_ranges(self._range_lines[2]),
            note,
            _grid(picture, self._table(_narrow(emf_table(self.study, self.stem)))),
        ]

    def lamps(self) -> list[Markup]:
        """Write lamps, from which speed on they light, currents and meter readings."""
        report = self.study.light
        if report is None:
            return [_absent(self.study.notes["light"])]
        answer, lamps = answers(self.study)[0], report.result.lamps
        if lamps:
            lines = [lamp_sentence(lamp) for lamp in lamps]
            lines += [
                lamp_speed_line(lamp, report.run.speed) for lamp in self.study.point.lamp_speeds
            ]
            items = (element("li", typeset(_capital(line))) for line in lines)
            words = [element("p", element("strong", answer.answer)), element("ul", *items)]
        else:
            words = [element("p", element("strong", answer.answer), f" {typeset(answer.reason)}")]
        what = "Current of each lamp" if lamps else "Current into the load"
        parts = [self._figure(lamp_figure(report), f"{what} over a period, {self.speed}.")]
        coils = self._table(_narrow(coil_table(report, self.stem)))
        powers = self._table(load_table(report, self.stem))
        if lamps:
            parts.append(self._table(_narrow(lamp_table(report, self.stem))))
            parts.append(_stack(coils, powers))
        else:
            parts += [coils, powers]
        parts.append(self._table(meter_table(report, self.stem)))
        notes = [element("p", f"Note: {note}.") for note in map(note_text, report.run.warnings)]
        sure = _ranges(self._range_lines[0])
        return [*words, *sure, _grid(*parts), *notes]

    def effort(self) -> list[Markup]:
        """Write what the hand feels, where its power goes, how rotors pull and glue holds."""
        effort = self.study.effort
        if effort is None:
            return [_absent(self.study.notes["effort"])]
        answer = answers(self.study)[1]
        peak = f"It peaks at {number(effort.crank.peak_torque_Nm, 3, NOTHING['N m'])} N m"
        pictures = [
            self._figure(
                given_torque_figure(effort),
                f"Torque that the hand gives through one repeat, {self.speed}, and turned slowly.",
                peak,
            ),
            self._figure(
                asked_torque_figure(effort),
                f"What the parts ask of the crank through the same repeat, {self.speed}.",
            ),
        ]
        tables = _stack(
            self._table(hand_table(effort, self.stem)), self._table(power_table(effort, self.stem))
        )
        rotors = self._table(rotor_table(effort, self.stem))
        notes = [element("p", f"Note: {note}.") for note in map(note_text, effort.notes)]
        lines = (element("li", typeset(line)) for line in effort_sentences(effort))
        words = element("p", element("strong", answer.answer), f" {typeset(answer.reason)}")
        sure = _ranges(self._range_lines[1])
        return [words, *sure, _grid(*pictures, tables, rotors), element("ul", *lines), *notes]

    def cautions(self) -> list[Markup]:
        """Write what can hurt, each thing once."""
        study = self.study
        found: list[Caution | None] = [*improbable_sizes(study.machine)]
        known = (Hazard.OPEN_VOLTAGE, Hazard.COIL_HEAT) if study.effort is not None else ()
        if study.effort is not None:
            found += effort_cautions(study.machine, study.effort)
        else:
            found += [
                fast_magnets_caution(study.machine, study.point.speed),
                open_voltage_caution(max(f.peak_V for f in study.point.figures.values())),
                strong_magnets_caution(study.machine),
            ]
        if study.light is not None:
            found += [c for c in study.light.cautions if c.kind not in known]
        else:
            found += opposed_coil_cautions(study.machine, study.point.waveform)
        found += shaft_cautions(study.machine)
        texts = dict.fromkeys(caution_text(c) for c in found if c is not None)
        items = [element("li", typeset(f"{text.removesuffix('.')}.")) for text in texts]
        return [element("ul", *items, class_="cautions"), element("p", WHO_DECIDES)]

    def levers(self) -> list[Markup]:
        """Write the ranked chart and table of what helps."""
        ranked = self.study.sensitivity
        if "sensitivity" in self.study.notes:
            return [_absent(self.study.notes["sensitivity"])]
        what = ranked.kind.value
        text = (
            "Every bar is a new run of the model with one thing changed by one practical step; "
            f"the rest stays as it is. The {what} counts: "
        )
        text += {
            Kind.LIGHT: "the average current of all lamps together.",
            Kind.POWER: "the power that the load makes use of.",
            Kind.VOLTAGE: f"the open RMS voltage of {ranked.what}.",
        }[ranked.kind]
        if ranked.kind is Kind.VOLTAGE and self.study.machine.windings:
            text += (
                " Thinner wire and more turns raise that voltage and the resistance too: only with "
                "a load can it be said which is best."
            )
        picture = self._figure(
            lever_figure(ranked),
            f"Change of the {what} by the steps that help most, best first, {self.speed}.",
            _top_words(ranked),
        )
        table = self._table(lever_table(ranked, self.stem, self.study.machine.title))
        steps = [step for lever in ranked.levers for step in (lever.more, lever.less)]
        blocked = [
            element("li", f"{step.words[0].upper()}{step.words[1:]}: {step.problem}.")
            for step in steps
            if step.problem
        ]
        why = [element("p", "Not possible as the machine is:"), element("ul", *blocked)]
        return [element("p", text), _grid(picture, table), *(why if blocked else [])]

    def gauges(self) -> list[Markup]:
        """Write what wires of other gauges give."""
        study = self.study.gauges
        if study is None:
            return [_absent(self.study.notes["gauges"])]
        lines = [_capital(line) for line in gauge_sentences(study)]
        items = (element("li", typeset(f"{line.removesuffix('.')}.")) for line in lines)
        table = self._table(gauge_table(study, self.stem, self.study.machine.title))
        text = f"The same sections filled with thicker and thinner wire, {self.speed}."
        return [element("p", text), _grid(table), element("ul", *items)]

    def gap(self) -> list[Markup]:
        """Write voltage against clearance."""
        gap = self.study.gap
        if gap is None:
            return [_absent(self.study.notes["gap"])]
        fits = [
            f"RMS of {coil} falls to 37 % every {plain_number(fit.decay_length_m * 1e3)} mm"
            for coil, fit in gap.fits.items()
        ]
        label = f"RMS voltage against the clearance between magnets and winding, {self.speed}"
        picture = self._figure(gap_figure(gap), "; ".join([label, *fits]) + ".")
        return [_grid(picture, self._table(gap_table(gap, self.stem)))]

    def inputs(self, source: str) -> list[Markup]:
        """Write the file as it was read, and how good the numbers are."""
        study = self.study
        errors = [
            linear_precision(study.machine, [study.point.waveform.relative_error])
            if study.gap is None
            else gap_precision(study.gap, study.machine),
            f"Flux linkage is computed to {rough(study.point.waveform.relative_error)} of its "
            "swing, as estimated from the last refinement.",
            "The steps of what helps, and the gap study, are computed to 1e-4 of the swing.",
            model_words(study.machine),
        ]
        if study.light is not None:
            balance = study.light.result.balance
            errors += [
                f"Inductances are good to {rough(study.light.run.circuit.inductance_error)}.",
                f"In the circuit energy balances to {rough(balance.energy)}, charge to "
                f"{rough(balance.charge)}.",
            ]
        if study.effort is not None:
            errors.append(
                f"The hand's power balances to {rough(abs(study.effort.relative_imbalance))}."
            )
        return [
            element("ul", *(element("li", line) for line in errors)),
            element(
                "p", "The geometry file, ", element("code", Path(study.machine.file).name), ":"
            ),
            element("pre", element("code", source), tabindex=0),
        ]

    def _table(self, table: ReportTable) -> Markup:
        self.files |= table.files()
        return table.markup()

    def _figure(self, figure: Figure, caption: str, more: str = "") -> Markup:
        """Return a figure with its caption; who cannot see it is told more."""
        self._figures += 1
        svg = figure_svg(figure, f"d{self.number}f{self._figures}-")
        figure.clear()  # what was drawn needs more memory than its text
        label = f"{caption} {more}." if more else caption
        return element("figure", inline_svg(svg, label), element("figcaption", typeset(caption)))


def _voltages(study: DesignStudy) -> tuple[float, float, float]:
    """Return peak, RMS and rectified mean of what the load hangs on, or of the strongest coil."""
    name, _ = main_source(study.point)
    if name in study.point.figures:
        figures = study.point.figures[name]
        return figures.peak_V, figures.rms_V, figures.rectified_mean_V
    emf = open_emf_V(study.point, name)
    size = np.abs(emf)
    return float(size.max()), float(rms(emf)), float(size.mean())


def _top_words(ranked: Sensitivity) -> str:
    best = ranked.helpful()[:3]
    return "; ".join(f"{e.words} {change(ranked.gain(e), 0)}" for e in best)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _absent(reason: str) -> Markup:
    words = _capital(reason)
    return element(
        "p", "Left out. ", words if words.endswith("}") else f"{words}.", class_="absent"
    )


def _narrow(table: ReportTable) -> ReportTable:
    return table.turned() if len(table.rows) <= _FEW else table


def _grid(*parts: Markup) -> Markup:
    """Return parts in as many columns as there is room for."""
    return element("div", *parts, class_="grid")


def _stack(*parts: Markup) -> Markup:
    """Return parts for one place of a grid, one below the other where that has three columns."""
    return element("div", *parts, class_="stack")


def _ranges(lines: Sequence[str]) -> list[Markup]:
    """Write how sure an answer is; nothing where that is not known."""
    if not lines:
        return []
    return [element("ul", *(element("li", typeset(line)) for line in lines), class_="sure")]


def _capital(line: str) -> str:
    return line[0].upper() + line[1:]
