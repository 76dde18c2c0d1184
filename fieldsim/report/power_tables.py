"""The report's tables of lamps, of windings, of the hand and of where its power goes."""

from __future__ import annotations

import math

import numpy as np

from fieldsim.machine.machine import Machine
from fieldsim.operation.effort import Effort
from fieldsim.operation.light import LightReport
from fieldsim.report.tables import ReportTable
from fieldsim.studies.wind import wound_coils
from fieldsim.tables.dataset import columns_of, labelled_dataset
from fieldsim.tables.result_datasets import circuit_dataset, effort_dataset, wound_dataset
from fieldsim.words.effort_text import hand_torques_Nm, powers_W
from fieldsim.words.numbers import in_unit, number, plain_number

__all__ = ["hand_table", "lamp_table", "power_table", "winding_table"]


def lamp_table(report: LightReport, stem: str) -> ReportTable:
    """Return every group of lamps with its current and whether it lights."""
    lamps = report.result.lamps
    names = tuple(f"{lamp.count} × {lamp.label}" for lamp in lamps)
    kinds = ("average", "peak", "visible", "rated")
    columns = columns_of(lamps, [f"{kind}_A={kind}_current_A" for kind in kinds])
    rows = [
        [
            name,
            "yes" if lamp.lights else "no",
            *(in_unit(v[i], "mA") for v in columns.values()),
        ]
        for i, (name, lamp) in enumerate(zip(names, lamps, strict=True))
    ]
    return ReportTable(
        f"{stem}_lamps",
        "Lamps, current of each",
        ["lamps", "lit", "average, mA", "peak, mA", "seen from, mA", "rated, mA"],
        rows,
        labelled_dataset("lamp", names, columns, report.title),
        {"currents": ("all waveforms", circuit_dataset(report.result, report.title))},
    )


def winding_table(geometry: Machine, stem: str) -> ReportTable:
    """Return what the wire of every wound coil comes to."""
    wound = wound_coils(geometry)
    rows = [
        [
            coil.name,
            coil.winding.wire.name,
            f"{coil.winding.turns}",
            f"{number(coil.winding.wire_length_m)} m",
            f"{number(coil.winding.mass_kg * 1e3)} g",
            f"{number(coil.resistance_ohm)} Ω",
            f"{number(coil.inductance_H * 1e3)} mH",
        ]
        for coil in wound
    ]
    header = ["coil", "wire", "turns", "length", "mass", "resistance", "inductance"]
    data = wound_dataset(wound, geometry.title)
    return ReportTable(f"{stem}_winding", "Windings", header, rows, data)


def hand_table(effort: Effort, stem: str) -> ReportTable:
    """Return torque, and force on the arm, at the crank."""
    names = ("average", "most", "least", "most, turned slowly")
    torques = hand_torques_Nm(effort)
    columns = {"torque_Nm": torques}
    header = ["at the crank", "torque, N m"]
    if effort.arm:
        columns["force_N"] = torques / effort.arm.arm
        header.append(f"force on the {plain_number(effort.arm.arm * 1e3, 4)} mm arm, N")
    rows = [[n, *(number(v[i]) for v in columns.values())] for i, n in enumerate(names)]
    return ReportTable(
        f"{stem}_hand",
        "What the hand gives",
        header,
        rows,
        labelled_dataset("at_the_crank", names, columns, effort.title),
        {"torque": ("torque against crank angle", effort_dataset(effort))},
    )  # fmt: skip


def power_table(effort: Effort, stem: str) -> ReportTable:
    """Return where the hand's power goes."""
    parts = powers_W(effort)
    values = np.array(list(parts.values()))
    hand = float(values[-1])
    shares = values / hand if hand > 1e-12 else np.full(len(values), math.nan)
    rows = [
        [name, number(1e3 * w), "-" if math.isnan(s) else f"{100 * s:.1f} %"]
        for name, w, s in zip(parts, values, shares, strict=True)
    ]
    columns = {"power_W": values, "share": shares}
    return ReportTable(
        f"{stem}_power",
        "Where the hand's power goes",
        ["part", "mW", "share"],
        rows,
        labelled_dataset("part", tuple(parts), columns, effort.title),
    )
