"""What a builder can change about a machine, one practical step at a time.

Each lever turns a machine into the same machine with one thing changed, in both directions. A step
is what a workbench can do: a millimetre, one gauge of wire, ten per cent. Where a part grows
towards the winding, its magnets move along their shaft so that the clearance stays what it was:
otherwise every lever would partly be a change of the gap.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from fieldsim.cautions import Caution
from fieldsim.errors import ImpossibleError
from fieldsim.machine.clearance.clearance_change import clearance_m, ways, with_clearance
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import Connection
from fieldsim.machine.frames import Vec3
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet
from fieldsim.machine.part import replaced
from fieldsim.machine.rotors import Mount, Rotor
from fieldsim.studies.rewinding import with_gauge, with_opening, with_turns

__all__ = [
    "STEP_M",
    "STEP_SHARE",
    "Change",
    "Lever",
    "gap_follows_shaft",
    "levers",
    "swaps",
    "unchanged",
    "with_coils",
]

STEP_M = 1e-3
STEP_SHARE = 0.1

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
        The step in either direction, fit for a sentence; ``less_words`` is empty where there is
        no opposite step.
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


def levers(machine: Machine) -> tuple[Lever, ...]:
    """Return what can be changed about a machine.

    Notes
    -----
    A change applies to all rotors, all magnets or all coils at once. Edges are offered only where
    there is such an edge, the gauge of the wire only where the wire is described.
    """
    return (
        _gap(),
        _both(
            "remanence", "magnets 10 % stronger", "magnets 10 % weaker",
            lambda m, sign: _with_magnets(m, lambda magnet: _stronger(magnet, sign)),
        ),
        *_magnet_edges(machine),
        *_wire(machine),
        Lever(
            "crank speed", "crank 10 % faster", "crank 10 % slower", unchanged, unchanged,
            1 + STEP_SHARE, 1 - STEP_SHARE,
        ),
        *_places(machine),
        *_openings(),
    )  # fmt: skip


def swaps(opposed: Iterable[Caution]) -> tuple[Lever, ...]:
    """Return the step that each caution about opposed coils advises.

    Parameters
    ----------
    opposed
        From `fieldsim.operation.opposed_coils.opposed_coil_cautions`.
    """
    return tuple(_swap(caution.where, str(caution.facts["member"])) for caution in opposed)


def _swap(connection: str, member: str) -> Lever:
    return Lever(
        f"ends of {member}", f'ends of "{member}" swapped in "{connection}"',
        "", lambda m: _swapped(m, connection, member), unchanged,
    )  # fmt: skip


def _swapped(machine: Machine, connection: str, member: str) -> Machine:
    def turned(joined: Connection) -> Connection:
        if joined.name != connection:
            return joined
        members = tuple(
            replace(each, reverse=not each.reverse) if each.name == member else each
            for each in joined.members
        )
        return (
            replaced(joined, series=members)
            if joined.series
            else replaced(joined, parallel=members)
        )

    return replaced(machine, connections=tuple(turned(joined) for joined in machine.connections))


def gap_follows_shaft(machine: Machine) -> bool:
    """Return whether the clearance of every magnet changes as it moves along its shaft.

    It does where magnets pass the face of a winding, and not where they turn inside it.
    """
    try:
        return not ways(machine).openings
    except ImpossibleError:
        return False


def unchanged(machine: Machine) -> Machine:
    """Return the machine as it is: the other direction of a step that has one only."""
    return machine


def _both(name: str, more: str, less: str, change: Callable[[Machine, int], Machine]) -> Lever:
    return Lever(name, more, less, lambda m: change(m, 1), lambda m: change(m, -1))


def _gap() -> Lever:
    return _both(
        "gap", "magnets 1 mm closer to the winding", "magnets 1 mm further from the winding",
        lambda m, sign: _with_gap(m, -sign * STEP_M),
    )  # fmt: skip


def _with_gap(machine: Machine, step_m: float) -> Machine:
    if not gap_follows_shaft(machine):
        raise ImpossibleError("moving the magnets along their shafts does not change the clearance")
    now = clearance_m(machine)
    if now + step_m <= 0:
        raise ImpossibleError(
            f"the magnets would touch the winding: only {now * 1e3:.3g} mm are left"
        )
    return with_clearance(machine, now + step_m)


def _keeping_gap(before: Machine, after: Machine) -> Machine:
    """Return the changed machine with each rotor's clearance restored, where its shaft allows."""
    for rotor in before.rotors:
        names = (rotor.name,)
        gap_m = clearance_m(before, names)
        changed = abs(clearance_m(after, names) - gap_m) > _KEPT_M
        if gap_m > 0 and changed and not _turns_inside(before, names):
            after = with_clearance(after, gap_m, names)
    return after


