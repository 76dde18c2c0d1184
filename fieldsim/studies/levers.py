"""What a builder can change about a machine, one practical step at a time.

Each lever turns a machine into the same machine with one thing changed, in both directions. A step
is what a workbench can do: a millimetre, one gauge of wire, ten per cent. Where a part grows
towards the winding, the rotor moves along its shaft so that the clearance stays what it was:
otherwise every lever would partly be a change of the gap.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearances import rotor_to_winding_m
from fieldsim.machine.frames import Vec3
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet
from fieldsim.machine.placed import PlacedCoil, PlacedRotor
from fieldsim.studies.gap import rotor_at_gap
from fieldsim.studies.rewinding import with_gauge, with_opening, with_turns

__all__ = ["STEP_M", "STEP_SHARE", "Change", "Lever", "gap_follows_shaft", "levers"]

STEP_M = 1e-3
STEP_SHARE = 0.1

_LONGEST_MOVE = 2.0  # along the shaft, over the change of clearance that it is to bring
_KEPT_M = 1e-6
_THINNEST_M = 1e-4

Change = Callable[[Machine], Machine]


@dataclass(frozen=True)
class Lever:
    """One thing that a builder can change.

    Parameters
    ----------
    name
        What it is, in a word or two.
    more_words, less_words
        The step in either direction, fit for a sentence.
    more, less
        From the machine to the changed one; they raise `ImpossibleError` where that cannot be.
    speed_more, speed_less
        By what the speed is multiplied.
    """

    name: str
    more_words: str
    less_words: str
    more: Change
    less: Change
    speed_more: float = 1.0
    speed_less: float = 1.0


def levers(geometry: Machine) -> tuple[Lever, ...]:
    """Return what can be changed about a machine.

    Notes
    -----
    A change applies to all rotors, all magnets or all coils at once. Edges are offered only where
    there is such an edge, the gauge of the wire only where the file gives the wire.
    """
    return (
        _gap(),
        _both(
            "remanence", "magnets 10 % stronger", "magnets 10 % weaker",
            lambda g, sign: _with_magnets(g, lambda m: _stronger(m, sign)),
        ),
        *_magnet_edges(geometry),
        *_wire(geometry),
        Lever(
            "crank speed", "crank 10 % faster", "crank 10 % slower", _same, _same,
            1 + STEP_SHARE, 1 - STEP_SHARE,
        ),
        *_places(geometry),
        *_openings(),
    )  # fmt: skip


def gap_follows_shaft(geometry: Machine) -> bool:
    """Return whether moving each rotor along its shaft changes its clearance about as much.

    It does where magnets pass the face of a winding, and not where they turn inside it.
    """
    try:
        _with_gap(geometry, STEP_M)
    except ImpossibleError:
        return False
    return True


def _same(geometry: Machine) -> Machine:
    return geometry


def _both(name: str, more: str, less: str, change: Callable[[Machine, int], Machine]) -> Lever:
    return Lever(name, more, less, lambda g: change(g, 1), lambda g: change(g, -1))


def _gap() -> Lever:
    return _both(
        "gap", "magnets 1 mm closer to the winding", "magnets 1 mm further from the winding",
        lambda g, sign: _with_gap(g, -sign * STEP_M),
    )  # fmt: skip


def _with_gap(geometry: Machine, step_m: float) -> Machine:
    rotors = []
    for rotor in geometry.rotors:
        now = rotor_to_winding_m(rotor, geometry.coils)
        if now + step_m <= 0:
            raise ImpossibleError(
                f'rotor "{rotor.name}" would touch the winding: only {now * 1e3:.3g} mm are left'
            )
        rotors.append(_at_gap(rotor, geometry.coils, now + step_m, abs(step_m)))
    return geometry.with_rotors(tuple(rotors))


def _at_gap(
    rotor: PlacedRotor, coils: tuple[PlacedCoil, ...], gap_m: float, change_m: float
) -> PlacedRotor:
    moved = rotor_at_gap(rotor, coils, gap_m)
    if math.dist(moved.shaft.through, rotor.shaft.through) > _LONGEST_MOVE * change_m:
        raise ImpossibleError(
            f'moving rotor "{rotor.name}" along its shaft hardly changes its clearance'
        )
    return moved


def _keeping_gap(before: Machine, after: Machine) -> Machine:
    """Return the changed machine with each rotor's clearance restored, where its shaft allows."""
    rotors = []
    for old, new in zip(before.rotors, after.rotors, strict=True):
        gap = rotor_to_winding_m(old, before.coils)
        change = abs(rotor_to_winding_m(new, after.coils) - gap)
        if gap > 0 and change > _KEPT_M:
            try:
                rotors.append(_at_gap(new, after.coils, gap, change))
                continue
            except ImpossibleError:
                pass  # magnets inside a coil: there the change of the gap is part of the lever
        rotors.append(new)
    return after.with_rotors(tuple(rotors))


