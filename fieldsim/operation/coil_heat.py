"""How hard a coil works, and how warm that makes it."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.cautions import Caution
from fieldsim.circuit.results import CoilTrace
from fieldsim.machine.machine import Machine
from fieldsim.wire.resistance import (
    copper_temperature_K,
    heating_caution,
    recommended_current_A,
    temperature_rise_K,
)

__all__ = ["CoilHeat", "coil_heat"]


@dataclass(frozen=True)
class CoilHeat:
    """How hard a coil works.

    Parameters
    ----------
    name
        Of the coil.
    rms_current_A, recommended_current_A
        Its current, and what its wire may carry for long [A].
    resistance_ohm
        Of its wire, as warm as it was reckoned [ohm].
    wire_temperature_K
        At that resistance [K].
    heat_W
        Average loss in it [W].
    temperature_rise_K
        About how much warmer than the air its surface settles [K], as from
        `fieldsim.wire.resistance.temperature_rise_K`.
    caution
        If it gets hot; else None.
    """

    name: str
    rms_current_A: float
    recommended_current_A: float
    resistance_ohm: float
    wire_temperature_K: float
    heat_W: float
    temperature_rise_K: float
    caution: Caution | None = None


def coil_heat(trace: CoilTrace, machine: Machine) -> CoilHeat | None:
    """Return how hard a coil of a machine works; None where its wire is not known."""
    winding = machine.windings.get(trace.name)
    if winding is None:
        return None
    idle_K, air_K = machine.idle_wire_K, machine.temperature
    idle_ohm = machine.coil(trace.name).resistance_ohm(idle_K)
    wire_K = copper_temperature_K(trace.resistance_ohm / idle_ohm, idle_K)
    rise_K = float(temperature_rise_K(trace.heat_W, winding.surface_m2))
    return CoilHeat(
        trace.name,
        trace.rms_current_A,
        float(recommended_current_A(winding.wire.bare_diameter_m)),
        trace.resistance_ohm,
        wire_K,
        trace.heat_W,
        rise_K,
        heating_caution(trace.name, max(rise_K, wire_K - air_K), air_K),
    )
