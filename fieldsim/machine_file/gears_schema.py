"""The ``gears`` section of a geometry file.

::

    gears:
      mesh_efficiency: 95 %           # of every mesh that gives none itself
      wheels:
        big:   {teeth: 60, on: crank}
        left:  {teeth: 12, driven_by: big, rotors: upper}
        idler: {teeth: 20, driven_by: big}
        right: {teeth: 12, driven_by: idler, rotors: [lower]}
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from fieldsim.machine.gears import CRANK, DEFAULT_MESH_EFFICIENCY, GearTrain, Wheel
from fieldsim.machine_file.section import Name, Section, problem, quantity_field

__all__ = ["GearsSection", "WheelSection"]

Efficiency = Annotated[float, quantity_field("fraction", "10 %", "100 %")]

_MOST_TEETH = 2000


def _teeth(value: Any) -> int:
    allowed = f"allowed: a whole number from 1 to {_MOST_TEETH}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        shown = f'"{value[:40]}"' if isinstance(value, str) else type(value).__name__
        raise problem(f"{shown} is not a number of teeth; {allowed}")
    if not 1 <= value <= _MOST_TEETH or value != int(value):
        raise problem(f"a wheel cannot have {value} teeth; {allowed}")
    return int(value)


def _names(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def _sense(value: Any) -> Any:
    if value not in ("same", "opposite") or not isinstance(value, str):
        raise problem('"sense" is one of: opposite (wheels side by side), same (ring, belt)')
    return value


class WheelSection(Section):
    """A toothed wheel: on the crank or another wheel's axle, or driven by another wheel."""

    teeth: Annotated[int, BeforeValidator(_teeth)]
    on: Name | None = None
    driven_by: Name | None = None
    sense: Annotated[Literal["opposite", "same"], BeforeValidator(_sense)] | None = None
    efficiency: Efficiency | None = None
    rotors: Annotated[list[Name], BeforeValidator(_names)] = Field(default_factory=list)

    @model_validator(mode="after")
    def _hangs_on_one(self) -> WheelSection:
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
        return self


class GearsSection(Section):
    """Gear wheels from the crank to the rotors."""

    mesh_efficiency: Efficiency = DEFAULT_MESH_EFFICIENCY
    wheels: dict[Name, WheelSection]

    def wheel_list(self) -> list[Wheel]:
        """Return the wheels with every default filled in."""
        return [
            Wheel(
                name,
                wheel.teeth,
                wheel.on,
                wheel.driven_by,
                wheel.sense == "same",
                wheel.efficiency if wheel.efficiency is not None else self.mesh_efficiency,
                tuple(wheel.rotors),
            )
            for name, wheel in self.wheels.items()
        ]

    def train(self, gear_ratios: Mapping[str, Fraction | None]) -> GearTrain:
        """Return the gear train of a machine.

        Parameters
        ----------
        gear_ratios
            Every rotor's own ``gear_ratio``, or None where the file gives none.

        Raises
        ------
        GearTrainError
            If such a train cannot exist; its ``path`` leads to the key.

        Examples
        --------
        >>> section = GearsSection.model_validate({"wheels": {
        ...     "big": {"teeth": 63, "on": "crank"},
        ...     "small": {"teeth": 14, "driven_by": "big", "rotors": "upper"},
        ... }})
        >>> section.train({"upper": None}).ratios["upper"]
        Fraction(-9, 2)
        """
        return GearTrain.from_wheels(self.wheel_list()).completed(gear_ratios)
