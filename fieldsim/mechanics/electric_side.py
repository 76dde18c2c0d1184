"""The electrical side of a machine at a steady speed: solved, or standing open, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution
from fieldsim.circuit.machine_circuit import machine_emf, steady_state
from fieldsim.circuit.results import CircuitResult
from fieldsim.machine.connections import CoilRef, coil_refs
from fieldsim.machine.fittings import ROOM_TEMPERATURE_K
from fieldsim.machine.machine import Machine
from fieldsim.waveform.emf import Speed
from fieldsim.waveform.flux_table import FluxTable
from fieldsim.wire.resistance import heating_caution, temperature_rise_K
from fieldsim.wire.winding import Winding

__all__ = ["CoilPower", "ElectricSide", "electric_side", "why_open"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CoilPower:
    """What one coil does.

    Parameters
    ----------
    name
        Of the coil.
    open_peak_V
        Largest EMF, which it shows with nothing connected [V].
    heat_W
        Average loss in its wire [W]; 0 without current.
    temperature_rise_K
        About how much warmer than the air it gets [K]; None where its wire is not known.
    caution
        If that is hot; else None.
    """

    name: str
    open_peak_V: float
    heat_W: float
    temperature_rise_K: float | None
    caution: Caution | None = None


@dataclass(frozen=True, eq=False)
class ElectricSide:
    """Currents and powers through one repeat of the machine.

    Parameters
    ----------
    speed
        Of the rotors, as solved.
    turns
        Crank turns in the repeat.
    current_A
        Of each coil at equal steps of the repeat, (coils, samples).
    load_W
        Average power out of the coils' terminals [W].
    source_W
        Average power of all EMFs by the circuit's own books: ``load_W`` and the wires' heat.
    coils
        In the order of the geometry.
    open_peak_V
        Largest voltage with nothing connected, of a coil or of coils in series [V].
    open_because
        Why no current is reckoned with; empty where the circuit was solved.
    notes
        What to know about the numbers, one line each.
    """

    speed: Speed
    turns: Fraction
    current_A: Array = field(repr=False)
    load_W: float
    source_W: float
    coils: tuple[CoilPower, ...]
    open_peak_V: float
    open_because: str
    notes: tuple[str, ...]


def why_open(geometry: Machine) -> str:
    """Return why no current can be reckoned with, or nothing if the circuit can be solved."""
    fittings = geometry.fittings
    if fittings is None or not fittings.windings:
        return "no coil has wire"
    wanted = {
        ref.coil
        for name in fittings.connections.outermost
        for ref in coil_refs(fittings.connections.source(name))
        if name == fittings.across or not isinstance(fittings.connections.source(name), CoilRef)
    }
    missing = sorted(wanted - set(fittings.windings))
    if missing:
        return f'coil "{missing[0]}" has no wire'
    return "" if wanted else "the file has no load"


def electric_side(geometry: Machine, table: FluxTable, speed: Speed) -> ElectricSide:
    """Return the currents and powers at a steady speed, all zero where none can flow.

    Parameters
    ----------
    geometry, table
        A machine and its flux table.
    speed
        From `fieldsim.waveform.emf.crank_speed`.

    Raises
    ------
    ImpossibleError
        If the rotors never come back together.
    """
    because = why_open(geometry)
    if because:
        return _standing_open(geometry, table, speed, because)
    run = steady_state(geometry, table, speed)
    fittings = geometry.fittings
    windings = fittings.windings if fittings is not None else {}
    air_K = fittings.temperature_K if fittings is not None else ROOM_TEMPERATURE_K
    peaks = np.abs(run.emf_V).max(axis=1)
    outlets = [outlet.open_circuit_peak_V for outlet in run.result.outlets.values()]
    return ElectricSide(
        run.speed,
        run.turns,
        run.current_A,
        run.result.load_W,
        run.result.source_power_W,
        tuple(
            _coil_power(name, float(peak), run.result, windings, air_K)
            for name, peak in zip(table.coils, peaks, strict=True)
        ),
        max(float(peaks.max()), *outlets),
        "",
        run.warnings,
    )


def _standing_open(geometry: Machine, table: FluxTable, speed: Speed, because: str) -> ElectricSide:
    emf = machine_emf(geometry, table, speed)
    emf_V = emf.waveform.emf_V
    peaks = np.abs(emf_V).max(axis=1)
    coils = tuple(
        CoilPower(name, float(peak), 0.0, None)
        for name, peak in zip(table.coils, peaks, strict=True)
    )
    return ElectricSide(
        emf.waveform.speed,
        emf.turns,
        np.zeros_like(emf_V),
        0.0,
        0.0,
        coils,
        float(peaks.max()),
        because,
        emf.notes,
    )


def _coil_power(
    name: str,
    peak_V: float,
    result: CircuitResult,
    windings: Mapping[str, Winding],
    air_K: float,
) -> CoilPower:
    if name not in result.coils or name not in windings:
        return CoilPower(name, peak_V, 0.0, None)
    heat = result.coils[name].heat_W
    rise = float(temperature_rise_K(heat, windings[name].surface_m2))
    return CoilPower(name, peak_V, heat, rise, heating_caution(name, rise, air_K))
