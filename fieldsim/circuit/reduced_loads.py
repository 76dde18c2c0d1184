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
    leaves,
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
    if _is_capacitor(load):
        return _together([load, user])
    if isinstance(load, Series) and has_bridge(load):
        parts = (_replaced(part, user) if has_bridge(part) else part for part in load.parts)
        return replace(load, parts=tuple(parts))
    if isinstance(load, Series) and len(load.parts) == 2 and isinstance(load.parts[0], Diode):
        return replace(load, parts=(load.parts[0], _replaced(load.parts[1], user)))
    if isinstance(load, Parallel):
        bridges = [part for part in load.parts if has_bridge(part)]
        if bridges:
            return _replaced(bridges[0], user)
        kept = tuple(part for part in load.parts if _is_capacitor(part))
        if kept:
            alike = kept if load.count == 1 else (Parallel(kept, load.count),)
            return _together([*alike, user])
    return user


def _is_capacitor(load: Load) -> bool:
    """Return whether a load is a capacitor, or a bank of nothing else."""
    return all(isinstance(leaf, Capacitor) for leaf, _ in leaves(load))


def _together(parts: list[Load]) -> Load:
    real = [part for part in parts if not isinstance(part, Open | Short)]
    return real[0] if len(real) == 1 else Parallel(tuple(real))
