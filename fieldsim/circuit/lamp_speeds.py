"""The lowest speed at which each lamp lights."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit
from fieldsim.circuit.results import CircuitResult
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.circuit.tolerances import TABLE_TOLERANCE
from fieldsim.machine.load.circuit_parts import Led, leaves

__all__ = ["LampSpeed", "lamp_speeds"]

_SPEED_STEP = 1.6
_SLOWEST, _FASTEST = 0.02, 20.0  # times the speed asked for
_SPEED_ACCURACY = 1e-3


@dataclass(frozen=True)
class LampSpeed:
    """The lowest speed at which a lamp lights.

    Parameters
    ----------
    label, visible_current_A
        The lamp, and its visible average current [A].
    lowest_speed_rad_per_s
        Of the crank, or of a rotor of ratio one [rad/s]; None if it stays dark up to ``up_to``.
    looked_up_to_rad_per_s
        How far was looked [rad/s].
    """

    label: str
    visible_current_A: float
    lowest_speed_rad_per_s: float | None
    looked_up_to_rad_per_s: float


def lamp_speeds(
    driven: Callable[[float], tuple[Circuit, PeriodicEmf]], base_rad_per_s: float
) -> tuple[LampSpeed, ...]:
    """Return the lowest speed at which each lamp lights; solutions are shared between lamps.

    Parameters
    ----------
    driven
        From how many times that speed to the circuit with its load and the EMF, which grows with
        speed.
    base_rad_per_s
        Speed of the crank, or of a rotor of ratio one [rad/s].
    """
    from scipy.optimize import brentq

    outlets = driven(1.0)[0].outlets
    if not any(isinstance(leaf, Led) for o in outlets for leaf, _ in leaves(o.load)):
        return ()
    known: dict[float, CircuitResult] = {}

    def at(log_ratio: float) -> CircuitResult:
        if log_ratio not in known:
            known[log_ratio] = periodic_steady_state(
                *driven(math.exp(log_ratio)), tolerance=TABLE_TOLERANCE
            )
        return known[log_ratio]

    up_to = base_rad_per_s * _FASTEST
    found = []
    for i, lamp in enumerate(at(0.0).lamps):

        def excess(log_ratio: float, i: int = i) -> float:
            return at(log_ratio).lamps[i].log_of_visible

        step = math.log(_SPEED_STEP)
        low = high = 0.0
        while excess(low) >= 0 and low > math.log(_SLOWEST):
            low -= step
        while excess(high) < 0 and high < math.log(_FASTEST):
            high += step
        if excess(high) < 0:
            found.append(LampSpeed(lamp.label, lamp.visible_current_A, None, up_to))
            continue
        if low == 0.0:
            low = high - step
        ratio = low
        if excess(low) < 0:
            ratio = brentq(excess, low, min(high, low + step), xtol=_SPEED_ACCURACY)
        found.append(
            LampSpeed(lamp.label, lamp.visible_current_A, base_rad_per_s * math.exp(ratio), up_to)
        )
    return tuple(found)
