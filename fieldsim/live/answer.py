"""The answer to a draft: everything the page shows, worded and formatted here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np

from fieldsim.cautions import Caution
from fieldsim.circuit.results import LampReport
from fieldsim.errors import FieldsimError, GeometryError
from fieldsim.live.axes import axis
from fieldsim.live.controls import controls, offers
from fieldsim.live.draft import Draft, Part
from fieldsim.live.scene import scene
from fieldsim.machine.machine import Machine
from fieldsim.machine_file.reader import read_text
from fieldsim.machine_file.writer import machine_text
from fieldsim.operation.cautions import effort_cautions, fast_magnets_caution
from fieldsim.operation.light import LightReport, MeterRow
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.tables.json_documents import effort_json, emf_json, light_json
from fieldsim.tables.json_form import json_form, picked
from fieldsim.waveform.flux_table import tolerance_for
from fieldsim.words.cautions import caution_text
from fieldsim.words.light_text import reading_cells, verdict
from fieldsim.words.numbers import in_unit, number, quantity, share

__all__ = ["LINKAGE_TOLERANCE", "Desk"]

LINKAGE_TOLERANCE = 1e-5
"""Of what the page shows to three digits, without iron; tight clearances are found much sooner."""

Json = dict[str, Any]
T = TypeVar("T")

_SAMPLES = 240  # of a waveform on the page
_EYE = 0.5  # brightness as it looks, against current: common practice, no published source
_DRAWN_Hz = 2.0  # fastest flicker that is drawn as it is
_MOST_PROBLEMS = 10
_KEPT = 24  # visitors whose next answers may start from the last: more than a class a process


class Desk:
    """Answers drafts, each from the one before where little has changed.

    What it keeps serves speed alone: an answer follows from its draft.
    """

    def __init__(self) -> None:
        self._points: dict[str, OperatingPoint] = {}
        self._machines: dict[str, Machine] = {}  # by their text
        self._shown: dict[str, tuple[Machine, Json]] = {}  # by visitor

    def answer(self, visitor: str, draft: Draft, part: Part) -> Json:
        """Return a part of the answer as what JSON can hold.

        Parameters
        ----------
        visitor
            Whose machine it is.
        draft
            The machine and its speed.
        part
            ``"light"`` with everything that is known at once, ``"meters"``, ``"effort"``,
            ``"iron"`` (whether it saturates) or ``"advice"``.

        Notes
        -----
        What is wrong with the draft is an answer too: ``problem`` with ``line`` and ``key`` where
        the text is wrong.
        """
        try:
            machine = draft.changed(self._machine(draft.text))
        except GeometryError as error:
            return {"problem": _problem(error)}
        except FieldsimError as error:
            return {"problem": {"words": error.in_one_line}}
        shown = self._seen(visitor, machine) if part == "light" else {}
        try:
            point = self._point(visitor, machine, draft)
            return {**shown, **_PARTS[part](point)}
        except FieldsimError as error:
            return {**shown, "problem": {"words": error.in_one_line}}

    def _machine(self, text: str) -> Machine:
        machine = self._machines.pop(text, None) or read_text(text)
        _keep(self._machines, text, machine)
        return machine

    def _seen(self, visitor: str, machine: Machine) -> Json:
        """Return what a page needs of a machine, whether it can be computed or not."""
        before, shown = self._shown.pop(visitor, (None, {}))
        if before is not machine:
            drawn = shown["scene"] if before and _looks_alike(before, machine) else scene(machine)
            shown = _described(machine, drawn)
        _keep(self._shown, visitor, (machine, shown))
        _keep(self._machines, shown["text"], machine)  # the next move comes with this text
        return shown

    def _point(self, visitor: str, machine: Machine, draft: Draft) -> OperatingPoint:
        """Return the machine at its speed; what the visitor's last one knows is taken from it."""
        near = self._points.pop(visitor, None)
        speed = draft.crank_rad_per_s
        if near is None or near.machine != machine or near.speed.base_rad_per_s != speed:
            made = OperatingPoint(machine, crank_speed_rad_per_s=speed)
            if near is not None:
                made = near.moved_to(machine, speed / near.speed.base_rad_per_s)
            made = replace(made, tolerance=max(LINKAGE_TOLERANCE, tolerance_for(machine)))
            near = made
        _keep(self._points, visitor, near)
        return near


def _keep(kept: dict[str, T], key: str, value: T) -> None:
    """Keep a value as the newest, and forget the oldest where there are too many."""
    kept[key] = value
    while len(kept) > _KEPT:
        del kept[next(iter(kept))]


def _looks_alike(one: Machine, other: Machine) -> bool:
    return (
        one.placed_rotors == other.placed_rotors
        and one.placed_coils == other.placed_coils
        and one.placed_iron == other.placed_iron
    )


def _described(machine: Machine, drawn: Json) -> Json:
    return {
        "title": machine.title,
        "text": machine_text(machine),
        "controls": [json_form(control) for control in controls(machine)],
        "offers": [json_form(offer) for offer in offers(machine)],
        "scene": drawn,
    }


