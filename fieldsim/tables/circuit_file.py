"""Solved circuits, wires and matches as datasets for CSV and HDF5."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.load.circuit_parts import Led
from fieldsim.studies.gauges import GaugeStudy
from fieldsim.studies.wind import WoundCoil
from fieldsim.tables.dataset import Dataset, Dimension, Variable

if TYPE_CHECKING:
    from fieldsim.studies.match import MatchStudy

__all__ = ["circuit_dataset", "gauge_dataset", "match_dataset", "wound_dataset"]

_NAN = math.nan


def circuit_dataset(result: CircuitResult, title: str) -> Dataset:
    """Return the waveforms over a period, or over a start, with named dimensions.

    Dimensions are time, coil, outlet and lamp; ``load_voltage_V`` is that behind the bridge where
    there is one.
    """
    points = result.points_to_show
    coils, outlets = list(result.coils.values()), list(result.outlets.values())
    lamps = [trace for trace in result.parts if isinstance(trace.part, Led)]

    def even(rows: Sequence[np.ndarray]) -> np.ndarray:
        return np.array([result.sampled(row, points)[1] for row in rows])

    behind = [o.voltage_V if o.dc_voltage_V is None else o.dc_voltage_V for o in outlets]
    time_s = result.sampled(coils[0].emf_V, points)[0]
    dimensions = [
        Dimension("time_s", time_s, "s"),
        Dimension("coil", tuple(coil.name for coil in coils)),
        Dimension("outlet", tuple(outlet.name for outlet in outlets)),
    ]
    by_coil, by_outlet = ("coil", "time_s"), ("outlet", "time_s")
    variables = [
        Variable("emf_V", "V", by_coil, even([c.emf_V for c in coils]), "EMF"),
        Variable("current_A", "A", by_coil, even([c.current_A for c in coils]), "coil current"),
        Variable("voltage_V", "V", by_coil, even([c.voltage_V for c in coils]), "at its ends"),
        Variable("load_voltage_V", "V", by_outlet, even(behind), "across the load"),
    ]
    if lamps:
        dimensions.append(Dimension("lamp", tuple(trace.label for trace in lamps)))
        currents = even([trace.current_A for trace in lamps])
        text = "current of each lamp of the group"
        variables.append(Variable("lamp_current_A", "A", ("lamp", "time_s"), currents, text))
    return Dataset(tuple(dimensions), tuple(variables), {"title": title})


def wound_dataset(coils: Sequence[WoundCoil], title: str) -> Dataset:
    """Return the windings with one dimension, coil; NaN where a value does not exist."""
    windings = [coil.winding for coil in coils]
    columns: list[tuple[str, str, list[float]]] = [
        ("turns", "", [float(w.turns) for w in windings]),
        ("build_m", "m", [w.build_m for w in windings]),
        ("layers", "", [_NAN if w.layers is None else float(w.layers) for w in windings]),
        ("mean_turn_m", "m", [w.mean_turn_m for w in windings]),
        ("wire_length_m", "m", [w.wire_length_m for w in windings]),
        ("mass_kg", "kg", [w.mass_kg for w in windings]),
        ("leftover_m", "m", [_NAN if w.leftover_m is None else w.leftover_m for w in windings]),
        ("wire_fill", "", [w.wire_fill for w in windings]),
        ("resistance_ohm", "ohm", [coil.resistance_ohm for coil in coils]),
        ("inductance_H", "H", [coil.inductance_H for coil in coils]),
        ("recommended_current_A", "A", [coil.recommended_A for coil in coils]),
    ]
    return Dataset(
        (Dimension("coil", tuple(coil.name for coil in coils)),),
        tuple(Variable(n, u, ("coil",), np.array(values)) for n, u, values in columns),
        {"title": title},
    )


def gauge_dataset(study: GaugeStudy, title: str) -> Dataset:
    """Return what each gauge gives with named dimensions: wire, coil."""
    rows = study.rows
    columns: list[tuple[str, str, list[float]]] = [
        ("bare_diameter_m", "m", [r.wire.bare_diameter_m for r in rows]),
        ("wire_length_m", "m", [r.wire_m for r in rows]),
        ("resistance_ohm", "ohm", [r.resistance_ohm for r in rows]),
        ("open_circuit_peak_V", "V", [r.open_peak_V for r in rows]),
        ("open_circuit_rms_V", "V", [r.open_rms_V for r in rows]),
        ("current_rms_A", "A", [r.current_A for r in rows]),
        ("coil_current_rms_A", "A", [r.coil_current_A for r in rows]),
        ("lamp_current_average_A", "A", [_NAN if r.lamp_A is None else r.lamp_A for r in rows]),
        ("load_power_W", "W", [r.load_W for r in rows]),
        ("coil_heat_W", "W", [r.heat_W for r in rows]),
        ("recommended_current_A", "A", [r.recommended_A for r in rows]),
    ]
    turns = np.array([[float(r.windings[c].turns) for c in study.coils] for r in rows])
    return Dataset(
        (
            Dimension("wire", tuple(r.wire.name for r in rows)),
            Dimension("coil", study.coils),
        ),
        (
            Variable("turns", "", ("wire", "coil"), turns),
            *(Variable(n, u, ("wire",), np.array(values)) for n, u, values in columns),
        ),
        {"title": title, "outlet": study.outlet},
    )


def match_dataset(study: MatchStudy) -> Dataset:
    """Return power against load resistance; the curve over gauges goes along in HDF5."""
    gauges = gauge_dataset(study.gauges, study.title)
    curve = study.curve
    return Dataset(
        (Dimension("load_resistance_ohm", curve.resistance_ohm, "ohm"), *gauges.dimensions),
        (
            Variable("load_power_at_resistance_W", "W", ("load_resistance_ohm",), curve.power_W),
            *gauges.variables,
        ),
        gauges.attributes,
    )
