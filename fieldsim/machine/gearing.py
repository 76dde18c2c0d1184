"""Gears as a builder describes them: wheels by their teeth, from the crank to the rotors."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from fieldsim.machine.gear_wheels import CRANK, DEFAULT_MESH_EFFICIENCY, Wheel
from fieldsim.machine.kinds import Choice, Kind, Name, Quantity, problem
from fieldsim.machine.part import Named, Part, part, says

__all__ = ["GearWheel", "Gears"]

_EFFICIENCY = Quantity("fraction", "10 %", "100 %")
_MOST_TEETH = 2000


class Teeth(Kind):
    """A whole number of teeth."""

    least, most = 1, _MOST_TEETH

    def read(self, value: Any, in_file: bool) -> int:
        """Return the number."""
        allowed = f"allowed: a whole number from 1 to {_MOST_TEETH}"
        if not in_file and isinstance(value, str) and value.strip().isdigit():
            value = int(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            shown = f'"{value[:40]}"' if isinstance(value, str) else type(value).__name__
            raise problem(f"{shown} is not a number of teeth; {allowed}")
        if not 1 <= value <= _MOST_TEETH or value != int(value):
            raise problem(f"a wheel cannot have {value} teeth; {allowed}")
        return int(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return f"1 to {_MOST_TEETH}"


class RotorNames(Kind):
    """A rotor or a list of them, by name."""

    _name = Name()

    def read(self, value: Any, in_file: bool) -> tuple[str, ...]:
        """Return the names."""
        names = [value] if isinstance(value, str) else value
        if not isinstance(names, list | tuple):
            raise problem("must be a rotor's name or a list of them, like [upper, lower]")
        return tuple(self._name.read(name, in_file) for name in names)

    def written(self, value: tuple[str, ...]) -> str | list[str]:
        """Return one name, or the list."""
        return value[0] if len(value) == 1 else list(value)

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "a rotor or a list of them"


class _Sense(Choice):
    """Whether a mesh turns the sense of rotation over."""

    def read(self, value: Any, in_file: bool) -> str:
        """Return it."""
        if value not in self.options or not isinstance(value, str):
            raise problem('"sense" is one of: opposite (wheels side by side), same (ring, belt)')
        return value


@part
class GearWheel(Part):
    """A toothed wheel: on the crank or another wheel's axle, or driven by another wheel."""

    identity: ClassVar[str] = "name"
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = (("on", "driven_by"),)

    name: Annotated[str, Name(), says("as other wheels call it")]
    teeth: Annotated[int, Teeth(), says("of this wheel", "1")]
    on: (
        Annotated[
            str,
            Name(),
            says(
                "on the same axle as that",
                default="`on` or `driven_by` is needed",
                values="`crank` or a wheel",
            ),
        ]
        | None
    ) = None
    driven_by: (
        Annotated[
            str,
            Name(),
            says(
                "its teeth mesh with that wheel's",
                default="`on` or `driven_by` is needed",
                values="a wheel",
            ),
        ]
        | None
    ) = None
    sense: (
        Annotated[
            Literal["opposite", "same"],
            _Sense("opposite", "same"),
            says(
                "of a mesh; `same` for a wheel inside a ring and for a toothed belt",
                default="`opposite`",
            ),
        ]
        | None
    ) = None
    efficiency: (
        Annotated[float, _EFFICIENCY, says("of this mesh", "1 %", "`mesh_efficiency`")] | None
    ) = None
    rotors: Annotated[tuple[str, ...], RotorNames(), says("fixed to its axle", default="none")] = ()

    def check_together(self, in_file: bool) -> None:
        """Refuse a wheel that does not hang on one thing."""
        if (self.on is None) == (self.driven_by is None):
            both = "both" if self.on is not None else "neither"
            raise problem(
                f'has {both} of "on" and "driven_by"; a wheel needs one: `on: {CRANK}`, `on: '
                "WHEEL` for the same axle, or `driven_by: WHEEL` for teeth that mesh"
            )
        if self.driven_by is None:
            for key in ("sense", "efficiency"):
                if getattr(self, key) is not None:
                    raise problem(f'"{key}" belongs to a mesh; a wheel with "on" has none')


@part
class Gears(Part):
    """Wheels from the crank to the rotors; empty where each rotor's ratio stands alone.

    Examples
    --------
    >>> big = GearWheel("big", 63, on="crank")
    >>> small = GearWheel("small", 14, driven_by="big", rotors="upper")
    >>> Gears(wheels=(big, small)).wheels[1].rotors
    ('upper',)
    """

    optional: ClassVar[bool] = True
    needed_if_given: ClassVar[tuple[str, ...]] = ("wheels",)

    mesh_efficiency: Annotated[
        float, _EFFICIENCY, says("power passed on by each mesh that says nothing itself", "1 %")
    ] = DEFAULT_MESH_EFFICIENCY
    wheels: Annotated[
        tuple[GearWheel, ...],
        Named("wheel", 1000, least=0),
        says(
            "all toothed wheels",
            default="needed",
            values="names (not `crank`), each with the keys below",
        ),
    ] = ()

    def train_wheels(self) -> tuple[Wheel, ...]:
        """Return the wheels as a train takes them, every default filled in."""
        return tuple(
            Wheel(
                wheel.name,
                wheel.teeth,
                wheel.on,
                wheel.driven_by,
                wheel.sense == "same",
                wheel.efficiency if wheel.efficiency is not None else self.mesh_efficiency,
                wheel.rotors,
            )
            for wheel in self.wheels
        )