def _problem(error: GeometryError) -> Json:
    """Return all that is wrong with a text, the first on top."""
    found = [
        {"words": each.problem, "line": each.place.line, "key": each.place.key}
        for each in (error, *error.others)
    ]
    return {**found[0], "lines": found[:_MOST_PROBLEMS]}


def _light(point: OperatingPoint) -> Json:
    emf = emf_json(point)
    results = [
        _result(f"emf.coils.{name}.{key}", f"{name}, nothing connected: {words}", value, "V")
        for name, figures in point.figures.items()
        for key, words, value in (
            ("rms_V", "RMS", figures.rms_V),
            ("peak_V", "peak", figures.peak_V),
        )
    ]
    cautions: list[Caution | None] = [fast_magnets_caution(point.machine, point.speed)]
    try:
        report = point.lighting
    except FieldsimError as error:
        words = error.in_one_line
        return {
            "verdict": words, "lamps": [], "waves": _open_waves(point),
            "results": results, "figures": {"emf": emf},
            "cautions": _texts(cautions),
        }  # fmt: skip
    results += _light_results(report)
    return {
        "verdict": verdict(report),
        "lamps": [_lamp(lamp) for lamp in report.lamps],
        "waves": _waves(report),
        "results": results,
        "figures": {"emf": emf},
        "cautions": _texts((*cautions, *report.cautions)),
    }


def _meters(point: OperatingPoint) -> Json:
    report = point.metered
    return {
        "meters": [_meter(i, row, report.has_load) for i, row in enumerate(report.meters)],
        "figures": {"light": light_json(report)},
        "cautions": _texts(report.cautions),
    }


def _lamp(lamp: LampReport) -> Json:
    """Return how a lamp is drawn."""
    if lamp.flashes:
        rate_Hz, depth = lamp.flash_Hz or 0.0, 1.0
        glow, how = _glow(lamp.seen_peak_A / lamp.rated_current_A), "flashes"
    else:
        rate_Hz = lamp.flicker_Hz or 0.0
        depth = lamp.flicker_percent / 100 if rate_Hz else 0.0
        glow, how = (_glow(lamp.share_of_rated) if lamp.lights else 0.0), "flickers"
    drawn = ""
    if rate_Hz > _DRAWN_Hz and glow:
        drawn = f"{lamp.label}: {how} {number(rate_Hz, 2)} times a second, drawn slowed."
    return {
        **picked(lamp, "label", "colour", "count", "lights", "flashes"),
        "rate_Hz": rate_Hz,
        "glow": glow,
        "glow_least": glow * max(0.0, 1 - depth) ** _EYE,
        "drawn": drawn,
    }


def _glow(share_of_rated: float) -> float:
    """Return how bright a lamp looks, from 0 to 1; the eye sees roughly the root of the light."""
    return float(min(1.0, max(0.0, share_of_rated)) ** _EYE)


_METERS = ("dc_V", "average_responding_V", "true_rms_V", "peak_hold_most_V")


def _meter(place: int, row: MeterRow, has_load: bool) -> Json:
    """Return what each kind of meter shows between two points."""
    state = (", load connected" if row.loaded else ", load taken off") if has_load else ""
    texts = reading_cells(row.readings)
    return {
        "words": f"{row.where}{state}",
        "cells": [
            {"name": f"light.meters[{place}].{name}", "text": text,
             "value": json_form(getattr(row.readings, name))}
            for name, text in zip(_METERS, texts, strict=True)
        ],
    }  # fmt: skip


def _result(name: str, label: str, value: float, unit: str) -> Json:
    return _worded(name, label, value, f"{in_unit(value, unit)} {unit}")


def _worded(name: str, label: str, value: float, text: str) -> Json:
    return {"name": name, "label": label, "value": json_form(value), "text": text}


def _torque(torque_Nm: float) -> str:
    return f"{number(1e3 * torque_Nm, 3, 1e-3)} mN m"


def _light_results(report: LightReport) -> list[Json]:
    found = []
    for i, lamp in enumerate(report.lamps):
        each = f"each of {lamp.count} x {lamp.label}" if lamp.count > 1 else lamp.label
        where = f"light.lamps[{i}]"
        average, peak = lamp.average_current_A, lamp.peak_current_A
        found += [
            _result(f"{where}.average_current_A", f"{each}: average", average, "mA"),
            _result(f"{where}.peak_current_A", f"{each}: peak", peak, "mA"),
            _worded(f"{where}.share_of_rated", f"{each}: of its rated current",
                    lamp.share_of_rated, share(lamp.share_of_rated)),
        ]  # fmt: skip
        if lamp.flicker_Hz:
            text = f"{number(lamp.flicker_Hz)} Hz, depth {lamp.flicker_percent:.0f} %"
            found.append(_worded(f"{where}.flicker_Hz", f"{each}: flicker", lamp.flicker_Hz, text))
    if report.has_load:
        for name, coil in report.result.coils.items():
            where = f"light.coils.{name}"
            current = coil.rms_current_A
            found.append(_result(f"{where}.rms_current_A", f"{name}: current, RMS", current, "mA"))
            found.append(_result(f"{where}.heat_W", f"{name}: heat", coil.heat_W, "mW"))
        useful = report.result.useful_power_W
        found.append(_result("light.useful_power_W", "useful power", useful, "mW"))
    return found


