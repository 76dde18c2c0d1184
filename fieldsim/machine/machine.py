"""The described machine: all that is known of a generator, each fact once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import field
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic_core import PydanticCustomError

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import SharedSpool
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import (
    BadConnectionError,
    Connection,
    Connections,
    make_connections,
)
from fieldsim.machine.gear_wheels import GearTrainError
from fieldsim.machine.gearing import Gears
from fieldsim.machine.gears import GearTrain
from fieldsim.machine.iron import IronPiece
from fieldsim.machine.kinds import Quantity, Title, problem
from fieldsim.machine.load.load import Load
from fieldsim.machine.magnets import Magnet
from fieldsim.machine.mechanics import Adhesive, Crank, Friction
from fieldsim.machine.part import Named, Part, checked_beside, part, replaced, says
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedRotor
from fieldsim.machine.rotors import Rotor
from fieldsim.machine.shared_spools import SpoolUse, SpoolUseError, spool_uses, with_shares
from fieldsim.machine.uncertain import GiveOrTake, GiveOrTakes

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fieldsim.wire.winding import Winding

__all__ = ["ROOM_TEMPERATURE_K", "Machine"]

ROOM_TEMPERATURE_K = 293.15

_TEMPERATURE = Quantity("temperature", "-50 degC", "200 degC")

_BY_NAME = "names, each with the keys below; 1 to 100"


# Machines that differ in other things, as most neighbours do, share both.
@lru_cache(maxsize=64)
def _train(gears: Gears, stated: tuple[tuple[str, Fraction | None], ...]) -> GearTrain:
    if not gears:
        return GearTrain.from_ratios({name: ratio or Fraction(1) for name, ratio in stated})
    return GearTrain.from_wheels(gears.train_wheels()).completed(dict(stated))


@lru_cache(maxsize=64)
def _wiring(stated: tuple[Connection, ...], coils: tuple[str, ...]) -> Connections:
    return make_connections(stated, coils)


@part
class Machine(Part):
    """A hand-cranked generator in free space, as a builder describes it; immutable.

    Parts that run into each other make a machine that can be read, written, changed and drawn, but
    not one that can be computed. `placed_rotors` and `placed_coils` are its parts as they stand in
    space.
    """

    title: Annotated[str, Title(), says("heads every result", default="name of the file")]
    magnets: Annotated[
        tuple[Magnet, ...],
        Named("kind of magnet"),
        says("kinds of magnet", values=_BY_NAME),
    ]
    rotors: Annotated[tuple[Rotor, ...], Named("rotor"), says("what turns", values=_BY_NAME)]
    coils: Annotated[tuple[Coil, ...], Named("coil"), says("what stands still", values=_BY_NAME)]
    iron: Annotated[
        tuple[IronPiece, ...],
        Named("piece of iron", least=0),
        says(
            "pieces of iron beside the coils' own cores",
            default="none",
            values="names, each with the keys below",
        ),
    ] = ()
    connections: Annotated[
        tuple[Connection, ...],
        Named("connection", least=0),
        says(
            "coils joined to each other",
            default="none",
            values="names, each with the keys below",
        ),
    ] = ()
    load: Annotated[
        Load,
        says("what hangs on the coils", default="nothing connected", values="keys below"),
    ] = Load()
    gears: Annotated[
        Gears,
        says("wheels by tooth counts", default="each rotor's `gear_ratio`", values="keys below"),
    ] = Gears()
    crank: Annotated[Crank, says("for `effort`", default="none", values="keys below")] = Crank()
    friction: Annotated[Friction, says("for `effort`", default="none", values="keys below")] = (
        Friction()
    )
    adhesive: Annotated[Adhesive, says("for `effort`", default="none", values="keys below")] = (
        Adhesive()
    )
    temperature: Annotated[
        float,
        _TEMPERATURE,
        says("of the surroundings; current makes the wire warmer", "5 K", "20 degC"),
    ] = ROOM_TEMPERATURE_K
    wire_temperature: (
        Annotated[
            float,
            _TEMPERATURE,
            says(
                "of all wire, whatever current it carries",
                "5 K",
                "what lasting current makes of `temperature`",
            ),
        ]
        | None
    ) = None
    uncertain: Annotated[
        tuple[GiveOrTake, ...],
        GiveOrTakes(),
        says(
            "give or take, by path, for the ranges of results",
            default='common practice, see "How sure that is"',
        ),
    ] = ()
    file: str = field(default="", compare=False, repr=False)
    spools: Annotated[
        tuple[SharedSpool, ...],
        Named("spool", least=0, by="called"),
        says(
            "wire that coils share",
            default="none",
            values="names, each with the keys below",
        ),
    ] = ()

    def check_together(self, in_file: bool) -> None:
        """Refuse parts that do not know each other; keep ratios and shares where they belong."""
        wrong = [
            *self._unknown_magnets(),
            *self._bad_iron(),
            *self._bad_train(),
            *self._bad_wiring(),
        ]
        coils = self.coils
        try:
            coils = with_shares(coils, self.spools)
        except SpoolUseError as error:
            wrong.append(problem(str(error), *error.path))
        checked_beside(wrong, lambda: None)
        # Each ratio is kept once: by the wheels that make it, or by the rotor.
        ratios = self.train.ratios
        own = {name: None if name in self._geared else ratio for name, ratio in ratios.items()}
        if any(rotor.gear_ratio != own[rotor.name] for rotor in self.rotors):
            rotors = tuple(replaced(r, gear_ratio=own[r.name]) for r in self.rotors)
            object.__setattr__(self, "rotors", rotors)
        if any(old.share_m != new.share_m for old, new in zip(self.coils, coils, strict=True)):
            object.__setattr__(self, "coils", coils)
        checked_beside([*self._bad_amounts()], lambda: None)

    def _bad_amounts(self) -> Iterator[PydanticCustomError]:
        """Find amounts for paths that the machine has not, or of another unit."""
        if not self.uncertain:
            return
        from fieldsim.machine.uncertain_values import uncertain_value

        for each in self.uncertain:
            try:
                crank = each.path == "crank_speed"  # which is no part of the machine
                each.amount(*(1.0, "rad/s") if crank else uncertain_value(self, each.path))
            except (ValueError, ImpossibleError) as error:
                text = str(error).removeprefix(f"{each.path}: ")
                yield problem(text, "uncertain", each.path)

    def _unknown_magnets(self) -> Iterator[PydanticCustomError]:
        kinds = [magnet.name for magnet in self.magnets]
        for rotor in self.rotors:
            for place, mount in enumerate(rotor.magnets):
                if mount.magnet not in kinds:
                    yield problem(
                        f'no magnet is called "{mount.magnet}"; there are: {", ".join(kinds)}',
                        "rotors", rotor.name, "magnets", place, "magnet",
                    )  # fmt: skip

    def _bad_iron(self) -> Iterator[PydanticCustomError]:
        shafts = {rotor.name: rotor.shaft for rotor in self.rotors}
        for piece in self.iron:
            if piece.on is None:
                continue
            if piece.on not in shafts:
                yield problem(
                    f'no rotor is called "{piece.on}"; there are: {", ".join(shafts)}',
                    "iron", piece.name, "on",
                )  # fmt: skip
                continue
            try:
                piece.check_round_about(shafts[piece.on])
            except PydanticCustomError as error:
                path = (error.context or {}).get("path", ())
                yield problem(error.message(), "iron", piece.name, *path)

    def _bad_train(self) -> Iterator[PydanticCustomError]:
        try:
            _ = self.train
        except GearTrainError as error:
            yield problem(error.problem, *error.path)

    def _bad_wiring(self) -> Iterator[PydanticCustomError]:
        across = self.load.across
        known = [*(coil.name for coil in self.coils), *(c.name for c in self.connections)]
        if self.load and across not in known:
            yield problem(
                f'no coil or connection is called "{across}"; there are: {", ".join(known)}',
                "load", "across",
            )  # fmt: skip
        try:
            outermost = self.wiring.outermost
        except BadConnectionError as error:
            yield problem(str(error), "connections", *error.path)
            return
        if self.load and across in known and across not in outermost:
            yield problem(
                f'"{across}" is part of a connection; allowed: {", ".join(outermost)}',
                "load", "across",
            )  # fmt: skip

    @property
    def _geared(self) -> frozenset[str]:
        """Names of the rotors that wheels turn."""
        return frozenset(name for wheel in self.gears.wheels for name in wheel.rotors)

    @cached_property
    def train(self) -> GearTrain:
        """Gears from the crank to every rotor."""
        return _train(self.gears, tuple((rotor.name, rotor.gear_ratio) for rotor in self.rotors))

    @cached_property
    def wiring(self) -> Connections:
        """How its coils are joined."""
        return _wiring(self.connections, tuple(coil.name for coil in self.coils))

    @cached_property
    def placed_rotors(self) -> tuple[PlacedRotor, ...]:
        """The rotors as they stand in space, in order."""
        magnets = {magnet.name: magnet for magnet in self.magnets}
        ratios = self.train.ratios
        return tuple(rotor.placed(magnets, ratios[rotor.name]) for rotor in self.rotors)

    def placed_rotor(self, name: str) -> PlacedRotor:
        """Return the rotor of that name as it stands in space.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {rotor.name: rotor for rotor in self.placed_rotors}[name]

    @property
    def placed_coils(self) -> tuple[PlacedCoil, ...]:
        """The coils as they stand in space, in order."""
        return tuple(coil.placed for coil in self.coils)

    @cached_property
    def placed_iron(self) -> tuple[PlacedIron, ...]:
        """All iron as it stands in space: the cores, then the other pieces, each in order."""
        shafts = {rotor.name: rotor.shaft for rotor in self.rotors}
        cores = tuple(coil.core.placed(coil.placed) for coil in self.coils if coil.core)
        return cores + tuple(p.placed(shafts[p.on] if p.on else None) for p in self.iron)

    @property
    def windings(self) -> Mapping[str, Winding]:
        """The worked-out winding of every coil whose wire is known, by coil."""
        return {coil.name: coil.winding for coil in self.coils if coil.wire}

    @property
    def spool_uses(self) -> tuple[SpoolUse, ...]:
        """What coils take from the spools that they share, and what is left over."""
        return spool_uses(self.coils, self.spools)

    @property
    def idle_wire_K(self) -> float:
        """Temperature of wire that carries no current [K]."""
        return self.temperature if self.wire_temperature is None else self.wire_temperature

    def rotor(self, name: str) -> Rotor:
        """Return the rotor of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {rotor.name: rotor for rotor in self.rotors}[name]

    def coil(self, name: str) -> Coil:
        """Return the coil of that name.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {coil.name: coil for coil in self.coils}[name]

    def changed(self, changes: Mapping[str, Any]) -> Machine:
        """Return the machine with other values at some paths; see `fieldsim.parameters`.

        Parameters
        ----------
        changes
            By path, text as in a file, or a number in SI units; ``None`` or ``"none"`` removes what
            may be left out.

        Raises
        ------
        ImpossibleError
            If there is no such path, a value is not allowed, or no such machine can be.
        """
        from fieldsim.machine.parameters import changed

        return changed(self, changes)

    def _repr_html_(self) -> str:
        """Return its parameters as a table, for notebooks."""
        from fieldsim.machine.summary import machine_html

        return machine_html(self)

    def to_magpylib(self, crank_angle_rad: float = 0.0) -> Any:
        """Return the machine as a magpylib collection of magnets and current loops.

        Parameters
        ----------
        crank_angle_rad
            Where the crank stands [rad].
        """
        from fieldsim.machine.magpylib_collection import magpylib_collection

        return magpylib_collection(self, crank_angle_rad)
