"""The effort at the crank as a plain object for JSON: SI units, the unit in each key's name."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from fieldsim.machine.machine import Machine
from fieldsim.mechanics.attraction import ShaftLoad
from fieldsim.mechanics.magnet_retention import RotorHold
from fieldsim.operation.cautions import effort_cautions
from fieldsim.operation.effort import Effort, PairForces
from fieldsim.words.cautions import caution_text
from fieldsim.words.effort_text import effort_notes

__all__ = ["effort_json"]

Json = dict[str, Any]


def effort_json(geometry: Machine, effort: Effort) -> Json:
    """Return the figures of the ``effort`` command and its cautions."""
    return {
        "title": effort.title,
        "crank_speed_rad_per_s": effort.speed.base_rad_per_s,
        "period_turns": float(effort.turns),
        "crank": _crank(effort),
        "power": _power(effort),
        "rest": _rest(effort),
        "rotors": {
            hold.rotor: _rotor(effort, hold, speed)
            for hold, speed in zip(effort.holds, effort.speed.rotors_rad_per_s, strict=True)
        },
        "pairs": [_pair(pair) for pair in effort.pairs],
        "coils": {
            coil.name: {
                "open_peak_V": coil.open_peak_V,
                "heat_W": coil.heat_W,
                "temperature_rise_K": coil.rise_K,
            }
            for coil in effort.electric.coils
        },
        "largest_open_V": effort.electric.open_peak_V,
        "open_because": effort.electric.open_because or None,
        "notes": list(effort_notes(effort)),
        "cautions": [caution_text(c) for c in effort_cautions(geometry, effort)],
    }


def _crank(effort: Effort) -> Json:
    crank, arm = effort.crank, effort.arm
    average_N, peak_N = crank.hand_force_N(arm) if arm else (None, None)
    return {
        "average_torque_Nm": crank.average_Nm,
        "peak_torque_Nm": crank.peak_Nm,
        "least_torque_Nm": crank.lowest_Nm,
        "ripple": effort.ripple,
        "slow_peak_torque_Nm": effort.start_Nm,
        "arm_m": arm.arm if arm else None,
        "average_force_N": average_N,
        "peak_force_N": peak_N,
        "slow_peak_force_N": effort.start_Nm / arm.arm if arm else None,
        "hand_force_N": arm.hand_force if arm else None,
    }


def _power(effort: Effort) -> Json:
    electric, crank = effort.electric, effort.crank
    return {
        "hand_W": crank.hand_W,
        "electrical_W": electric.source_W,
        "load_W": electric.load_W,
        "wire_heat_W": electric.source_W - electric.load_W,
        "friction_W": crank.friction_W,
        "gears_W": crank.gears_W,
        "efficiency": effort.efficiency,
        "relative_imbalance": effort.imbalance,
    }


def _rest(effort: Effort) -> Json:
    rest = effort.rest
    return {
        "stable_crank_rad": rest.stable_rad.tolist(),
        "unstable_crank_rad": rest.unstable_rad.tolist(),
        "torque_to_pass_Nm": rest.cogging_peak_Nm,
        "barrier_J": rest.barrier_J,
        "friction_holds_Nm": effort.still_Nm,
        "held_by_friction": effort.held_by_friction,
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _rotor(effort: Effort, hold: RotorHold, speed_rad_s: float) -> Json:
    name, weak, known = hold.rotor, hold.weakest, effort.glue_known
    return {
        "gear_ratio": float(effort.train.ratios[name]),
        "meshes": effort.train.meshes[name],
        "gear_efficiency": effort.train.efficiencies[name],
        "speed_rad_per_s": speed_rad_s,
        "average_coil_torque_Nm": float(effort.coil_torque_Nm[name].mean()),
        "peak_magnet_torque_Nm": float(np.abs(effort.magnet_torque_Nm[name]).max()),
        "shaft_load": _shaft(effort.shafts[name]),
        "weakest_magnet": weak.index + 1,
        "centrifugal_N": weak.centrifugal_N,
        "imbalance_N": hold.imbalance_N,
        "magnetic_shear_N": weak.magnetic_shear_N,
        "magnetic_lift_N": weak.magnetic_lift_N,
        "glue_load": weak.load if known else None,
        "leaves_at_rad_per_s": _finite(weak.leaves_at_rad_s) if known else None,
        "speed_margin": _finite(hold.speed_margin) if known else None,
    }


def _shaft(load: ShaftLoad) -> Json:
    return {
        "axial_N": float(np.abs(load.axial_N).max()),
        "transverse_N": float(load.transverse_N.max()),
        "bending_at_hub_Nm": float(load.bending_Nm.max()),
    }


def _pair(pair: PairForces) -> Json:
    pull, assembly = pair.attraction, pair.assembly
    return {
        "rotors": [pull.first, pull.second],
        "locked": pair.locked,
        "peak_pull_N": pull.peak_pull_N,
        "peak_push_N": pull.peak_push_N,
        "shaft_loads": {
            pull.first: _shaft(pull.first_load),
            pull.second: _shaft(pull.second_load),
        },
        "peak_torque_Nm": pair.torque_peak_Nm,
        "force_error_N": pull.error_N,
        "assembly": None
        if assembly is None
        else {
            "distance_m": assembly.distance_m.tolist(),
            "pull_N": assembly.pull_N.tolist(),
            "peak_pull_N": assembly.peak_N,
        },
    }