def _waves(report: LightReport) -> Json:
    run = report.run
    keep = _every(len(run.time_s))
    loaded = report.has_load
    voltages = [
        {"name": name, "values": _rounded(run.voltage_V[i][keep])}
        for i, name in enumerate(run.coils)
    ]
    currents = [
        {"name": name, "values": _rounded(1e3 * run.current_A[i][keep])}
        for i, name in enumerate(run.coils)
    ]
    return _waves_of(run.time_s[keep], voltages, currents if loaded else [])


def _open_waves(point: OperatingPoint) -> Json:
    wave = point.waveform
    keep = _every(len(wave.time_s))
    voltages = [
        {"name": name, "values": _rounded(wave.emf_V[i][keep])} for i, name in enumerate(wave.coils)
    ]
    return _waves_of(wave.time_s[keep], voltages, [])


def _waves_of(time_s: Any, voltages: list[Json], currents: list[Json]) -> Json:
    period = f"over one repeat of {number(1e3 * float(time_s[-1]))} ms"
    time_ms = 1e3 * time_s
    return {
        "time_ms": _rounded(time_ms),
        "time_axis": json_form(axis("time [ms]", 0.0, float(time_ms[-1]), widened=False)),
        "voltage_V": voltages,
        "voltage_axis": _axis_of("voltage [V]", voltages),
        "voltage_words": f"Voltage {period}: {_peaks(voltages, 'V')}",
        "current_mA": currents,
        "current_axis": _axis_of("current [mA]", currents),
        "current_words": f"Current {period}: {_peaks(currents, 'mA')}",
    }


def _axis_of(title: str, series: list[Json]) -> Json:
    values = [value for of in series for value in of["values"]]
    found: Json = json_form(axis(title, min(values, default=0.0), max(values, default=0.0)))
    return found


def _peaks(series: list[Json], unit: str) -> str:
    """Return the range of each curve in words, for those who do not see the picture."""
    return "; ".join(
        f"{of['name']} from {number(min(of['values']))} to {number(max(of['values']))} {unit}"
        for of in series
    )


def _every(count: int) -> slice:
    return slice(None, None, max(1, count // _SAMPLES))


def _rounded(values: Any) -> list[float]:
    """Return values to five digits of the largest: a picture shows three."""
    most = float(np.abs(values).max(initial=0.0))
    digits = 5 - int(np.floor(np.log10(most))) if most > 0 else 0
    rounded: list[float] = np.round(values, digits).tolist()
    return rounded


def _effort(point: OperatingPoint) -> Json:
    effort = point.effort
    crank = effort.crank
    torque, peak = crank.average_torque_Nm, crank.peak_torque_Nm
    results = [
        _worded("effort.crank.average_torque_Nm", "crank: average torque", torque, _torque(torque)),
        _worded("effort.crank.peak_torque_Nm", "crank: greatest torque", peak, _torque(peak)),
    ]
    words = f"The crank takes {_torque(torque)} on average"
    if effort.arm:
        arm = effort.arm.arm
        force, most = torque / arm, peak / arm
        results += [
            _worded("effort.crank.average_force_N", "at the handle: average force", force,
                    f"{number(force)} N"),
            _worded("effort.crank.peak_force_N", "at the handle: greatest force", most,
                    f"{number(most)} N"),
        ]  # fmt: skip
        words += f", {number(force)} N at its handle"
    return {
        "crank": f"{words}: {quantity(max(effort.crank.hand_W, 0.0), 'W')} from the hand.",
        "results": results,
        "figures": {"effort": effort_json(point.machine, effort)},
        "cautions": _texts(effort_cautions(point.machine, effort)),
    }


def _iron(point: OperatingPoint) -> Json:
    """Return whether its iron saturates: where there is any, that takes seconds."""
    return {"cautions": _texts(point.saturation)}


def _advice(point: OperatingPoint) -> Json:
    from fieldsim.studies.sensitivity import sensitivity
    from fieldsim.words.numbers import change

    found = sensitivity(point)
    return {
        "words": "By the most helpful step first:" if found.helpful() else "No single step helps.",
        "kind": found.kind.value,
        "steps": [
            {"words": step.words, "gain": change(found.gain(step)), "value": found.gain(step)}
            for step in found.helpful()[:6]
        ],
    }


def _texts(cautions: Iterable[Caution | None]) -> list[str]:
    return list(dict.fromkeys(caution_text(c) for c in cautions if c is not None))


_PARTS = {
    "light": _light, "meters": _meters, "effort": _effort, "iron": _iron, "advice": _advice
}  # fmt: skip