def _with_magnets(geometry: Machine, change: Callable[[Magnet], Magnet]) -> Machine:
    changed = {m.name: change(m) for m in geometry.magnets}
    rotors = tuple(
        replace(
            rotor, magnets=tuple(replace(m, magnet=changed[m.magnet.name]) for m in rotor.magnets)
        )
        for rotor in geometry.rotors
    )
    return _keeping_gap(geometry, replace(geometry, magnets=(*changed.values(),), rotors=rotors))


def _stronger(magnet: Magnet, sign: int) -> Magnet:
    return replace(magnet, remanence=magnet.remanence * (1 + sign * STEP_SHARE))


def _magnet_edges(geometry: Machine) -> list[Lever]:
    shapes = [m.shape for m in geometry.magnets]
    found = []
    if any(isinstance(s, Cuboid) for s in shapes):
        for axis, name, more, less in (
            (ArmAxis.ARM, "magnet length", "longer along the arm", "shorter along the arm"),
            (ArmAxis.FORWARD, "magnet width", "wider across the arm", "narrower across the arm"),
            (ArmAxis.SHAFT, "magnet thickness", "thicker", "thinner"),
        ):

            def edge(g: Machine, sign: int, axis: ArmAxis = axis) -> Machine:
                return _with_magnets(g, lambda m: _with_edge(m, axis, sign))

            found.append(_both(name, f"magnets 1 mm {more}", f"magnets 1 mm {less}", edge))
    if any(not isinstance(s, Cuboid) for s in shapes):
        found.append(
            _both(
                "magnet diameter", "round magnets 1 mm wider", "round magnets 1 mm narrower",
                lambda g, sign: _with_magnets(g, lambda m: _with_diameter(m, sign)),
            )
        )  # fmt: skip
    if any(isinstance(s, Cylinder) for s in shapes):
        found.append(
            _both(
                "thickness of round magnets", "round magnets 1 mm thicker",
                "round magnets 1 mm thinner",
                lambda g, sign: _with_magnets(g, lambda m: _with_thickness(m, sign)),
            )
        )  # fmt: skip
    return found


def _with_edge(magnet: Magnet, axis: ArmAxis, sign: int) -> Magnet:
    if not isinstance(magnet.shape, Cuboid):
        return magnet
    edges = list(magnet.shape.size)
    edges[axis.value] = _grown(edges[axis.value], sign, f'magnet "{magnet.name}"')
    return replace(magnet, shape=Cuboid((edges[0], edges[1], edges[2])))


def _with_diameter(magnet: Magnet, sign: int) -> Magnet:
    if isinstance(magnet.shape, Cuboid):
        return magnet
    diameter = _grown(magnet.shape.diameter, sign, f'magnet "{magnet.name}"')
    return replace(magnet, shape=replace(magnet.shape, diameter=diameter))


def _with_thickness(magnet: Magnet, sign: int) -> Magnet:
    if not isinstance(magnet.shape, Cylinder):
        return magnet
    thickness = _grown(magnet.shape.thickness, sign, f'magnet "{magnet.name}"')
    return replace(magnet, shape=replace(magnet.shape, thickness=thickness))


