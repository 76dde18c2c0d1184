"""Results as datasets for CSV and HDF5: attributes keep their names, the unit follows from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.tables.dataset import (
    Dataset,
    Dimension,
    Variable,
    columns_of,
    labelled_dataset,
    over,
)

if TYPE_CHECKING:
    from fieldsim.circuit.results import CircuitResult
    from fieldsim.operation.effort import Effort
    from fieldsim.studies.compare import Comparison
    from fieldsim.studies.gap import GapStudy
    from fieldsim.studies.gauges import GaugeStudy
    from fieldsim.studies.match import MatchStudy
    from fieldsim.studies.vary import VaryStudy
    from fieldsim.studies.wind import WoundCoil
    from fieldsim.waveform.emf import EmfWaveform
    from fieldsim.waveform.figures import EmfFigures

__all__ = [
    "circuit_dataset",
    "comparison_dataset",
    "effort_dataset",
    "emf_dataset",
    "gap_dataset",
    "gauge_dataset",
    "match_dataset",
    "vary_dataset",
    "wound_dataset",
]

_FIGURES = ("peak_V", "rms_V", "rectified_mean_V", "frequency_Hz", "peak_to_peak_linkage_Wb")
_WINDING = (
    "turns", "build_m", "layers", "mean_turn_m", "wire_length_m", "mass_kg", "leftover_m",
    "wire_fill",
)  # fmt: skip
_GAUGE = (
    "bare_diameter_m=wire.bare_diameter_m", "wire_length_m", "resistance_ohm",
    "open_circuit_peak_V", "open_circuit_rms_V", "current_rms_A", "coil_current_rms_A",
    "lamp_current_average_A", "load_power_W", "coil_heat_W", "recommended_current_A",
    "lamp_current_total_A", "within_ratings",
)  # fmt: skip


def emf_dataset(waveform: EmfWaveform, joined: EmfWaveform | None = None) -> Dataset:
    """Return a waveform over one period with named dimensions: time, coil, connection.

    Parameters
    ----------
    waveform
        Of the coils.
    joined
        Of joined coils at the same times, as from
        `fieldsim.operation.terminal_voltage.connection_waveform`.
    """
    by_coil, linkage = ("coil", "time_s"), waveform.linkage_Wb
    dimensions = [Dimension("time_s", waveform.time_s), Dimension("coil", waveform.coils)]
    variables = [
        Variable("emf_V", by_coil, waveform.emf_V, "EMF, open circuit"),
        Variable("linkage_Wb", by_coil, linkage, "flux linkage with all rotors", in_csv=False),
    ]
    if joined is not None and joined.coils:
        dimensions.append(Dimension("connection", joined.coils))
        words = "joined coils, open circuit"
        by_connection = ("connection", "time_s")
        variables.append(Variable("connection_emf_V", by_connection, joined.emf_V, words))
    return Dataset(
        tuple(dimensions),
        tuple(variables),
        {
            "title": waveform.title,
            "period_s": waveform.period_s,
            "period_exact": str(waveform.period.exact).lower(),
            "relative_error": waveform.relative_error,
        },
    )


def _figure_variables(
    rows: tuple[Dimension, ...],
    coils: Sequence[Mapping[str, EmfFigures]],
    connections: Sequence[Mapping[str, EmfFigures | None]],
) -> tuple[tuple[Dimension, ...], tuple[Variable, ...]]:
    """Return the figures over (rows, coil), and over (rows, connection) where there are some.

    NaN where a row has no such coil, or nothing is known of a connection.
    """
    dimensions, variables = list(rows), []
    for what, figures in (("coil", coils), ("connection", connections)):
        names = tuple(dict.fromkeys(name for of_row in figures for name in of_row))
        if not names:
            continue
        dimensions.append(Dimension(what, names))
        over_both = (*(each.name for each in rows), what)
        shape = tuple(map(len, rows))
        each = [columns_of([of_row.get(name) for of_row in figures], _FIGURES) for name in names]
        for figure in _FIGURES:
            values = np.stack([of[figure] for of in each], axis=1).reshape(*shape, len(names))
            variables.append(
                Variable(figure if what == "coil" else f"{what}_{figure}", over_both, values)
            )
    return tuple(dimensions), tuple(variables)


def gap_dataset(study: GapStudy) -> Dataset:
    """Return a gap study with named dimensions: gap, coil, connection."""
    rows = (Dimension("gap_m", np.array([row.gap_m for row in study.rows])),)
    coils, connections = zip(*((r.figures, r.connections) for r in study.rows), strict=True)
    return Dataset(*_figure_variables(rows, coils, connections), {"title": study.title})


_VARIED = {
    "lamp_current_average_A": "brightest_lamp_A",
    "load_power_W": "useful_power_W",
    "coil_heat_W": "coil_heat_W",
    "crank_torque_average_Nm": "average_torque_Nm",
}


def vary_dataset(study: VaryStudy) -> Dataset:
    """Return a study over one or two parameters: a dimension each, named by its path.

    Further dimensions are coil and connection.
    """
    varied = []
    for each in study.parameters:
        values = tuple(dict.fromkeys(row.values[each.path] for row in study.rows))
        name = f"{each.path}_{each.unit}".replace("/", "_per_").removesuffix("_")
        words = any(isinstance(value, str) for value in values)
        coordinates = tuple(map(str, values)) if words else np.array(values, dtype=float)
        varied.append(Dimension(name, coordinates))
    names = tuple(dimension.name for dimension in varied)
    shape = tuple(map(len, varied))
    coils, connections = zip(*((r.coils, r.connections) for r in study.rows), strict=True)
    dimensions, figures = _figure_variables(tuple(varied), coils, connections)
    variables = []
    for name, attribute in _VARIED.items():
        stated = [getattr(row, attribute) for row in study.rows]
        column = np.array([np.nan if v is None else v for v in stated], dtype=float)
        if not np.isnan(column).all():
            variables.append(Variable(name, names, column.reshape(shape)))
    of_coils, of_connections = figures[: len(_FIGURES)], figures[len(_FIGURES) :]
    variables = [*of_coils, *variables, *of_connections]
    return Dataset(dimensions, tuple(variables), {"title": study.title})


def comparison_dataset(comparison: Comparison) -> Dataset:
    """Return a comparison with named dimensions: design (its file), coil, connection."""
    designs = comparison.designs
    rows = (Dimension("design", tuple(design.file for design in designs)),)
    coils, connections = zip(*((d.figures, d.connections) for d in designs), strict=True)
    return Dataset(*_figure_variables(rows, coils, connections))


def circuit_dataset(result: CircuitResult, title: str) -> Dataset:
    """Return the waveforms over a period, or over a start, with named dimensions.

    Dimensions are time, coil, outlet and lamp; ``load_voltage_V`` is that behind the bridge where
    there is one.
    """
    from fieldsim.machine.load.circuit_parts import Led

    coils, outlets = list(result.coils.values()), list(result.outlets.values())
    lamps = [trace for trace in result.parts if isinstance(trace.part, Led)]

    def even(rows: Sequence[np.ndarray]) -> np.ndarray:
        return np.array([result.sampled(row, result.points_to_show)[1] for row in rows])

    behind = [o.voltage_V if o.dc_voltage_V is None else o.dc_voltage_V for o in outlets]
    dimensions = [
        Dimension("time_s", result.sampled(coils[0].emf_V, result.points_to_show)[0]),
        Dimension("coil", tuple(coil.name for coil in coils)),
        Dimension("outlet", tuple(outlet.name for outlet in outlets)),
    ]
    by_coil = ("coil", "time_s")
    variables = [
        Variable("emf_V", by_coil, even([c.emf_V for c in coils]), "EMF"),
        Variable("current_A", by_coil, even([c.current_A for c in coils]), "coil current"),
        Variable("voltage_V", by_coil, even([c.voltage_V for c in coils]), "at its ends"),
        Variable("load_voltage_V", ("outlet", "time_s"), even(behind), "across the load"),
    ]
    if lamps:
        dimensions.append(Dimension("lamp", tuple(trace.label for trace in lamps)))
        currents = even([trace.current_A for trace in lamps])
        text = "current of each lamp of the group"
        variables.append(Variable("lamp_current_A", ("lamp", "time_s"), currents, text))
    return Dataset(tuple(dimensions), tuple(variables), {"title": title})


def wound_dataset(coils: Sequence[WoundCoil], title: str) -> Dataset:
    """Return the windings with one dimension, coil; NaN where a value does not exist."""
    own = ("resistance_ohm", "inductance_H", "recommended_current_A")
    columns = columns_of([coil.winding for coil in coils], _WINDING) | columns_of(coils, own)
    return labelled_dataset("coil", tuple(coil.name for coil in coils), columns, title)


def gauge_dataset(study: GaugeStudy, title: str) -> Dataset:
    """Return what each gauge gives with named dimensions: wire, coil."""
    rows = study.rows
    turns = np.array([[float(row.turns[coil]) for coil in study.coils] for row in rows])
    return Dataset(
        (Dimension("wire", tuple(r.wire.name for r in rows)), Dimension("coil", study.coils)),
        (Variable("turns", ("wire", "coil"), turns), *over("wire", columns_of(rows, _GAUGE))),
        {"title": title, "outlet": study.across},
    )


def match_dataset(study: MatchStudy) -> Dataset:
    """Return power against load resistance; the curve over gauges goes along in HDF5."""
    gauges, curve = gauge_dataset(study.gauges, study.title), study.curve
    rows = "load_resistance_ohm"
    return Dataset(
        (Dimension(rows, curve.load_resistance_ohm), *gauges.dimensions),
        (Variable("load_power_at_resistance_W", (rows,), curve.power_W), *gauges.variables),
        gauges.attributes,
    )


def effort_dataset(effort: Effort) -> Dataset:
    """Return the torques through one repeat with named dimensions: crank angle, rotor.

    Angles and crank torques are taken the way the crank turns, rotor torques about ``along``.
    """
    rows, rotors = "crank_angle_deg", tuple(effort.magnet_torque_Nm)
    seen = {
        "crank_torque_Nm": (effort.crank.torque_Nm, "given by the hand at the speed"),
        "slow_crank_torque_Nm": (effort.slow_Nm, "given by the hand when turning slowly"),
        "crank_torque_for_coils_Nm": (effort.coils_at_crank_Nm, "before gears and friction"),
        "crank_torque_for_magnets_Nm": (effort.magnets_at_crank_Nm, "before gears and friction"),
    }
    felt = {
        "coil_torque_Nm": (effort.coil_torque_Nm, "of the coils on the rotor"),
        "magnet_torque_Nm": (effort.magnet_torque_Nm, "of the other rotors' magnets and of iron"),
    }
    return Dataset(
        (Dimension(rows, np.degrees(effort.crank_angle_rad)), Dimension("rotor", rotors)),
        (
            *(Variable(name, (rows,), values, words) for name, (values, words) in seen.items()),
            *(
                Variable(name, ("rotor", rows), np.array([of[r] for r in rotors]), words)
                for name, (of, words) in felt.items()
            ),
        ),
        {
            "title": effort.title,
            "crank_speed_rad_per_s": effort.speed.base_rad_per_s,
            "period_turns": float(effort.turns),
        },
    )
