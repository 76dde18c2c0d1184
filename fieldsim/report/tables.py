"""The tables of a report: what is shown, and the same numbers as files to go on with."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fieldsim.operation.light import LightReport
from fieldsim.report.markup import Markup, element, joined
from fieldsim.studies.design_study import DesignStudy
from fieldsim.studies.gap import GapStudy
from fieldsim.studies.sensitivity import Effect, Kind, Sensitivity
from fieldsim.tables.dataset import Dataset, columns_of, labelled_dataset
from fieldsim.tables.flux_file import flux_dataset
from fieldsim.tables.result_datasets import emf_dataset, gap_dataset
from fieldsim.words.light_text import reading_cells
from fieldsim.words.numbers import NOTHING, change, in_unit, number, plain_number, rough, typeset

__all__ = [
    "ReportTable",
    "clearance_table",
    "emf_table",
    "flux_table_of",
    "gap_table",
    "lever_table",
    "meter_table",
]


_NAME_LETTERS = (
    15,
    18,
)  # of a row's name on one line: its column is no narrower, nor need be wider
_BETWEEN_LETTERS = 2.4  # what stands between columns, in letters
_ROOMS = {"one": 41.0, "two": 84.0}  # columns of a page: letters that they hold


@dataclass(frozen=True)
class ReportTable:
    """A table and the files that hold its numbers.

    Parameters
    ----------
    stem
        Of the files' names.
    caption
        What it shows.
    header
        Of the columns; the first one names the rows.
    rows
        As shown; typeset here.
    dataset
        The table's own numbers.
    more
        Further datasets to link, by the end of the stem and with the words for them.
    """

    stem: str
    caption: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    dataset: Dataset
    more: Mapping[str, tuple[str, Dataset]] = field(default_factory=dict)

    def files(self) -> dict[str, Dataset]:
        """Return the datasets by file name, each as CSV and HDF5."""
        found = {self.stem: self.dataset}
        found |= {f"{self.stem}_{end}": data for end, (_, data) in self.more.items()}
        return {stem + ending: d for stem, d in found.items() for ending in (".csv", ".h5")}

    def markup(self) -> Markup:
        """Return the table with its links.

        Roles and the columns' names stand at every cell: a narrow screen shows a wide table as one
        block for each row, and takes the table's own meaning from it.
        """
        head = element(
            "tr",
            *(element("th", name, scope="col", role="columnheader") for name in self.header),
            role="row",
        )
        body = [
            element(
                "tr",
                element("th", typeset(row[0]), scope="row", role="rowheader"),
                *(
                    element("td", typeset(cell), role="cell", data_name=name)
                    for name, cell in zip(self.header[1:], row[1:], strict=True)
                ),
                role="row",
            )
            for row in self.rows
        ]
        table = element(
            "table", element("caption", self.caption),
            element("thead", head, role="rowgroup"), element("tbody", *body, role="rowgroup"),
            role="table",
        )  # fmt: skip
        links = [self._link("these numbers", self.stem)]
        links += [self._link(words, f"{self.stem}_{end}") for end, (words, _) in self.more.items()]
        scroller = element(
            "div", table, class_="scroll", tabindex=0, role="group", aria_label=self.caption
        )
        files = element("p", "Files: ", joined(links, "; "), class_="files")
        return element("div", scroller, files, class_=f"table {self.room}")

    @property
    def room(self) -> str:
        """How many of a page's columns it needs: one, two or the whole width."""
        names = [max(map(len, name.split()), default=0) for name in self.header]
        cells = [max((len(row[i]) for row in self.rows), default=0) for i in range(len(names))]
        # The first cell of a row may fill several lines.
        least, enough = _NAME_LETTERS
        widths = [min(max(names[0], cells[0], least), enough)]
        widths += [max(pair) for pair in zip(names[1:], cells[1:], strict=True)]
        letters = sum(widths) + _BETWEEN_LETTERS * len(widths)
        return next((room for room, most in _ROOMS.items() if letters <= most), "whole")

    def turned(self) -> ReportTable:
        """Return the same table with rows and columns exchanged: narrower, where rows are few."""
        names, *columns = zip(*self.rows, strict=True)
        header = [self.header[0], *names]
        rows = [[n, *column] for n, column in zip(self.header[1:], columns, strict=True)]
        return replace(self, header=header, rows=rows)

    @staticmethod
    def _link(words: str, stem: str) -> Markup:
        csv = element("a", f"{stem}.csv", href=f"{stem}.csv", download=True)
        h5 = element("a", f"{stem}.h5", href=f"{stem}.h5", download=True)
        return joined([f"{words} as ", csv, " and ", h5])


def clearance_table(study: DesignStudy, stem: str) -> ReportTable:
    """Return the smallest distances of the parts."""
    names = tuple(f"{c.first} to {c.second}" for c in study.point.clearances)
    columns = columns_of(study.point.clearances, ["distance_m"])
    return ReportTable(
        f"{stem}_clearance",
        "Clearances over a whole turn",
        ["between", "mm"],
        [[name, in_unit(d, "mm")] for name, d in zip(names, columns["distance_m"], strict=True)],
        labelled_dataset("pair", names, columns, study.machine.title),
    )


