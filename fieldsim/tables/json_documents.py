"""The JSON document of each command: what of its results stands where."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from fieldsim.tables.json_form import Json, json_form, picked

if TYPE_CHECKING:
    from fieldsim.cautions import Caution, Note
    from fieldsim.circuit.lamp_speeds import LampSpeed
    from fieldsim.machine.clearance.clearances import Clearance
    from fieldsim.machine.coils import Coil
    from fieldsim.machine.machine import Machine
    from fieldsim.machine.parameters import Parameter
    from fieldsim.machine.shared_spools import SpoolUse
    from fieldsim.machine_file.starting import StartingKind
    from fieldsim.mechanics.iron_assembly import RotorAssembly
    from fieldsim.mechanics.magnet_retention import RotorHold
    from fieldsim.operation.effort import Effort, PairForces
    from fieldsim.operation.iron_loss import IronLoss
    from fieldsim.operation.light import LightReport
    from fieldsim.operation.machine_at_speed import MachineAtSpeed
    from fieldsim.operation.saturated_emf import SaturatedEmf
    from fieldsim.studies.compare import Comparison, Design
    from fieldsim.studies.gap import GapStudy
    from fieldsim.studies.gauges import GaugeStudy
    from fieldsim.studies.joint_match import JointMatch
    from fieldsim.studies.lamp_start import LampStart
    from fieldsim.studies.match import MatchStudy
    from fieldsim.studies.ranges import Range, RangeStudy
    from fieldsim.studies.search import Search
    from fieldsim.studies.vary import VaryRow, VaryStudy
    from fieldsim.studies.wind import WoundCoil
    from fieldsim.waveform.emf import Speed
    from fieldsim.waveform.flux_table import FluxTable
    from fieldsim.words.key_section import KeySection

__all__ = [
    "check_json",
    "comparison_json",
    "effort_json",
    "emf_json",
    "flux_json",
    "gap_json",
    "gauge_json",
    "keys_json",
    "light_json",
    "match_json",
    "parameters_json",
    "vary_json",
    "wound_json",
]

_LAMP = (
    "label", "colour", "count", "lights", "average_current_A", "peak_current_A",
    "visible_current_A", "rated_current_A", "share_of_rated", "reverse_voltage_V", "power_each_W",
    "flicker_Hz", "flicker_percent", "flashes", "flash_Hz", "seen_peak_A",
)  # fmt: skip
_PART = (
    "label", "count", "average_current_A", "peak_current_A", "power_each_W",
    "power_W=power_of_all_W",
)  # fmt: skip
_HEAT = (
    "recommended_current_A", "temperature_rise_K", "resistance_ohm", "wire_temperature_K",
)  # fmt: skip
_WINDING = (
    "wire=wire.name", "bare_diameter_m=wire.bare_diameter_m",
    "overall_diameter_m=wire.overall_diameter_m", "packing=packing.name", "turns", "build_m",
    "layers", "turns_per_layer", "corners=spec.corners", "mean_turn_m", "wire_length_m",
    "wire_length_rounded_corners_m",
    "mass_kg", "copper_mass_kg", "supply_m", "leftover_m", "leftover_kg", "room_left_m",
    "copper_fill", "wire_fill",
)  # fmt: skip
_WIRE = (
    "wire=wire.name", "bare_diameter_m=wire.bare_diameter_m", "packing=packing.name", "copper_fill",
    "wire_fill",
)  # fmt: skip
_WHEEL = ("teeth", "on", "driven_by", "sense", "efficiency", "rotors")
_SATURATED = ("coils=figures", "connections=connection_figures", "changes", "cells", "angles")
_CRANK = ("arm_m=arm", "hand_force_N=hand_force")
_FRICTION = (
    "crank_Nm=crank", "each_rotor_Nm=each_rotor", "each_rotor_Nms_per_rad=each_rotor_per_speed",
)  # fmt: skip
_ADHESIVE = (
    "glued_on", "area_m2=area", "shear_strength_Pa=shear_strength",
    "peel_strength_Pa=peel_strength", "density_kg_per_m3=density",
)  # fmt: skip
_GAUGE = (
    "wire=wire.name", "bare_diameter_m=wire.bare_diameter_m", "turns", "wire_length_m",
    "resistance_ohm", "open_circuit_peak_V", "open_circuit_rms_V", "current_rms_A",
    "coil_current_rms_A", "lamp_current_average_A", "load_power_W", "coil_heat_W",
    "recommended_current_A", "lamp_current_total_A", "within_ratings", "own",
)  # fmt: skip
_ROTOR = (
    "weakest_magnet=weakest.number", "centrifugal_N=weakest.centrifugal_N", "imbalance_N",
    "magnetic_shear_N=weakest.magnetic_shear_N", "magnetic_lift_N=weakest.magnetic_lift_N",
)  # fmt: skip
_GLUE = (
    "glue_load=weakest.glue_load", "leaves_at_rad_per_s=weakest.leaves_at_rad_per_s",
    "speed_margin",
)  # fmt: skip


def flux_json(table: FluxTable) -> Json:
    """Return a flux table; ``relative_error`` is the largest of all pairs."""
    return {
        **picked(table, "title", "rotor_angle_deg"),
        "linkage_Wb": {
            coil: dict(zip(table.rotors, json_form(of_coil), strict=True))
            for coil, of_coil in zip(table.coils, table.linkage_Wb, strict=True)
        },
        "relative_error": float(table.relative_error.max()),
    }


def emf_json(
    point: MachineAtSpeed, ranges: RangeStudy | None = None, saturated: SaturatedEmf | None = None
) -> Json:
    """Return the figures of a machine's waveform, its period and the error estimate.

    Where it was solved for, what iron that saturates leaves is under ``saturation``.
    """
    waveform = point.waveform
    return {
        "title": waveform.title,
        "coils": json_form(point.figures),
        "connections": json_form(point.connection_figures),
        "rotor_speed_rad_per_s": json_form(waveform.speed.rotors_rad_per_s),
        **picked(
            waveform,
            "period_s",
            "period_turns=period.turns",
            "period_exact=period.exact",
            "relative_error",
        ),
        "eddy_currents_share_of_rms": dict(point.eddy_shares),
        **({} if saturated is None else {"saturation": picked(saturated, *_SATURATED)}),
        **_ranges(ranges),
    }


def comparison_json(comparison: Comparison, ranges: Sequence[RangeStudy] = ()) -> Json:
    """Return the designs with their figures and their ratios to the first design."""
    studies: Sequence[RangeStudy | None] = ranges or [None] * len(comparison.designs)
    return {
        "designs": [
            {
                **picked(design, "title", "file", "coils=figures", "connections"),
                "rms_ratio_to_first": _ratios(comparison, design, design.figures),
                "connection_rms_ratio_to_first": _ratios(comparison, design, design.connections),
                "relative_error": design.relative_error,
                **_ranges(study),
            }
            for design, study in zip(comparison.designs, studies, strict=True)
        ]
    }


def _ratios(comparison: Comparison, design: Design, names: Iterable[str]) -> Json:
    return {name: comparison.ratio_to_first(design, name, "rms_V") for name in names}


def gap_json(study: GapStudy) -> Json:
    """Return the rows of a gap study, and the fits."""
    slope = "rms_change_percent_per_0.1_mm"

    def of(names: Iterable[str], values: Mapping[str, object]) -> Json:
        return {name: json_form(values.get(name)) for name in names if name in values}

    return {
        **picked(study, "title", "rotors"),
        "rows": [
            {
                **picked(row, "gap_m", "coils=figures", "connections"),
                slope: of(study.coils, row.percent_per_tenth_mm),
                f"connection_{slope}": of(study.connections, row.percent_per_tenth_mm),
            }
            for row in study.rows
        ],
        "fits": of(study.coils, study.fits),
        "connection_fits": of(study.connections, study.fits),
        **picked(study, "relative_error"),
    }


def vary_json(study: VaryStudy) -> Json:
    """Return the rows of a study over one or two parameters, each with all its figures."""
    limit = study.light_limit
    return {
        **picked(study, "title", "paths"),
        "design": {each.path: json_form(each.value) for each in study.parameters},
        "light_limit": None if limit is None else picked(limit, "path", "value", "lights_below"),
        "rows": [_vary_row(row) for row in study.rows],
    }


def search_json(search: Search) -> Json:
    """Return the best machine, those that no other beats in both wants, and the ten best in order.

    Machines count from 1 in the order in which they were tried.
    """
    from fieldsim.tables.search_file import WANTED

    wish, figures = search.wish, search.figures

    def told(i: int) -> Json:
        wanted = {
            WANTED[want][0]: WANTED[want][1] * value
            for want, value in zip(wish.wants, figures.wanted[i].tolist(), strict=True)
        }
        musts = (must.name for must in wish.musts)
        excess = dict(zip(musts, figures.excess[i].tolist(), strict=True))
        found = {"machine": i + 1, "fulfils": search.fulfils[i], "values": search.values(i)}
        return {**json_form(found), **json_form(wanted), "excess": json_form(excess)}

    return {
        "title": wish.machine.title,
        "wants": list(wish.wants),
        "machines": wish.machines,
        "tried": len(search),
        "fulfil": int(search.fulfils.sum()),
        "best": None if search.best is None else told(search.best),
        "in_the_way": None if search.best is not None else search.hardest_must,
        "freed_by_leaving_out": json_form(search.freed),
        "unbeaten": [told(i) for i in search.unbeaten],
        "rows": [told(i) for i in search.order[:10]],
    }


def _vary_row(row: VaryRow) -> Json:
    found: Json = picked(row, "values", "coils", "connections")
    if row.circuit is not None:
        for name, trace in row.circuit.coils.items():
            found["coils"][name] |= picked(trace, "rms_current_A", "heat_W", "delivered_W")
        found["lamps"] = [picked(lamp, *_LAMP) for lamp in row.circuit.lamps]
        found |= picked(row.circuit, "source_power_W", "useful_power_W", "efficiency")
    if row.effort is not None:
        found["crank"] = _crank(row.effort)
        found["power"] = _power(row.effort)
    return found


def parameters_json(machine: Machine, found: Sequence[Parameter]) -> Json:
    """Return what can be changed about a machine; NaN, as of words, is null."""
    return {"title": machine.title, "parameters": json_form(found)}


def keys_json(section: KeySection) -> Json:
    """Return the keys of a section of geometry files."""
    names = ("key", "value", "default", "meaning")
    rows = [[cell.replace("`", "") for cell in row] for row in section.rows]
    return {"section": section.path, "keys": [dict(zip(names, r, strict=True)) for r in rows]}


def kinds_json(kinds: Mapping[str, StartingKind], wishes: Mapping[str, StartingKind]) -> Json:
    """Return what there is to begin with, and whether gears and lamps can be added to it."""
    return {
        "kinds": [
            {"kind": kind.name, "about": kind.about, "shipped": kind.file is not None}
            for kind in kinds.values()
        ],
        "wishes": [{"wish": wish.name, "about": wish.about} for wish in wishes.values()],
    }


def check_json(machine: Machine, clearances: tuple[Clearance, ...]) -> Json:
    """Return what was understood of a geometry; null or nothing where the file has nothing."""
    from fieldsim.field.iron.skin_effect import skin_depth_m
    from fieldsim.machine.clearance.shaft_crossings import shaft_cautions
    from fieldsim.machine.improbable_sizes import improbable_sizes
    from fieldsim.operation.cautions import strong_magnets_caution
    from fieldsim.words.load_words import load_lines
    from fieldsim.words.machine_words import iron_words

    strength = ("remanence_T=remanence", "remanence_range_T")
    load, train = machine.load, machine.train
    ratios = train.link_ratios
    return {
        "title": machine.title,
        "magnets": {
            m.name: {
                "shape": type(m.shape).__name__.lower(),
                **picked(m, "size_m=size", "volume_m3=shape.volume_m3", *strength),
                "grade": m.grade or None,
            }
            for m in machine.magnets
        },
        "rotors": {
            r.name: {"magnets": len(r.magnets), **picked(r, "gear_ratio", "start_rad=start")}
            for r in machine.placed_rotors
        },
        "coils": {coil.name: _checked_coil(machine, coil) for coil in machine.coils},
        "connections": {
            c.name: {c.joining: [str(member) for member in c.members]} for c in machine.connections
        },
        "iron": iron_words(machine),
        "skin_depth_at_50_Hz_m": {
            piece.name: float(skin_depth_m(piece.material, 100 * math.pi))
            for piece in machine.placed_iron
            if piece.material.resistivity is not None
        },
        "load": {"across": load.across, "words": load_lines(load)} if load else None,
        "gears": {
            wheel.name: {
                **picked(wheel, *_WHEEL),
                "turns_per_crank_turn": float(ratios[wheel.name]),
            }
            for wheel in machine.gears.wheels
        },
        "crank": picked(machine.crank, *_CRANK) if machine.crank else None,
        "friction": picked(machine.friction, *_FRICTION) if machine.friction else None,
        "adhesive": picked(machine.adhesive, *_ADHESIVE) if machine.adhesive else None,
        "temperature_K": machine.temperature,
        "uncertain": {each.path: each.text for each in machine.uncertain},
        "clearances": json_form(clearances),
        "cautions": _cautions(
            [
                *improbable_sizes(machine),
                *shaft_cautions(machine),
                strong_magnets_caution(machine),
            ]
        ),
    }


def _checked_coil(machine: Machine, coil: Coil) -> Json:
    wound = None
    if coil.wire:
        wound = picked(coil.winding, *_WIRE)
        wound["resistance_ohm"] = coil.resistance_ohm(machine.idle_wire_K)
    return {
        **picked(coil, "turns=placed.turns", "mean_turn_m", "wire_length_m", "corners"),
        "wire": wound,
    }


def light_json(
    report: LightReport, start: LampStart | None = None, ranges: RangeStudy | None = None
) -> Json:
    """Return what lights at a speed, and a start-up where one was asked for."""
    result, speed = report.result, report.run.speed
    heats = {coil.name: coil for coil in report.coils}
    return {
        "title": report.title,
        "load_across": report.load_across or None,
        **picked(report.run, "period_s", "period_turns=turns"),
        "rotor_speed_rad_per_s": json_form(speed.rotors_rad_per_s),
        "lamps": [picked(lamp, *_LAMP) for lamp in result.lamps],
        "lamp_speeds": [_lamp_speed(lamp, speed) for lamp in report.lamp_speeds],
        "coils": {
            name: {
                **picked(trace, "rms_current_A", "heat_W", "delivered_W", "iron_W"),
                **dict.fromkeys(_HEAT),
                **(picked(heats[name], *_HEAT) if name in heats else {}),
            }
            for name, trace in result.coils.items()
        },
        "parts": [picked(trace, *_PART) for trace in result.parts],
        **picked(result, "source_power_W", "useful_power_W", "efficiency"),
        "iron_loss": _iron_loss(report.iron_loss),
        "coil_circuit": picked(
            report.run.circuit, "names", "inductance_H", "iron_ohm", "frequency_Hz"
        ),
        "meter_resistance_ohm": report.meter.input_ohm,
        "meters": [
            {**picked(row, "where", "loaded"), **json_form(row.readings)} for row in report.meters
        ],
        "cautions": _cautions(report.cautions),
        "balance": json_form(result.balance),
        "warnings": _notes(report.run.warnings),
        "start_up": None if start is None else _start(start),
        **_ranges(ranges),
    }


def _ranges(study: RangeStudy | None, more: Mapping[str, Range | None] | None = None) -> Json:
    """Return what machines built like one give, under ``range``; nothing without a study."""
    if study is None:
        return {}
    points = study.points
    found: Json = {
        "machines": len(points),
        "share_that_can_be": study.share_that_can_be,
        "inputs": [
            picked(each, "path", "value", "give_or_take", "unit", "stated") for each in study.inputs
        ],
        "coils": {coil: json_form(study.coil_ranges(coil)) for coil in points.coils},
    }
    if points.lamps:
        found["lamps"] = {lamp: json_form(study.lamp_ranges(lamp)) for lamp in points.lamps}
        found["share_all_light"] = study.share_all_light
    found |= json_form({**study.power_ranges(), **(more or {})})
    return {"range": found}


def _cautions(cautions: Iterable[Caution]) -> list[Json]:
    from fieldsim.words.cautions import caution_text

    return [
        {**picked(c, "kind", "where"), "text": caution_text(c), **picked(c, "value", "limit")}
        for c in cautions
    ]


def _start(start: LampStart) -> Json:
    lamp = ("label", "first_lights_s", "average_at_end_A")
    return {
        **picked(start, "duration_s=result.duration_s", "ramp_s=crank.ramp_s"),
        "wobble": start.crank.wobble,
        "lamps": [picked(of_lamp, *lamp) for of_lamp in start.lamps],
        **picked(start, "balance=result.balance"),
        "warnings": _notes(start.notes),
    }


def wound_json(
    coils: Sequence[WoundCoil],
    title: str,
    temperature_K: float,
    study: GaugeStudy | None = None,
    spools: Sequence[SpoolUse] = (),
) -> Json:
    """Return what the wire of each coil comes to, and a table of gauges where one was asked for."""
    use = ("spools", "coils", "supply_m", "used_m", "leftover_m", "leftover_kg")
    return {
        "title": title,
        "temperature_K": temperature_K,
        "coils": {
            coil.name: {
                **picked(coil.winding, *_WINDING),
                **picked(coil, "resistance_ohm", "inductance_H", "recommended_current_A"),
                "cautions": _texts([coil.winding.caution(coil.name)]),
            }
            for coil in coils
        },
        "shared_spools": [picked(each, *use) for each in spools],
        "gauges": None if study is None else gauge_json(study),
    }


def _notes(notes: Iterable[Note]) -> list[str]:
    from fieldsim.words.notes import note_text

    return [note_text(note) for note in notes]


def _texts(cautions: Iterable[Caution | None]) -> list[str]:
    from fieldsim.words.cautions import caution_text

    return [caution_text(caution) for caution in cautions if caution is not None]


def gauge_json(study: GaugeStudy) -> Json:
    """Return what each gauge gives."""
    best, most_power = study.best, study.most_power
    return {
        **picked(study, "across", "coils"),
        "rows": [
            {**picked(row, *_GAUGE), "cautions": _cautions(row.overdriven)} for row in study.rows
        ],
        "left_out": list(study.left_out),
        "most_power": None if most_power is None else most_power.wire.name,
        "best": None if best is None else best.wire.name,
    }


def match_json(study: MatchStudy) -> Json:
    """Return the matched load, the matched gauge and the speeds at which lamps light."""
    best = ("best_load_resistance_ohm", "best_load_power_W")
    own = ("own_load_resistance_ohm", "own_load_power_W")
    return {
        **picked(study, "title", "load_across", "rotor_speed_rad_per_s=speed.rotors_rad_per_s"),
        "coil_resistance_ohm": study.coil_resistance_ohm,
        **picked(study.curve, *best, *own),
        "load_curve": picked(study.curve, "load_resistance_ohm", "power_W"),
        "gauges": gauge_json(study.gauges),
        "lamps": [_lamp_speed(lamp, study.speed) for lamp in study.lamps],
        "lamp_counts": [
            picked(each, "series", "most", "fewest", "lamps") for each in study.lamp_counts
        ],
        "together": _joint(study.together),
        "notes": _notes(study.notes),
    }


def _joint(found: JointMatch | None) -> Json | None:
    """Return the wire, turns and load that give most together; null where that is not told."""
    if found is None:
        return None
    what, unit = "lamp_current_total", "A"
    if found.lamp_current_average_A is None:
        what, unit = "load_power", "W"
    return {
        "wire": str(found.gauge),
        **picked(found, "turns", "load", f"{what}_{unit}=gives", f"{what}_now_{unit}=gives_now"),
        **picked(found, "lamp_current_average_A", "coil_heat_W", "tried"),
    }


def _lamp_speed(lamp: LampSpeed, speed: Speed) -> Json:
    lowest = f"lowest_{speed.given_as}_speed_rad_per_s=lowest_speed_rad_per_s"
    return picked(lamp, "label", "visible_current_A", lowest, "looked_up_to_rad_per_s")


def effort_json(
    machine: Machine,
    effort: Effort,
    ranges: RangeStudy | None = None,
    assemblies: Sequence[RotorAssembly] = (),
) -> Json:
    """Return the figures of the ``effort`` command and its cautions."""
    from fieldsim.operation.cautions import effort_cautions
    from fieldsim.studies.ranges import effort_range

    coil, wire = ("open_peak_V", "heat_W", "temperature_rise_K"), _HEAT[2:]
    speeds = effort.speed.rotors_rad_per_s
    return {
        **picked(effort, "title", "crank_speed_rad_per_s=speed.base_rad_per_s"),
        "period_turns": float(effort.turns),
        "crank": _crank(effort),
        "power": _power(effort),
        "left_out": list(effort.left_out),
        "speed_swing": json_form(effort.swing),
        "rest": {
            **picked(effort.rest, "stable_crank_rad=stable_rad", "unstable_crank_rad=unstable_rad"),
            **picked(effort.rest, "torque_to_pass_Nm", "barrier_J"),
            **picked(effort, "friction_holds_Nm", "held_by_friction"),
        },
        "rotors": {
            hold.rotor: _rotor(effort, hold, speed)
            for hold, speed in zip(effort.holds, speeds, strict=True)
        },
        "pairs": [_pair(pair) for pair in effort.pairs],
        "iron": {
            name: picked(of, "peak_torque_Nm", "error_Nm", "unresolved")
            for name, of in effort.iron.items()
        },
        "iron_loss": _iron_loss(effort.iron_loss),
        "assembly": {each.rotor: picked(each, "in_place_N", "away_N") for each in assemblies},
        "coils": {
            of.name: {
                **picked(of, *coil),
                **dict.fromkeys(wire),
                **(picked(of.heat, *wire) if of.heat is not None else {}),
            }
            for of in effort.electric.coils
        },
        "largest_open_V": effort.electric.open_peak_V,
        "open_because": effort.electric.open_because or None,
        "notes": _notes(effort.notes),
        "cautions": _texts(effort_cautions(machine, effort)),
        **_ranges(
            ranges, {"average_torque_Nm": None if ranges is None else effort_range(ranges, effort)}
        ),
    }


def _iron_loss(loss: IronLoss) -> Json | None:
    """Return what eddy currents in iron take; None without any."""
    if not loss:
        return None
    parts = ("together_W", "currents_W", "total_W")
    return {
        "pieces_W": dict(loss.pieces_W),
        "magnets_W": dict(loss.magnets_W),
        **picked(loss, *parts),
    }


def _crank(effort: Effort) -> Json:
    crank, arm = effort.crank, effort.arm
    torques: Mapping[str, float] = {
        "average": crank.average_torque_Nm,
        "peak": crank.peak_torque_Nm,
        "slow_peak": effort.slow_peak_torque_Nm,
    }
    forces = {
        f"{name}_force_N": None if not arm else torque / arm.arm for name, torque in torques.items()
    }
    return {
        **picked(crank, "average_torque_Nm", "peak_torque_Nm", "least_torque_Nm"),
        **picked(effort, "ripple", "slow_peak_torque_Nm"),
        "arm_m": None if not arm else arm.arm,
        **forces,
        "hand_force_N": None if not arm else arm.hand_force,
    }


def _power(effort: Effort) -> Json:
    electric = effort.electric
    return {
        "hand_W": effort.crank.hand_W,
        **picked(electric, "electrical_W=source_W", "load_W", "useful_W"),
        "wire_heat_W": electric.wire_W,
        "iron_W": effort.iron_loss.total_W,
        **picked(effort.crank, "friction_W", "gears_W"),
        **picked(effort, "efficiency", "relative_imbalance"),
    }


def _rotor(effort: Effort, hold: RotorHold, speed_rad_per_s: float) -> Json:
    name, train = hold.rotor, effort.train
    return {
        "gear_ratio": float(train.ratios[name]),
        "meshes": train.meshes[name],
        "gear_efficiency": train.efficiencies[name],
        "speed_rad_per_s": speed_rad_per_s,
        "average_coil_torque_Nm": float(effort.coil_torque_Nm[name].mean()),
        "peak_magnet_torque_Nm": float(abs(effort.magnet_torque_Nm[name]).max()),
        "shaft_load": json_form(effort.shafts[name].peak),
        **picked(hold, *_ROTOR),
        **(
            picked(hold, *_GLUE)
            if effort.glue_known
            else {key.partition("=")[0]: None for key in _GLUE}
        ),
    }


def _pair(pair: PairForces) -> Json:
    pull, assembly = pair.attraction, pair.assembly
    return {
        "rotors": [pull.first, pull.second],
        "locked": pair.locked,
        **picked(pull, "peak_pull_N", "peak_push_N"),
        "shaft_loads": {
            pull.first: json_form(pull.first_load.peak),
            pull.second: json_form(pull.second_load.peak),
        },
        "peak_torque_Nm": pair.peak_torque_Nm,
        "force_error_N": pull.force_error_N,
        "assembly": None
        if assembly is None
        else picked(assembly, "distance_m", "pull_N", "peak_pull_N"),
    }