def _grown(length_m: float, sign: int, what: str) -> float:
    size = length_m + sign * STEP_M
    if size < _THINNEST_M:
        raise ImpossibleError(f"nothing would be left of {what}")
    return size


def _wire(geometry: Machine) -> list[Lever]:
    wound = geometry.fittings is not None and bool(geometry.fittings.windings)
    thinner, thicker = (" of thinner wire", " of thicker wire") if wound else ("", "")
    found = [
        _both(
            "turns", f"10 % more turns{thinner}, same section",
            f"10 % fewer turns{thicker}, same section",
            lambda g, sign: with_turns(g, 1 + sign * STEP_SHARE),
        )
    ]  # fmt: skip
    if wound:
        found.append(
            _both(
                "wire gauge", "wire one gauge thinner, section filled",
                "wire one gauge thicker, section filled", with_gauge,
            )
        )  # fmt: skip
    return found


def _places(geometry: Machine) -> list[Lever]:
    if not any(m.radius > 0 for r in geometry.rotors for m in r.magnets):
        return []
    found = [
        _both(
            "magnet radius", "magnets 1 mm further out on their arms",
            "magnets 1 mm further in on their arms",
            lambda g, sign: _with_radius(g, sign * STEP_M),
        )
    ]  # fmt: skip
    if _ways_out(geometry) is not None:
        found.append(
            _both(
                "circle radius", "magnets and coil both 1 mm further from the shaft",
                "magnets and coil both 1 mm nearer to the shaft",
                lambda g, sign: _with_circle(g, sign * STEP_M),
            )
        )  # fmt: skip
    return found


def _with_radius(geometry: Machine, step_m: float) -> Machine:
    def moved(rotor: PlacedRotor) -> PlacedRotor:
        magnets = []
        for m in rotor.magnets:
            radius = m.radius + step_m if m.radius > 0 else 0.0
            if radius < 0:
                raise ImpossibleError(f'magnets of rotor "{rotor.name}" are at the shaft already')
            magnets.append(replace(m, radius=radius))
        return replace(rotor, magnets=tuple(magnets))

    return _keeping_gap(geometry, geometry.with_rotors(tuple(moved(r) for r in geometry.rotors)))


def _ways_out(geometry: Machine) -> tuple[Vec3, ...] | None:
    """Return the unit vector from the shaft to each coil; None unless all rotors share a line."""
    first = geometry.rotors[0].shaft
    along, through = np.array(first.along), np.array(first.through)
    for rotor in geometry.rotors:
        aside = np.cross(np.array(rotor.shaft.through) - through, along)
        tilt = np.cross(np.array(rotor.shaft.along), along)
        if np.linalg.norm(tilt) > 1e-9 or np.linalg.norm(aside) > 1e-9:
            return None
    found: list[Vec3] = []
    for coil in geometry.coils:
        offset = np.array(coil.centre) - through
        offset = offset - along * (offset @ along)
        length = float(np.linalg.norm(offset))
        if length < 2 * STEP_M:
            return None
        x, y, z = (offset / length).tolist()
        found.append((x, y, z))
    return tuple(found)


def _with_circle(geometry: Machine, step_m: float) -> Machine:
    coils = []
    for coil, way in zip(geometry.coils, _ways_out(geometry) or (), strict=True):
        x, y, z = (np.array(coil.centre) + step_m * np.array(way)).tolist()
        coils.append(replace(coil, centre=(x, y, z)))
    return _with_radius(replace(geometry, coils=tuple(coils)), step_m)


def _openings() -> list[Lever]:
    found = []
    for side, where in ((0, "along its side"), (1, "across its side")):

        def opened(g: Machine, sign: int, side: int = side) -> Machine:
            return _keeping_gap(g, with_opening(g, side, sign * STEP_M))

        found.append(
            _both(
                f"coil opening {where}", f"coil opening 1 mm wider {where}",
                f"coil opening 1 mm narrower {where}", opened,
            )
        )  # fmt: skip
    return found
