"""What turning the crank takes, where that power goes, and what could come loose.

All over one whole repeat of the machine at a steady crank speed: currents from the circuit, their
torque on every rotor, the rotors' magnets on each other and on iron, friction and gears.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Doubt, Note
from fieldsim.errors import ImpossibleError
from fieldsim.machine.gears import CRANK, GearTrain, Link
from fieldsim.machine.machine import Machine
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.machine.placed import PlacedRotor
from fieldsim.mechanics.attraction import (
    AssemblyPull,
    Attraction,
    ShaftLoad,
    assembly_pull,
    attraction,
)
from fieldsim.mechanics.crank_effort import (
    CrankEffort,
    check_friction,
    crank_effort,
    force_to_start_N,
)
from fieldsim.mechanics.iron_assembly import RotorAssembly, rotor_assembly
from fieldsim.mechanics.iron_pull import pull_through_repeat
from fieldsim.mechanics.iron_torques import IronTorque, iron_torques
from fieldsim.mechanics.magnet_pairs import MagnetPair, magnet_loads_N, magnet_pairs
from fieldsim.mechanics.magnet_retention import RotorHold, retention
from fieldsim.mechanics.rest_positions import RestPositions, rest_positions
from fieldsim.mechanics.shaft_loads import shaft_loads
from fieldsim.mechanics.speed_swing import SpeedSwing, inertia_at_crank_kg_m2, speed_swing
from fieldsim.operation.coil_torques import coil_torques_Nm
from fieldsim.operation.electric_side import ElectricSide, electric_side
from fieldsim.operation.iron_loss import NO_LOSS, IronLoss
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.emf import Speed

__all__ = ["Effort", "PairForces", "coil_torques_Nm", "effort"]

Array = NDArray[np.float64]

_UNRESOLVED = 1e-3  # of a torque, from which a word is due
_UNRESOLVED_BY_IRON = 3e-3  # which is itself known to percents
_ASSEMBLY_M = np.concatenate([np.arange(0.0, 30.0, 1.0), np.arange(30.0, 101.0, 5.0)]) * 1e-3


@dataclass(frozen=True)
class PairForces:
    """What two rotors do to each other.

    Parameters
    ----------
    attraction
        Over the positions that occur.
    assembly
        While the second is brought to its place; None unless both turn about one line.
    peak_torque_Nm
        Largest torque of the first one's magnets on the second rotor's shaft [N m].
    locked
        Whether the gears hold them in one angle to each other.
    unresolved
        How far the table of angles is from showing their torque in full, over its largest; 0 is
        perfect.
    """

    attraction: Attraction
    assembly: AssemblyPull | None
    peak_torque_Nm: float
    locked: bool
    unresolved: float = 0.0


@dataclass(frozen=True, eq=False)
class Effort:
    """The mechanical side of a machine at a steady crank speed.

    Parameters
    ----------
    title
        Of the machine.
    crank_angle_rad
        Equal steps from 0 over the repeat, the way the crank turns, shape (samples,).
    coil_torque_Nm, magnet_torque_Nm
        On each rotor about its ``along``, from the coils' currents and from the other rotors'
        magnets and the iron, by rotor, shape (samples,).
    crank
        Torque and powers at the crank.
    coils_at_crank_Nm, magnets_at_crank_Nm
        What coils and magnets ask of the crank, positive the way it turns and before the losses of
        gears and friction, shape (samples,).
    electric
        Currents and powers by the circuit's own books, or why no current is reckoned with.
    slow_Nm
        Torque at the crank at a creep: magnets, gears and constant friction, shape (samples,).
    friction_holds_Nm
        Torque that constant friction holds against at the crank [N m].
    rest
        Where the magnets let the crank rest, in angles the way it turns.
    pairs
        Every two rotors.
    shafts
        What every shaft bears from all other rotors' magnets together, by rotor, at the crank
        angles.
    holds
        How each rotor's magnets are held; at rest of the glue's strength where that is known.
    glue_known
        Whether an adhesive is described; without one the holds know only the pulls.
    train, friction, arm
        As described; the arm is empty where it is not known.
    swing
        How much the crank's speed swings by the magnets, with no more mass than theirs.
    iron
        What the iron does to each rotor, by rotor, but for what eddy currents in it take; empty
        without iron.
    iron_loss
        What eddy currents in the iron take from the magnets and the coils' currents.
    solid_iron
        Cautions about iron whose eddy currents are left out.
    assembling
        Works out `assemblies` when they are first asked for.
    """

    title: str
    crank_angle_rad: Array = field(repr=False)
    coil_torque_Nm: Mapping[str, Array] = field(repr=False)
    magnet_torque_Nm: Mapping[str, Array] = field(repr=False)
    crank: CrankEffort
    coils_at_crank_Nm: Array = field(repr=False)
    magnets_at_crank_Nm: Array = field(repr=False)
    electric: ElectricSide
    slow_Nm: Array = field(repr=False)
    friction_holds_Nm: float
    rest: RestPositions
    pairs: tuple[PairForces, ...]
    shafts: Mapping[str, ShaftLoad]
    holds: tuple[RotorHold, ...]
    glue_known: bool
    train: GearTrain
    friction: Friction
    arm: Crank
    swing: SpeedSwing
    iron: Mapping[str, IronTorque] = field(default_factory=dict)
    iron_loss: IronLoss = NO_LOSS
    solid_iron: tuple[Caution, ...] = ()
    assembling: Callable[[], tuple[RotorAssembly, ...]] = field(default=tuple, repr=False)

    @cached_property
    def assemblies(self) -> tuple[RotorAssembly, ...]:
        """What pulls at each rotor while it is put in its place; empty without iron."""
        return self.assembling()

    @property
    def left_out(self) -> tuple[str, ...]:
        """Sections that the file lacks and whose losses are therefore not reckoned with.

        Gears are not missed where the crank turns every rotor as fast as itself.
        """
        train = self.train
        geared = any(train.meshes.values()) or all(abs(r) == 1 for r in train.ratios.values())
        absent = {"friction": not self.friction, "gears": not geared}
        return tuple(name for name, is_absent in absent.items() if is_absent)

    @property
    def speed(self) -> Speed:
        """Of crank and rotors, as solved."""
        return self.electric.speed

    @property
    def turns(self) -> Fraction:
        """Crank turns after which all repeats."""
        return self.electric.turns

    @property
    def slow_peak_torque_Nm(self) -> float:
        """The most torque needed to turn slowly through the repeat [N m]."""
        return float(self.slow_Nm.max())

    @property
    def ripple(self) -> float | None:
        """Swing of the torque over its average; None where the average is but rounding."""
        crank = self.crank
        swing = crank.peak_torque_Nm - crank.least_torque_Nm
        return crank.ripple if abs(crank.average_torque_Nm) > 1e-9 * swing else None

    @property
    def notes(self) -> tuple[Note, ...]:
        """What to know about the numbers."""
        rough = (
            Note(
                Doubt.NEAR_MAGNETS,
                pair.unresolved,
                _UNRESOLVED,
                {"first": pair.attraction.first, "second": pair.attraction.second},
            )
            for pair in self.pairs
            if pair.unresolved > _UNRESOLVED
        )
        missing = self.left_out
        sections = {"sections": " ".join(missing)}
        absent = (Note(Doubt.LEFT_OUT, float(len(missing)), None, sections),) if missing else ()
        return (*absent, *self.electric.notes, *rough, *self._iron_notes)

    @property
    def _iron_notes(self) -> tuple[Note, ...]:
        rough = (
            Note(Doubt.NEAR_IRON, of.unresolved, _UNRESOLVED_BY_IRON, {"rotor": name})
            for name, of in self.iron.items()
            if of.unresolved > _UNRESOLVED_BY_IRON
        )
        if not self.iron:
            return ()
        return (*rough, Note(Doubt.HYSTERESIS, self.iron_loss.total_W))

    @property
    def held_by_friction(self) -> bool:
        """Whether friction stops the magnets from turning the crank anywhere."""
        return self.rest.torque_to_pass_Nm <= self.friction_holds_Nm

    @property
    def relative_imbalance(self) -> float:
        """Power of the hand less all that it turns into, over the largest of these powers."""
        electric_W, iron_W = self.electric.source_W, self.iron_loss.from_rotors_W
        parts = (electric_W, iron_W, self.crank.friction_W, self.crank.gears_W)
        # Of a machine that takes nothing but swings, rounding is all there is to compare.
        swing = 1e-9 * float(np.abs(self.crank.torque_Nm).max()) * abs(self.crank.speed_rad_per_s)
        largest = max(abs(self.crank.hand_W), *map(abs, parts), swing)
        return (self.crank.hand_W - sum(parts)) / largest if largest else 0.0

    @property
    def efficiency(self) -> float:
        """Power into the load over the hand's; 0 without either."""
        return self.electric.load_W / self.crank.hand_W if self.crank.hand_W > 0 else 0.0


