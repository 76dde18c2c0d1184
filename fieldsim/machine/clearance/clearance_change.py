"""The clearance between magnets and windings as one number that can be changed.

A magnet that passes the face of a winding moves along its shaft, away from that face or towards
it, and iron on its rotor with it. One that passes inside a coil cannot: there the opening widens,
by twice the change, in the dimension whose sides the magnet passes; build and turns
stay. The magnets that have the smallest clearance come to the asked value, all others move by as
much.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache, partial

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import (
    raised_to_winding_m,
    rotor_to_winding_m,
    rotors_to_windings_m,
)
from fieldsim.machine.coils import Coil
from fieldsim.machine.frames import dot
from fieldsim.machine.iron import IronPiece
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.machine.placed import PlacedCoil, PlacedRotor

__all__ = [
    "FOLLOWS",
    "PROBE_M",
    "SAME_M",
    "Ways",
    "clearance_m",
    "move_for",
    "ways",
    "with_clearance",
]

PROBE_M = 1e-5  # a step that tells which way a distance grows
FOLLOWS = 0.5  # of that step must show in the distance
SAME_M = 1e-9
_NARROWEST_M = 1e-4  # of an opening


@dataclass(frozen=True)
class Ways:
    """How the clearances of a machine's magnets are changed.

    Parameters
    ----------
    along
        By (rotor, entry of its magnets): ``1`` if the clearance grows along the shaft, ``-1`` if
        against it.
    openings
        Coil and dimension, 0 or 1, of each opening that widens for magnets that pass inside.
    """

    along: tuple[tuple[tuple[str, int], int], ...]
    openings: tuple[tuple[str, int], ...]


def clearance_m(machine: Machine, rotors: Sequence[str] = ()) -> float:
    """Return the smallest distance of rotors' magnets to the windings over a turn [m].

    Parameters
    ----------
    machine
        Any; where parts overlap the distance is negative.
    rotors
        Names; by default all.
    """
    return min(
        min(distances_m)
        for rotor, distances_m in zip(machine.rotors, rotors_to_windings_m(machine), strict=True)
        if not rotors or rotor.name in rotors
    )


def with_clearance(machine: Machine, clearance: float, rotors: Sequence[str] = ()) -> Machine:
    """Return the machine with another smallest clearance.

    Parameters
    ----------
    machine
        Any.
    clearance
        Smallest distance of the rotors' magnets to the windings [m].
    rotors
        Names of those that move; by default all.

    Raises
    ------
    ImpossibleError
        If magnets stand so that no move along their shaft and no wider opening changes their
        clearance, or the move does not lead there.

    Notes
    -----
    Where faces are square to the shaft the clearance changes by just as much as a magnet moves; of
    others the move is found by root finding.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/two_facing_rotors.yaml")
    >>> moved = with_clearance(machine, 4e-3)
    >>> round(clearance_m(moved) * 1e3, 6)
    4.0
    """
    now = clearance_m(machine, rotors)
    if abs(clearance - now) < SAME_M:
        return machine
    moved = cache(partial(_moved, machine, ways(machine, tuple(rotors))))

    def missing(move_m: float) -> float:
        return clearance_m(moved(move_m), rotors) - clearance

    refusal = f"no move of the magnets brings their clearance to {clearance * 1e3:.4g} mm"
    return moved(move_for(missing, clearance - now, refusal))


def move_for(missing: Callable[[float], float], first: float, refusal: str) -> float:
    """Return the move at which nothing is missing of a distance [m].

    Parameters
    ----------
    missing
        From a move to what is then missing, both in metres.
    first
        The move that leads there where faces are square to it.
    refusal
        What the error says.

    Raises
    ------
    ImpossibleError
        If no move leads there.
    """
    if abs(missing(first)) <= SAME_M:
        return first
    from scipy.optimize import brentq

    for factor in (1.5, 2.0, 3.0, 5.0):
        if missing(first * factor) * missing(0.0) <= 0:
            return float(brentq(missing, 0.0, first * factor, xtol=1e-11))
    raise ImpossibleError(refusal)


@lru_cache(maxsize=32)
def ways(machine: Machine, rotors: tuple[str, ...] = ()) -> Ways:
    """Return how the clearances of rotors' magnets are changed.

    Raises
    ------
    ImpossibleError
        If for some magnet there is no way.
    """
    along = []
    openings: dict[tuple[str, int], None] = {}
    for rotor, placed in zip(machine.rotors, machine.placed_rotors, strict=True):
        if rotors and rotor.name not in rotors:
            continue
        first = 0
        for place, mount in enumerate(rotor.magnets):
            held = replace(placed, magnets=placed.magnets[first : first + mount.count])
            first += mount.count
            sense = _sense_along(held, machine.placed_coils)
            if sense:
                along.append(((rotor.name, place), sense))
            else:
                openings |= dict.fromkeys(_openings_around(held, machine))
    return Ways(tuple(along), tuple(openings))


def _sense_along(rotor: PlacedRotor, coils: tuple[PlacedCoil, ...]) -> int:
    """Return which way along the shaft the clearance grows about as fast as the magnets move."""
    now, higher, lower = raised_to_winding_m(rotor, coils, (0.0, PROBE_M, -PROBE_M))
    least = now + FOLLOWS * PROBE_M
    return 1 if higher > least else -1 if lower > least else 0


def _openings_around(rotor: PlacedRotor, machine: Machine) -> list[tuple[str, int]]:
    """Return coil and dimension of the openings whose widening gives the magnets more room."""
    coils = machine.placed_coils
    now = rotor_to_winding_m(rotor, coils)
    nearest = [c for c in coils if rotor_to_winding_m(rotor, (c,)) < now + PROBE_M / 2]
    found = []
    for coil in nearest:
        for side in (0, 1):
            edges = list(coil.opening)
            edges[side] += 2 * PROBE_M
            wider = replace(coil, opening=(edges[0], edges[1]))
            if rotor_to_winding_m(rotor, (wider,)) - now > FOLLOWS * PROBE_M:
                found.append((coil.name, side))
        if not found:
            # Magnets that pass both pairs of sides equally near have more room only if both widen.
            wider = replace(coil, opening=(coil.opening[0] + PROBE_M, coil.opening[1] + PROBE_M))
            if rotor_to_winding_m(rotor, (wider,)) - now > FOLLOWS * PROBE_M / 2:
                found += [(coil.name, 0), (coil.name, 1)]
    if not found:
        raise ImpossibleError(
            f'the clearance of rotor "{rotor.name}" cannot be changed: its magnets neither pass '
            "the face of a winding nor turn inside one"
        )
    return found


def _moved(machine: Machine, how: Ways, move_m: float) -> Machine:
    """Return the machine with every magnet moved away from its winding face by ``move_m``."""
    senses = dict(how.along)
    rotors = tuple(
        replaced(
            rotor,
            magnets=tuple(
                replaced(mount, height=mount.height + senses[rotor.name, place] * move_m)
                if (rotor.name, place) in senses
                else mount
                for place, mount in enumerate(rotor.magnets)
            ),
        )
        if any(name == rotor.name for name, _ in senses)
        else rotor
        for rotor in machine.rotors
    )
    coils = tuple(_widened(coil, how, move_m) for coil in machine.coils)
    iron = tuple(_carried(piece, machine, senses, move_m) for piece in machine.iron)
    new = {"rotors": rotors, "coils": coils, "iron": iron}
    return replaced(machine, **{k: v for k, v in new.items() if v != getattr(machine, k)})


def _carried(
    piece: IronPiece, machine: Machine, senses: Mapping[tuple[str, int], int], move_m: float
) -> IronPiece:
    """Return a piece of iron that moves as the magnets nearest to it on its rotor do."""
    moving = [place for name, place in senses if name == piece.on]
    if piece.on is None or not moving:
        return piece
    rotor = machine.rotor(piece.on)
    from_start = tuple(c - t for c, t in zip(piece.centre, rotor.shaft.through, strict=True))
    height = dot((from_start[0], from_start[1], from_start[2]), rotor.shaft.along)
    nearest = min(moving, key=lambda place: abs(rotor.magnets[place].height - height))
    return piece.raised(rotor.shaft.along, senses[rotor.name, nearest] * move_m)


def _widened(coil: Coil, how: Ways, move_m: float) -> Coil:
    sides = [side for name, side in how.openings if name == coil.name]
    if not sides:
        return coil
    edges = list(coil.opening)
    for side in sides:
        edges[side] += 2 * move_m
    if min(edges) < _NARROWEST_M:
        raise ImpossibleError(f'nothing would be left of the opening of coil "{coil.name}"')
    return coil.with_opening((edges[0], edges[1]))
