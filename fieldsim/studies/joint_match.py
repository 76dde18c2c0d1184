"""Wire, turns and the wiring of the lamps varied together: which of all gives most."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import Gauge
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.operation.many_points import OperatingPoints, operating_points, turned_as
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.gauges import GaugeStudy, rewound
from fieldsim.waveform.machine_size import refuse_many
from fieldsim.wire.resistance import recommended_current_A

__all__ = ["JointMatch", "joint_match"]

Array = NDArray[np.float64]

_ABOUT = 3  # gauges on either side of the best one alone
_SHARES = (1.0, 0.75, 0.5)  # of the turns that fill the section
_MOST_IN_SERIES = 12
_FACTORS = tuple(10 ** (k / 8) for k in range(-8, 9))  # of a resistor
_TOLERANCE = 1e-4


@dataclass(frozen=True)
class JointMatch:
    """The wire, turns and load that together give most within all ratings.

    Parameters
    ----------
    gauge
        Of the wire.
    turns
        By coil.
    load
        What of the load is changed, by path: how many lamps in series and strings side by side, of
        as many lamps as now, or a resistance [ohm].
    gives
        Current of all lamps together [A]; without lamps power into the load [W].
    gives_now
        What the machine gives as it is.
    lamp_current_average_A
        In the brightest lamp [A]; None without lamps.
    coil_heat_W
        In all coils [W].
    tried
        How many machines were tried.
    """

    gauge: Gauge
    turns: dict[str, int]
    load: dict[str, float] = field(hash=False)
    gives: float
    gives_now: float
    lamp_current_average_A: float | None
    coil_heat_W: float
    tried: int


def joint_match(
    point: OperatingPoint,
    study: GaugeStudy,
    progress: Callable[[int, int], None] | None = None,
) -> JointMatch | None:
    """Return what gives most where gauge, turns and load are varied together.

    Parameters
    ----------
    point
        Of a machine with wire and a load, at a speed.
    study
        Its gauges, each filling the section; those about the best of them are tried.
    progress
        Called with (machines done, machines in all).

    Returns
    -------
    JointMatch or None
        None if no wire gives any within the ratings, if the load has nothing to vary, or where so
        many machines like this one would take minutes.

    Notes
    -----
    Lamps stay as many as they are, in strings of every length that divides them; a resistor goes
    from a tenth to ten times its own. Turns fill the section, three quarters or half of it. Of what
    is level within the circuits' tolerance the coolest is taken.
    """
    machine = point.machine
    loads = list(_loads(machine))
    row = study.best or study.brightest
    if not loads or row is None:
        return None
    at = study.rows.index(row)
    wired = [
        (near.gauge, share, load)
        for near in study.rows[max(0, at - _ABOUT) : at + _ABOUT + 1]
        for share in _SHARES
        for load in loads
    ]
    try:
        refuse_many(machine, _TOLERANCE, len(wired))
    except ImpossibleError:
        return None
    wound = {
        (gauge, share): _part_filled(rewound(machine, study.coils, gauge), study.coils, share)
        for gauge, share, _ in wired
    }
    machines = [wound[gauge, share].changed(load) for gauge, share, load in wired]
    found = operating_points(
        machines,
        **turned_as(point, point.speed.base_rad_per_s),
        tolerance=max(_TOLERANCE, point.tolerance),
        circuit_tolerance=max(TABLE_TOLERANCE, point.circuit_tolerance),
        progress=progress,
    )
    gives = _gives(machine, found)
    ampacity_A = np.array(
        [
            [
                float(recommended_current_A(coil.winding.wire.bare_diameter_m))
                if coil.wire
                else np.inf
                for coil in each.coils
            ]
            for each in machines
        ]
    )
    good = found.can_be & (gives > 0) & (found.coil_current_A <= ampacity_A).all(axis=1)
    if found.lamps:
        good &= found.all_light & (found.share_of_rated <= 1.0).all(axis=1)
    capacitor = machine.load.capacitor
    if capacitor and capacitor.rated is not None:
        good &= ~(found.dc_voltage_V > capacitor.rated)
    if not good.any():
        return None
    level = good & (gives >= (1.0 - TABLE_TOLERANCE) * gives[good].max())
    heat_W = found.coil_heat_W.sum(axis=1)
    best = int(np.argmin(np.where(level, heat_W, np.inf)))
    gauge, _, load = wired[best]
    now = point.circuit_result
    lamps_now = sum(lamp.count * lamp.average_current_A for lamp in now.lamps)
    return JointMatch(
        gauge,
        {c.name: c.winding.turns for c in machines[best].coils if c.name in study.coils},
        dict(load),
        float(gives[best]),
        float(lamps_now if found.lamps else now.useful_power_W),
        float(found.lamp_current_A[best].max()) if found.lamps else None,
        float(heat_W[best]),
        len(machines),
    )


def _gives(machine: Machine, found: OperatingPoints) -> Array:
    """Return what machines are compared by: all lamps' current [A], or power [W]."""
    if not found.lamps:
        return found.useful_power_W
    lamps = machine.load.lamps
    return np.asarray(lamps.series * lamps.parallel * found.lamp_current_A.sum(axis=1))


def _loads(machine: Machine) -> Iterator[Mapping[str, Any]]:
    """Yield the changes of the load that are tried."""
    load = machine.load
    if load.lamps:
        count = load.lamps.series * load.lamps.parallel
        for series in range(1, min(count, _MOST_IN_SERIES) + 1):
            if count % series == 0:
                yield {"load.lamps.series": series, "load.lamps.parallel": count // series}
    elif load.resistor is not None:
        for factor in _FACTORS:
            yield {"load.resistor": load.resistor * factor}


def _part_filled(machine: Machine, coils: Sequence[str], share: float) -> Machine:
    """Return the machine with a share of the turns that fill some coils' sections."""
    return replaced(
        machine,
        coils=tuple(
            replaced(
                coil,
                turns=max(1, round(share * coil.winding.turns)),
                wire=replaced(coil.wire, fill=None),
            )
            if coil.name in coils
            else coil
            for coil in machine.coils
        ),
    )