def effort(point: MachineAtSpeed) -> Effort:
    """Return what the hand feels and what could come loose.

    Parameters
    ----------
    point
        A machine at a crank speed; gears, crank, friction, glue, wire and load as far as they are
        described.

    Raises
    ------
    ImpossibleError
        If friction alone is more than the hand gives, a strength of the glue is missing that the
        load on it calls for, or the speed is one of the rotors.

    Notes
    -----
    Speed is held steady, as a flywheel or a practised hand would: with a light rotor the real
    ripple of torque is smaller, and that of the speed larger; `Effort.swing` says how large. Eddy
    currents in iron brake each rotor evenly here, by their power over its speed; the torque of the
    coils' currents through such iron is right on average.
    """
    if point.speed.given_as != "crank":
        raise ImpossibleError("effort needs a crank speed, not a rotor speed")
    machine, friction, arm = point.machine, point.machine.friction, point.machine.crank
    rotors = machine.placed_rotors
    if arm:
        check_friction(machine.train, friction, arm)
    electric = electric_side(point)
    solved, loss = electric.speed, point.iron_loss
    train = _at_ratios(machine.train, rotors, solved.ratios)
    sense = 1 if solved.base_rad_per_s > 0 else -1
    count = electric.current_A.shape[1]
    turned = 2 * math.pi * float(electric.turns) * np.arange(count) / count
    whole = [sense * int(ratio * electric.turns) for ratio in solved.ratios]
    table, current_A = point.braking_flux_table, electric.current_A
    coil_torque = coil_torques_Nm(table, rotors, whole, current_A)
    pairs = magnet_pairs(rotors, solved.ratios, electric.turns)
    iron = iron_torques(point.iron_energy, rotors, whole, count)
    magnet_torque = _magnet_torques_Nm(rotors, pairs, iron, count, sense)
    brake_Nm = {
        name: -loss.magnets_W.get(name, 0.0) / turning
        for name, turning in zip(coil_torque, solved.rotors_rad_per_s, strict=True)
    }
    both = {n: coil_torque[n] + magnet_torque[n] + brake_Nm[n] for n in coil_torque}
    crank = crank_effort(both, train, solved.base_rad_per_s, friction)
    magnets_at_crank = _at_crank_Nm(magnet_torque, train, sense)
    slow = _slow_torque_Nm(magnet_torque, train, friction, sense)
    still = force_to_start_N(train, friction, Crank(1.0)) * 1.0  # on an arm of a metre [N m]
    error = sum(p.forces.error_Nm * max(map(abs, map(float, p.ratios))) for p in pairs)
    error += sum(of.error_Nm * abs(float(train.ratios[name])) for name, of in iron.items())
    rest = rest_positions(
        -magnets_at_crank, 2 * math.pi * float(electric.turns), negligible_Nm=10 * error
    )
    inertia = inertia_at_crank_kg_m2(rotors, train.ratios, machine.adhesive.density)
    shaft_by_iron, magnets_by_iron = _iron_pull(point, whole, count)
    energy_J = rest.energy_J if len(rest.stable_rad) else np.zeros(1)
    return Effort(
        machine.title,
        turned,
        coil_torque,
        magnet_torque,
        crank,
        _at_crank_Nm(coil_torque, train, sense),
        magnets_at_crank,
        electric,
        slow,
        still,
        rest,
        tuple(_pair_forces(pair) for pair in pairs),
        shaft_loads(rotors, pairs, count, sense, shaft_by_iron),
        _holds(machine, solved, magnet_loads_N(rotors, pairs, count, magnets_by_iron)),
        bool(machine.adhesive),
        train,
        friction,
        arm,
        speed_swing(energy_J, inertia, solved.base_rad_per_s),
        iron,
        loss,
        point.solid_iron,
        partial(_assemblies, point),
    )