def _turns_inside(machine: Machine, rotors: tuple[str, ...]) -> bool:
    """Return whether magnets pass inside a coil: there the change of the gap is part of a step."""
    try:
        return bool(ways(machine, rotors).openings)
    except ImpossibleError:
        return True


def _with_magnets(machine: Machine, change: Callable[[Magnet], Magnet]) -> Machine:
    return replaced(machine, magnets=tuple(change(magnet) for magnet in machine.magnets))


def _reshaped(machine: Machine, change: Callable[[Magnet], Magnet]) -> Machine:
    """Return the machine with other magnets, each grown away from the winding that it passes."""
    after = _with_magnets(machine, change)
    try:
        senses = dict(ways(machine).along)
    except ImpossibleError:
        senses = {}
    old = {magnet.name: magnet for magnet in machine.magnets}
    new = {magnet.name: magnet for magnet in after.magnets}

    def shifted(rotor: str, place: int, mount: Mount) -> Mount:
        grown = new[mount.magnet].size[2] - old[mount.magnet].size[2]
        sense = senses.get((rotor, place), 0)
        return replaced(mount, height=mount.height + sense * grown / 2) if sense else mount

    rotors = tuple(
        replaced(
            rotor,
            magnets=tuple(shifted(rotor.name, i, mount) for i, mount in enumerate(rotor.magnets)),
        )
        for rotor in after.rotors
    )
    return _keeping_gap(machine, replaced(after, rotors=rotors))


def _stronger(magnet: Magnet, sign: int) -> Magnet:
    return replaced(magnet, remanence=magnet.remanence * (1 + sign * STEP_SHARE))


def _magnet_edges(machine: Machine) -> list[Lever]:
    shapes = [magnet.shape for magnet in machine.magnets]
    found = []
    if any(isinstance(s, Cuboid) for s in shapes):
        for axis, name, more, less in (
            (ArmAxis.ARM, "magnet length", "longer along the arm", "shorter along the arm"),
            (ArmAxis.FORWARD, "magnet width", "wider across the arm", "narrower across the arm"),
            (ArmAxis.SHAFT, "magnet thickness", "thicker", "thinner"),
        ):

            def edge(m: Machine, sign: int, axis: ArmAxis = axis) -> Machine:
                return _reshaped(m, lambda magnet: _with_edge(magnet, axis, sign))

            found.append(_both(name, f"magnets 1 mm {more}", f"magnets 1 mm {less}", edge))
    if any(not isinstance(s, Cuboid) for s in shapes):
        found.append(
            _both(
                "magnet diameter", "round magnets 1 mm wider", "round magnets 1 mm narrower",
                lambda m, sign: _reshaped(m, lambda magnet: _with_diameter(magnet, sign)),
            )
        )  # fmt: skip
    if any(isinstance(s, Cylinder) for s in shapes):
        found.append(
            _both(
                "thickness of round magnets", "round magnets 1 mm thicker",
                "round magnets 1 mm thinner",
                lambda m, sign: _reshaped(m, lambda magnet: _with_thickness(magnet, sign)),
            )
        )  # fmt: skip
    return found


def _with_edge(magnet: Magnet, axis: ArmAxis, sign: int) -> Magnet:
    if not isinstance(magnet.shape, Cuboid):
        return magnet
    edges = list(magnet.shape.size)
    edges[axis.value] = _grown(edges[axis.value], sign, f'magnet "{magnet.name}"')
    return replaced(magnet, shape=Cuboid((edges[0], edges[1], edges[2])))


def _with_diameter(magnet: Magnet, sign: int) -> Magnet:
    if isinstance(magnet.shape, Cuboid):
        return magnet
    diameter = _grown(magnet.shape.diameter, sign, f'magnet "{magnet.name}"')
    return replaced(magnet, shape=replaced(magnet.shape, diameter=diameter))


def _with_thickness(magnet: Magnet, sign: int) -> Magnet:
    if not isinstance(magnet.shape, Cylinder):
        return magnet
    thickness = _grown(magnet.shape.thickness, sign, f'magnet "{magnet.name}"')
    return replaced(magnet, shape=replaced(magnet.shape, thickness=thickness))


