"""The same load with its users taken out, or with one resistor in their place."""

from __future__ import annotations

from dataclasses import replace

from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Diode,
    Load,
    Open,
    Parallel,
    Resistor,
    Series,
    Short,
)

__all__ = ["has_bridge", "with_resistor", "without_users"]


def has_bridge(load: Load) -> bool:
    """Return whether a load holds a bridge.

    Examples
    --------
    >>> has_bridge(Parallel((Bridge(Resistor(100.0)), Resistor(10.0))))
    True
    """
    if isinstance(load, Series | Parallel):
        return any(has_bridge(part) for part in load.parts)
    return isinstance(load, Bridge)


def without_users(load: Load) -> Load:
    """Return the load with nothing that uses power: rectifiers and capacitors stay.

    Examples
    --------
    >>> smoothing = Capacitor(1e-3)
    >>> without_users(Bridge(Parallel((smoothing, Resistor(100.0))))).load == smoothing
    True
    """
    return _replaced(load, Open())


def with_resistor(load: Load, resistance_ohm: float) -> Load:
    """Return the load with one resistor in place of all that uses power behind its rectifier.

    Examples
    --------
    >>> with_resistor(Bridge(Parallel((Resistor(5.0), Resistor(7.0)))), 100.0).load
    Resistor(resistance_ohm=100.0, name='', rated_W=None)
    """
    return _replaced(load, Resistor(resistance_ohm))


def _replaced(load: Load, user: Load) -> Load:
    if isinstance(load, Bridge):
        return replace(load, load=_replaced(load.load, user))
    if isinstance(load, Series) and len(load.parts) == 2 and isinstance(load.parts[0], Diode):
        return replace(load, parts=(load.parts[0], _replaced(load.parts[1], user)))
    if isinstance(load, Parallel) and load.count == 1:
        bridges = [part for part in load.parts if has_bridge(part)]
        if bridges:
            return _replaced(bridges[0], user)
        kept = [part for part in load.parts if isinstance(part, Capacitor)]
        if kept:
            return _together([*kept, user])
    if isinstance(load, Capacitor):
        return _together([load, user])
    return user


def _together(parts: list[Load]) -> Load:
    real = [part for part in parts if not isinstance(part, Open | Short)]
    return real[0] if len(real) == 1 else Parallel(tuple(real))