def _at_ratios(
    train: GearTrain, rotors: Sequence[PlacedRotor], ratios: Sequence[Fraction]
) -> GearTrain:
    """Return the train with the ratios that were solved, which may be slightly shifted."""
    exact = train.ratios
    solved = {rotor.name: ratio for rotor, ratio in zip(rotors, ratios, strict=True)}
    factor = {CRANK: Fraction(1)}
    links: list[Link] = []
    for link in train.links:
        own = [solved[r] / exact[r] for r in link.rotors]
        factor[link.name] = own[0] if own else factor[link.parent]
        ratio = link.ratio * factor[link.name] / factor[link.parent]
        links.append(replace(link, ratio=ratio))
    return GearTrain(tuple(links))


def _magnet_torques_Nm(
    rotors: Sequence[PlacedRotor],
    pairs: Sequence[MagnetPair],
    iron: Mapping[str, IronTorque],
    count: int,
    sense: int,
) -> dict[str, Array]:
    torque = {rotor.name: np.zeros(count) for rotor in rotors}
    for name, of in iron.items():
        torque[name] = torque[name] + of.torque_Nm
    for pair in pairs:
        tables = pair.forces.torque_on_first_Nm, pair.forces.torque_on_second_Nm
        for name, table in zip(pair.names, tables, strict=True):
            torque[name] = torque[name] + pair.through_repeat(table, count, sense)
    return torque


