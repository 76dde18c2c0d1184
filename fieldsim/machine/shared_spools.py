"""Spools that coils share: how much wire each coil gets, and what is left over in all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fieldsim.errors import ImpossibleError
from fieldsim.machine.coil_wire import SharedSpool
from fieldsim.machine.coils import Coil
from fieldsim.machine.part import replaced
from fieldsim.machine.paths import Path_
from fieldsim.wire.winding_spec import shown

__all__ = ["SpoolUse", "SpoolUseError", "spool_uses", "with_shares"]

_SLACK = 1e-9


class SpoolUseError(ImpossibleError):
    """Coils that cannot share spools as stated; ``path`` leads to the wrong value."""

    def __init__(self, problem: str, *path: str | int) -> None:
        super().__init__(problem)
        self.path: Path_ = path


@dataclass(frozen=True)
class SpoolUse:
    """Spools and the coils that are wound from them.

    Parameters
    ----------
    spools, coils
        Their names.
    supply_m
        Wire on the spools [m].
    used_m
        Wire in the coils [m].
    wire_kg_m
        Mass of the wire, enamel included [kg/m].
    """

    spools: tuple[str, ...]
    coils: tuple[str, ...]
    supply_m: float
    used_m: float
    wire_kg_m: float

    @property
    def leftover_m(self) -> float:
        """Wire left in all [m]."""
        return max(self.supply_m - self.used_m, 0.0)

    @property
    def leftover_kg(self) -> float:
        """Its mass, enamel included [kg]."""
        return self.leftover_m * self.wire_kg_m


def with_shares(coils: Sequence[Coil], spools: Sequence[SharedSpool]) -> tuple[Coil, ...]:
    """Return the coils, each that is wound from shared spools with its share of their wire.

    Coils that state their turns, or fill their section, take what that needs. What is left is
    shared out among the others in equal lengths.

    Raises
    ------
    SpoolUseError
        If a spool is unknown, coils share only some of their spools or differ in their wire, or
        there is too little of it.
    """
    known = {spool.called: spool for spool in spools}
    found = {coil.name: coil for coil in coils}
    for names, sharing in _pools(coils, known):
        supply_m = _supply_m(names, sharing, known)
        decided = [coil for coil in sharing if coil.decides_turns]
        others = [coil for coil in sharing if not coil.decides_turns]
        needed_m = sum(coil.winding.wire_length_m for coil in decided)
        if needed_m > supply_m * (1 + _SLACK) or (others and needed_m >= supply_m):
            which = " and ".join(f'"{coil.name}"' for coil in decided)
            more = ", and others are to be wound from it too" if others else ""
            raise SpoolUseError(
                f"coil{'s' if len(decided) > 1 else ''} {which} need {shown(needed_m)} m, "
                f"{_named(names)} {shown(supply_m)} m{more}",
                "coils", decided[-1].name, "wire", "spools",
            )  # fmt: skip
        for coil in others:
            wound = replaced(coil, share_m=(supply_m - needed_m) / len(others))
            try:
                _ = wound.winding
            except ImpossibleError as error:
                raise SpoolUseError(str(error), "coils", coil.name, "wire") from None
            found[coil.name] = wound
    return tuple(found.values())


def spool_uses(coils: Sequence[Coil], spools: Sequence[SharedSpool]) -> tuple[SpoolUse, ...]:
    """Return what coils take from shared spools, and what that leaves."""
    known = {spool.called: spool for spool in spools}
    return tuple(
        SpoolUse(
            names,
            tuple(coil.name for coil in sharing),
            _supply_m(names, sharing, known),
            sum(coil.winding.wire_length_m for coil in sharing),
            sharing[0].wire.wire.mass_kg_m,
        )
        for names, sharing in _pools(coils, known)
    )


def _pools(
    coils: Iterable[Coil], known: dict[str, SharedSpool]
) -> list[tuple[tuple[str, ...], list[Coil]]]:
    """Return the spools that go together, with the coils wound from them."""
    pools: dict[frozenset[str], tuple[tuple[str, ...], list[Coil]]] = {}
    for coil in coils:
        names = coil.wire.shared
        for i, name in enumerate(names):
            if name not in known:
                there = ", ".join(known) or "none"
                raise SpoolUseError(
                    f'no spool is called "{name}"; there are: {there}',
                    "coils", coil.name, "wire", "spools", i, "use",
                )  # fmt: skip
        if names:
            pools.setdefault(frozenset(names), (names, []))[1].append(coil)
    first_of: dict[str, Coil] = {}
    for names, sharing in pools.values():
        for name in names:
            if name in first_of:
                raise SpoolUseError(
                    f'coils "{first_of[name].name}" and "{sharing[0].name}" share spool "{name}", '
                    "but not all of their spools; give both the same list",
                    "coils", sharing[0].name, "wire", "spools",
                )  # fmt: skip
            first_of[name] = sharing[0]
    return list(pools.values())


def _supply_m(
    names: tuple[str, ...], sharing: Sequence[Coil], known: dict[str, SharedSpool]
) -> float:
    first = sharing[0]
    for coil in sharing[1:]:
        if coil.wire.wire != first.wire.wire:
            raise SpoolUseError(
                f'coils "{first.name}" and "{coil.name}" are wound from the same spool, so they '
                f"need the same wire; they have {first.wire.wire.name} and {coil.wire.wire.name}",
                "coils", coil.name, "wire", "gauge",
            )  # fmt: skip
    return sum(known[name].at_hand().wire_m(first.wire.wire.mass_kg_m) for name in names)


def _named(names: tuple[str, ...]) -> str:
    listed = " and ".join(f'"{name}"' for name in names)
    return f"spool {listed} holds" if len(names) == 1 else f"spools {listed} hold"
