"""The report's tables of lamps and coils, of wire, of the hand and of where its power goes."""

from __future__ import annotations

import math

import numpy as np

from fieldsim.machine.machine import Machine
from fieldsim.operation.effort import Effort
from fieldsim.operation.light import LightReport
from fieldsim.report.tables import ReportTable
from fieldsim.studies.gauges import GaugeStudy
from fieldsim.studies.wind import wound_coils
from fieldsim.tables.dataset import columns_of, labelled_dataset
from fieldsim.tables.result_datasets import (
    circuit_dataset,
    effort_dataset,
    gauge_dataset,
    wound_dataset,
)
from fieldsim.words.effort_text import (
    ROTOR_HEADER,
    hand_torques_Nm,
    powers_left_out,
    powers_W,
    rotor_cells,
)
from fieldsim.words.light_text import (
    COIL_HEADER,
    LAMP_HEADER,
    coil_cells,
    lamp_cells,
    power_rows,
    powers_in_circuit_W,
)
from fieldsim.words.numbers import number, plain_number
from fieldsim.words.wind_text import gauge_cells

__all__ = [
    "coil_table",
    "gauge_table",
    "hand_table",
    "lamp_table",
    "load_table",
    "power_table",
    "rotor_table",
    "winding_table",
]


def lamp_table(report: LightReport, stem: str) -> ReportTable:
    """Return every group of lamps with its current, whether it lights and how it flickers."""
    lamps = report.result.lamps
    names = tuple(f"{lamp.count} × {lamp.label}" for lamp in lamps)
    kinds = ("average", "peak", "visible", "rated")
    columns = columns_of(
        lamps, [*(f"{kind}_A={kind}_current_A" for kind in kinds), "flicker_Hz", "flicker_percent"]
    )
    header = ["lamps", *LAMP_HEADER[2:]]
    rows = [[name, *lamp_cells(lamp)[2:]] for name, lamp in zip(names, lamps, strict=True)]
    return ReportTable(
        f"{stem}_lamps",
        "Lamps, each of them",
        header,
        rows,
        labelled_dataset("lamp", names, columns, report.title),
        {"currents": ("all waveforms", circuit_dataset(report.result, report.title))},
    )


def coil_table(report: LightReport, stem: str) -> ReportTable:
    """Return how hard every coil works."""
    names = tuple(coil.name for coil in report.coils)
    kinds = ["rms_current_A", "recommended_current_A", "heat_W", "temperature_rise_K"]
    kinds += ["resistance_ohm", "wire_temperature_K"]
    return ReportTable(
        f"{stem}_coils",
        "Coils with the load on",
        COIL_HEADER,
        [coil_cells(coil) for coil in report.coils],
        labelled_dataset("coil", names, columns_of(report.coils, kinds), report.title),
    )


def load_table(report: LightReport, stem: str) -> ReportTable:
    """Return where the coils' power goes."""
    powers = powers_in_circuit_W(report.result)
    values = np.array(list(powers.values()))
    source = float(values[0])
    columns = {"power_W": values, "share": values / source if source > 0 else values * math.nan}
    return ReportTable(
        f"{stem}_load",
        "Where the coils' power goes",
        ["part", "mW", "share"],
        power_rows(report.result),
        labelled_dataset("part", tuple(powers), columns, report.title),
    )


def winding_table(machine: Machine, stem: str) -> ReportTable:
    """Return what the wire of every wound coil comes to."""
    wound = wound_coils(machine)
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
    data = wound_dataset(wound, machine.title)
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
    absent = powers_left_out(effort)
    parts = {name: math.nan if name in absent else w for name, w in powers_W(effort).items()}
    values = np.array(list(parts.values()))
    hand = float(values[-1])
    shares = values / hand if hand > 1e-12 else np.full(len(values), math.nan)
    rows = [
        [
            name,
            "left out" if name in absent else number(1e3 * watt),
            "-" if math.isnan(part) else f"{100 * part:.1f} %",
        ]
        for name, watt, part in zip(parts, values, shares, strict=True)
    ]
    columns = {"power_W": values, "share": shares}
    return ReportTable(
        f"{stem}_power",
        "Where the hand's power goes",
        ["part", "mW", "share"],
        rows,
        labelled_dataset("part", tuple(parts), columns, effort.title),
    )


def rotor_table(effort: Effort, stem: str) -> ReportTable:
    """Return what turns and pulls every rotor, and how its glue holds."""
    held = list(zip(effort.holds, effort.speed.rotors_rad_per_s, strict=True))
    names = tuple(hold.rotor for hold in effort.holds)
    known = effort.glue_known
    columns = {
        "speed_rad_per_s": [speed for _, speed in held],
        "gear_efficiency": [effort.train.efficiencies[name] for name in names],
        "average_coil_torque_Nm": [effort.coil_torque_Nm[name].mean() for name in names],
        "peak_magnet_torque_Nm": [np.abs(effort.magnet_torque_Nm[name]).max() for name in names],
        "centrifugal_N": [hold.weakest.centrifugal_N for hold in effort.holds],
        "glue_load": [hold.weakest.glue_load if known else math.nan for hold in effort.holds],
        "leaves_at_rad_per_s": [
            hold.weakest.leaves_at_rad_per_s if known else math.nan for hold in effort.holds
        ],
        "speed_margin": [hold.speed_margin if known else math.nan for hold in effort.holds],
    }
    return ReportTable(
        f"{stem}_rotors",
        "Rotors, and the glue under the magnet that leaves first",
        ROTOR_HEADER,
        [rotor_cells(effort, hold, speed) for hold, speed in held],
        labelled_dataset(
            "rotor", names, {k: np.array(v) for k, v in columns.items()}, effort.title
        ),
    )


def gauge_table(study: GaugeStudy, stem: str, title: str) -> ReportTable:
    """Return what each gauge gives in the same section."""
    header, rows = gauge_cells(study)
    caption = f"Each gauge filling the section of {', '.join(study.coils)}"
    return ReportTable(f"{stem}_gauges", caption, header, rows, gauge_dataset(study, title))