def _at_crank_Nm(torque_Nm: Mapping[str, Array], train: GearTrain, sense: int) -> Array:
    """Return what keeps the rotors turning against a torque on them, seen at an ideal crank."""
    ratios = train.ratios
    return np.asarray(-sense * sum(float(ratios[name]) * t for name, t in torque_Nm.items()))


def _slow_torque_Nm(
    magnet_torque_Nm: Mapping[str, Array], train: GearTrain, friction: Friction, sense: int
) -> Array:
    """Return the torque at the crank that turns it at a creep, the way it turns."""
    ratios = train.ratios
    needed = {
        name: math.copysign(friction.each_rotor, sense * ratios[name]) - torque
        for name, torque in magnet_torque_Nm.items()
    }
    torque, _ = train.crank_torque_Nm(needed, sense)
    return np.asarray(sense * torque + friction.crank)


def _iron_pull(
    point: MachineAtSpeed, whole_turns: list[int], count: int
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Return `pull_through_repeat`; of a machine that turns as one at its first angle alone."""
    iron = point.magnetised_iron
    if iron is None:
        return {}, {}
    if not point.iron_energy.order.any():
        return pull_through_repeat(iron, [0] * len(whole_turns), count)
    return pull_through_repeat(iron, whole_turns, count)


def _assemblies(point: MachineAtSpeed) -> tuple[RotorAssembly, ...]:
    iron = point.magnetised_iron
    if iron is None:
        return ()
    return tuple(rotor_assembly(iron, rotor.name) for rotor in iron.rotors if rotor.magnets)


def _pair_forces(pair: MagnetPair) -> PairForces:
    forces = pair.forces
    assembly = assembly_pull(forces.first, forces.second, _ASSEMBLY_M) if pair.coaxial else None
    peak = float(np.abs(forces.torque_on_second_Nm).max())
    return PairForces(attraction(forces), assembly, peak, pair.locked, pair.resolution)


def _holds(machine: Machine, speed: Speed, loads: Mapping[str, Array]) -> tuple[RotorHold, ...]:
    return tuple(
        retention(rotor, rate, machine.adhesive, loads[rotor.name])
        for rotor, rate in zip(machine.placed_rotors, speed.rotors_rad_per_s, strict=True)
    )
