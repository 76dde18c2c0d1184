"""Electrical results as plain objects for JSON: SI units, the unit in each key's name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fieldsim.circuit.results import CircuitResult, LampReport
from fieldsim.studies.gauges import GaugeRow, GaugeStudy
from fieldsim.studies.wind import WoundCoil
from fieldsim.words.cautions import caution_text

if TYPE_CHECKING:
    from fieldsim.circuit.lamp_speeds import LampSpeed
    from fieldsim.circuit.meters import MeterReadings
    from fieldsim.operation.light import LightReport
    from fieldsim.studies.lamp_start import LampStart
    from fieldsim.studies.match import MatchStudy
    from fieldsim.waveform.emf import Speed

__all__ = ["gauge_json", "light_json", "match_json", "wound_json"]

Json = dict[str, Any]


def light_json(report: LightReport, start: LampStart | None = None) -> Json:
    """Return what lights at a speed, and a start-up where one was asked for."""
    result = report.result
    heats = {coil.name: coil for coil in report.coils}
    return {
        "title": report.title,
        "load_across": report.outlet or None,
        "period_s": report.run.period_s,
        "period_turns": float(report.run.turns),
        "rotor_speed_rad_per_s": list(report.run.speed.rotors_rad_per_s),
        "lamps": [_lamp(lamp) for lamp in result.lamps],
        "lamp_speeds": [_lamp_speed(lamp, report.run.speed) for lamp in report.lamp_speeds],
        "coils": {
            name: {
                "rms_current_A": trace.rms_current_A,
                "heat_W": trace.heat_W,
                "delivered_W": trace.delivered_W,
                "recommended_current_A": heats[name].recommended_A if name in heats else None,
                "temperature_rise_K": heats[name].rise_K if name in heats else None,
            }
            for name, trace in result.coils.items()
        },
        "parts": [
            {
                "label": trace.label,
                "count": trace.count,
                "average_current_A": trace.average_current_A,
                "peak_current_A": trace.peak_current_A,
                "power_each_W": trace.loss_W,
                "power_W": trace.loss_W * trace.count,
            }
            for trace in result.parts
        ],
        "source_power_W": result.source_W,
        "useful_power_W": result.useful_W,
        "efficiency": result.efficiency,
        "meter_resistance_ohm": report.meter.input_ohm,
        "meters": [
            {"where": row.where, "loaded": row.loaded, **_readings(row.readings)}
            for row in report.meters
        ],
        "cautions": [
            {
                "kind": caution.kind,
                "where": caution.where,
                "text": caution_text(caution),
                "value": caution.value,
                "limit": caution.limit,
            }
            for caution in report.cautions
        ],
        **_quality(result, report.run.warnings),
        "start_up": None if start is None else _start(start),
    }


def _lamp(lamp: LampReport) -> Json:
    return {
        "label": lamp.label,
        "colour": lamp.colour,
        "count": lamp.count,
        "lights": lamp.lights,
        "average_current_A": lamp.average_A,
        "peak_current_A": lamp.peak_A,
        "visible_current_A": lamp.visible_A,
        "rated_current_A": lamp.rated_A,
        "share_of_rated": lamp.share_of_rated,
        "reverse_voltage_V": lamp.reverse_V,
        "power_each_W": lamp.power_W,
        "flicker_Hz": lamp.flicker_Hz,
        "flicker_percent": lamp.flicker_percent,
    }


def _readings(readings: MeterReadings) -> Json:
    return {
        "dc_V": readings.dc_V,
        "average_responding_V": readings.average_responding_V,
        "true_rms_V": readings.true_rms_V,
        "true_rms_with_dc_V": readings.true_rms_with_dc_V,
        "peak_hold_least_V": readings.peak_hold_V[0],
        "peak_hold_most_V": readings.peak_hold_V[1],
    }


def _quality(result: CircuitResult, warnings: tuple[str, ...]) -> Json:
    return {
        "balance": {
            "charge": result.balance.charge,
            "energy": result.balance.energy,
            "discretisation": result.balance.discretisation,
        },
        "warnings": list(warnings),
    }


def _start(start: LampStart) -> Json:
    return {
        "duration_s": start.result.duration_s,
        "ramp_s": start.crank.ramp_s,
        "wobble": start.crank.wobble,
        "lamps": [
            {"label": lamp.label, "first_lights_s": lamp.on_s, "average_at_end_A": lamp.average_A}
            for lamp in start.lamps
        ],
        **_quality(start.result, start.notes),
    }


def wound_json(
    coils: Sequence[WoundCoil], title: str, temperature_K: float, study: GaugeStudy | None = None
) -> Json:
    """Return what the wire of each coil comes to, and a table of gauges where one was asked for."""
    return {
        "title": title,
        "temperature_K": temperature_K,
        "coils": {coil.name: _wound(coil) for coil in coils},
        "gauges": None if study is None else gauge_json(study),
    }


def _wound(coil: WoundCoil) -> Json:
    winding = coil.winding
    return {
        "wire": winding.wire.name,
        "bare_diameter_m": winding.wire.bare_diameter_m,
        "overall_diameter_m": winding.wire.overall_diameter_m,
        "packing": winding.packing.name,
        "turns": winding.turns,
        "build_m": winding.build_m,
        "layers": winding.layers,
        "turns_per_layer": None
        if winding.turns_per_layer is None
        else list(winding.turns_per_layer),
        "mean_turn_m": winding.mean_turn_m,
        "wire_length_m": winding.wire_length_m,
        "wire_length_rounded_corners_m": winding.wire_length_rounded_m,
        "mass_kg": winding.mass_kg,
        "copper_mass_kg": winding.copper_mass_kg,
        "supply_m": winding.supply_m,
        "leftover_m": winding.leftover_m,
        "leftover_kg": winding.leftover_kg,
        "room_left_m": winding.room_left_m,
        "copper_fill": winding.copper_fill,
        "wire_fill": winding.wire_fill,
        "resistance_ohm": coil.resistance_ohm,
        "inductance_H": coil.inductance_H,
        "recommended_current_A": coil.recommended_A,
        "cautions": [caution_text(c) for c in [winding.caution(coil.name)] if c is not None],
    }


def gauge_json(study: GaugeStudy) -> Json:
    """Return what each gauge gives."""
    best = study.best
    return {
        "across": study.outlet,
        "coils": list(study.coils),
        "rows": [_gauge(row) for row in study.rows],
        "left_out": list(study.left_out),
        "most_power": None if best is None else best.wire.name,
    }


def _gauge(row: GaugeRow) -> Json:
    return {
        "wire": row.wire.name,
        "bare_diameter_m": row.wire.bare_diameter_m,
        "turns": {coil: winding.turns for coil, winding in row.windings.items()},
        "wire_length_m": row.wire_m,
        "resistance_ohm": row.resistance_ohm,
        "open_circuit_peak_V": row.open_peak_V,
        "open_circuit_rms_V": row.open_rms_V,
        "current_rms_A": row.current_A,
        "coil_current_rms_A": row.coil_current_A,
        "lamp_current_average_A": row.lamp_A,
        "load_power_W": row.load_W,
        "coil_heat_W": row.heat_W,
        "recommended_current_A": row.recommended_A,
    }


def match_json(study: MatchStudy) -> Json:
    """Return the matched load, the matched gauge and the speeds at which lamps light."""
    curve = study.curve
    return {
        "title": study.title,
        "load_across": study.outlet,
        "rotor_speed_rad_per_s": list(study.speed.rotors_rad_per_s),
        "coil_resistance_ohm": study.coil_ohm,
        "best_load_resistance_ohm": curve.best_ohm,
        "best_load_power_W": curve.best_W,
        "own_load_resistance_ohm": curve.load_ohm,
        "own_load_power_W": curve.load_W,
        "load_curve": {
            "load_resistance_ohm": curve.resistance_ohm.tolist(),
            "power_W": curve.power_W.tolist(),
        },
        "gauges": gauge_json(study.gauges),
        "lamps": [_lamp_speed(lamp, study.speed) for lamp in study.lamps],
        "notes": list(study.notes),
    }


def _lamp_speed(lamp: LampSpeed, speed: Speed) -> Json:
    return {
        "label": lamp.label,
        "visible_current_A": lamp.visible_A,
        f"lowest_{speed.given_as}_speed_rad_per_s": lamp.speed_rad_s,
        "looked_up_to_rad_per_s": lamp.up_to_rad_s,
    }