def flux_table_of(study: DesignStudy, stem: str) -> ReportTable:
    """Return the swing of every pair of coil and rotor."""
    table = study.point.flux_table
    slope = np.abs(table.derivative_Wb_per_rad()).max(axis=2)
    swing = table.peak_to_peak_Wb
    pairs = [(i, j) for i in range(len(table.coils)) for j in range(len(table.rotors))]
    names = tuple(f"{table.coils[i]} with {table.rotors[j]}" for i, j in pairs)
    columns = {
        "swing_Wb": np.array([swing[p] for p in pairs]),
        "steepest_Wb_per_rad": np.array([slope[p] for p in pairs]),
        "relative_error": np.array([table.relative_error[p] for p in pairs]),
    }
    rows = [
        [
            name,
            *(number(of[p] * 1e3, 3, 1e3 * NOTHING["Wb"]) for of in (swing, slope)),
            rough(table.relative_error[p]),
        ]
        for name, p in zip(names, pairs, strict=True)
    ]
    return ReportTable(
        f"{stem}_linkage",
        "Flux linkage of every coil with every rotor",
        ["coil with rotor", "swing, mWb", "steepest, mWb/rad", "error over swing"],
        rows,
        labelled_dataset("pair", names, columns, table.title),
        {"curves": ("the curves over a rotor turn", flux_dataset(table))},
    )


def emf_table(study: DesignStudy, stem: str) -> ReportTable:
    """Return the figures of the EMF of coils, and of connections that can be told."""
    joined = {n: f for n, f in study.point.connection_figures.items() if f is not None}
    figures = {**study.point.figures, **joined}
    names = tuple(figures)
    header = {
        "peak_V": "peak, V",
        "rms_V": "RMS, V",
        "rectified_mean_V": "rectified mean, V",
        "form_factor": "form factor",
        "frequency_Hz": "frequency, Hz",
    }
    columns = columns_of(list(figures.values()), list(header))
    waveforms = study.point.waveform, study.point.connection_waveform
    return ReportTable(
        f"{stem}_emf",
        "EMF with nothing connected",
        ["coil", *header.values()],
        [
            [name, *(number(of[i], 3, NOTHING["V"]) for of in columns.values())]
            for i, name in enumerate(names)
        ],
        labelled_dataset("coil", names, columns, study.machine.title),
        {"waveform": ("the waveform over a period", emf_dataset(*waveforms))},
    )


def meter_table(report: LightReport, stem: str) -> ReportTable:
    """Return what meters show."""
    places = tuple(f"{r.where}, load {'on' if r.loaded else 'off'}" for r in report.meters)
    shown = [r.readings for r in report.meters]
    kinds = ["dc_V", "average_responding_V", "true_rms_V", "peak_hold_V=peak_hold_most_V"]
    rows = [
        [place, *reading_cells(readings)] for place, readings in zip(places, shown, strict=True)
    ]
    return ReportTable(
        f"{stem}_meter",
        f"What a meter of {plain_number(report.meter.input_ohm / 1e6)} MΩ shows",
        ["between", "DC, V", "AC averaging, V", "AC true RMS, V", "peak hold, V"],
        rows,
        labelled_dataset("place", places, columns_of(shown, kinds), report.title),
    )


def gap_table(study: GapStudy, stem: str) -> ReportTable:
    """Return the voltage at each clearance."""
    single = len(study.told) == 1
    rows = [
        [
            f"{plain_number(row.gap_m * 1e3, 6)} mm" + ("" if single else f", {name}"),
            number(row.told[name].rms_V, 3, NOTHING["V"]),
            number(row.told[name].peak_V, 3, NOTHING["V"]),
            change(row.percent_per_tenth_mm[name] / 100),
        ]
        for row in study.rows
        for name in study.told
    ]
    header = ["clearance", "RMS, V", "peak, V", "RMS per 0.1 mm more"]
    caption = "Voltage against clearance, all rotors moved along their shafts"
    return ReportTable(f"{stem}_gap", caption, header, rows, gap_dataset(study))


def lever_table(found: Sensitivity, stem: str, title: str) -> ReportTable:
    """Return what each lever changes by the step that helps more and by the opposite one."""
    pairs = [
        (lever.more, lever.less) if found.best(lever) is lever.more else (lever.less, lever.more)
        for lever in found.levers
    ]
    kinds: list[tuple[str, Callable[[Effect], float]]] = [("RMS", lambda e: e.voltage_gain)]
    if not math.isnan(found.lamp_current_average_A):
        kinds.append(("light", lambda e: e.light_gain))
    elif found.kind is Kind.POWER:
        kinds.append(("power", lambda e: e.power_gain))
    header = [
        "step", *(kind for kind, _ in kinds), *(f"{kind}, other way" for kind, _ in kinds)
    ]  # fmt: skip
    rows = [
        [
            better.words,
            *(change(of(step)) for step in (better, worse) for _, of in kinds),
        ]
        for better, worse in pairs
    ]
    steps = [step for pair in pairs for step in pair if step.words]
    columns = columns_of(
        steps,
        ["rms_V", "lamp_current_average_A", "load_W", "voltage_gain", "light_gain", "power_gain"],
    )
    words = tuple(s.words for s in steps)
    return ReportTable(
        f"{stem}_what_helps",
        f"One step at a time; RMS is that of {found.what}, open",
        header,
        rows,
        labelled_dataset("step", words, columns, title),
    )