def _grown(length_m: float, sign: int, what: str) -> float:
    size = length_m + sign * STEP_M
    if size < _THINNEST_M:
        raise ImpossibleError(f"nothing would be left of {what}")
    return size


def with_coils(machine: Machine, change: Callable[[Coil], Coil]) -> Machine:
    """Return the machine with every coil changed."""
    return replaced(machine, coils=tuple(change(coil) for coil in machine.coils))


def _wire(machine: Machine) -> list[Lever]:
    wound = bool(machine.windings)
    thinner, thicker = (" of thinner wire", " of thicker wire") if wound else ("", "")
    found = [
        _both(
            "turns", f"10 % more turns{thinner}, same section",
            f"10 % fewer turns{thicker}, same section",
            lambda m, sign: with_coils(m, lambda coil: with_turns(coil, 1 + sign * STEP_SHARE)),
        )
    ]  # fmt: skip
    if wound:
        found.append(
            _both(
                "wire gauge", "wire one gauge thinner, section filled",
                "wire one gauge thicker, section filled",
                lambda m, sign: with_coils(m, lambda coil: with_gauge(coil, sign)),
            )
        )  # fmt: skip
    return found


def _places(machine: Machine) -> list[Lever]:
    if not any(mount.radius > 0 for rotor in machine.rotors for mount in rotor.magnets):
        return []
    found = [
        _both(
            "magnet radius", "magnets 1 mm further out on their arms",
            "magnets 1 mm further in on their arms",
            lambda m, sign: _with_radius(m, sign * STEP_M),
        )
    ]  # fmt: skip
    if _ways_out(machine) is not None:
        found.append(
            _both(
                "circle radius", "magnets and coil both 1 mm further from the shaft",
                "magnets and coil both 1 mm nearer to the shaft",
                lambda m, sign: _with_circle(m, sign * STEP_M),
            )
        )  # fmt: skip
    return found


def _with_radius(machine: Machine, step_m: float) -> Machine:
    def moved(rotor: Rotor) -> Rotor:
        magnets = []
        for mount in rotor.magnets:
            radius = mount.radius + step_m if mount.radius > 0 else 0.0
            if radius < 0:
                raise ImpossibleError(f'magnets of rotor "{rotor.name}" are at the shaft already')
            magnets.append(replaced(mount, radius=radius))
        return replaced(rotor, magnets=tuple(magnets))

    after = replaced(machine, rotors=tuple(moved(rotor) for rotor in machine.rotors))
    return _keeping_gap(machine, after)


def _ways_out(machine: Machine) -> tuple[Vec3, ...] | None:
    """Return the unit vector from the shaft to each coil; None unless all rotors share a line."""
    first = machine.rotors[0].shaft
    along, through = np.array(first.along), np.array(first.through)
    for rotor in machine.rotors:
        aside = np.cross(np.array(rotor.shaft.through) - through, along)
        tilt = np.cross(np.array(rotor.shaft.along), along)
        if np.linalg.norm(tilt) > 1e-9 or np.linalg.norm(aside) > 1e-9:
            return None
    found: list[Vec3] = []
    for coil in machine.coils:
        offset = np.array(coil.centre) - through
        offset = offset - along * (offset @ along)
        length = float(np.linalg.norm(offset))
        if length < 2 * STEP_M:
            return None
        x, y, z = (offset / length).tolist()
        found.append((x, y, z))
    return tuple(found)


def _with_circle(machine: Machine, step_m: float) -> Machine:
    coils = []
    for coil, way in zip(machine.coils, _ways_out(machine) or (), strict=True):
        x, y, z = (np.array(coil.centre) + step_m * np.array(way)).tolist()
        coils.append(replaced(coil, centre=(x, y, z)))
    return _with_radius(replaced(machine, coils=tuple(coils)), step_m)


def _openings() -> list[Lever]:
    found = []
    for side, where in ((0, "along its side"), (1, "across its side")):

        def opened(m: Machine, sign: int, side: int = side) -> Machine:
            wider = with_coils(m, lambda coil: with_opening(coil, side, sign * STEP_M))
            return _keeping_gap(m, wider)

        found.append(
            _both(
                f"coil opening {where}", f"coil opening 1 mm wider {where}",
                f"coil opening 1 mm narrower {where}", opened,
            )
        )  # fmt: skip
    return found
