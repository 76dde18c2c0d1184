"""Toothed wheels, and what makes a set of them impossible."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fieldsim.errors import ImpossibleError

__all__ = [
    "CRANK",
    "DEFAULT_MESH_EFFICIENCY",
    "GearTrainError",
    "Wheel",
    "check_wheel",
    "loop_error",
]

CRANK = "crank"
"""The name that stands for the crank's own axle."""

DEFAULT_MESH_EFFICIENCY = 0.95
"""Of one pair of small, greased, straight-toothed wheels: common practice, no published source.
Well cut metal wheels reach about 0.98; printed ones run from 0.85 to 0.95."""


class GearTrainError(ImpossibleError):
    """A gear train that cannot exist.

    Parameters
    ----------
    path
        Keys below the file's ``gears`` (or ``rotors``) that lead to the wrong value.
    problem
        What is wrong and what is allowed, in one line.
    """

    def __init__(self, path: tuple[str, ...], problem: str) -> None:
        self.path = path
        self.problem = problem
        super().__init__(f"{'.'.join(path)}: {problem}")


@dataclass(frozen=True)
class Wheel:
    """A toothed wheel.

    Parameters
    ----------
    name
        Key in the file.
    teeth
        A whole number above zero.
    on
        `CRANK` or another wheel, if it sits on the same axle; else None.
    driven_by
        The wheel it meshes with, if it does; else None.
    same_sense
        Whether that mesh keeps the sense of rotation.
    efficiency
        Power passed on over power taken in by that mesh, above 0 to 1.
    rotors
        Names of the rotors fixed to its axle.
    """

    name: str
    teeth: int
    on: str | None = None
    driven_by: str | None = None
    same_sense: bool = False
    efficiency: float = DEFAULT_MESH_EFFICIENCY
    rotors: tuple[str, ...] = ()

    @property
    def parent(self) -> str:
        """The wheel (or `CRANK`) that it hangs on; empty if nothing."""
        return self.on or self.driven_by or ""


def check_wheel(wheel: Wheel, by_name: Mapping[str, Wheel]) -> None:
    """Refuse a wheel that cannot exist among the others.

    Parameters
    ----------
    wheel
        The wheel.
    by_name
        All wheels of the train.

    Raises
    ------
    GearTrainError
        If its teeth, its name, what it hangs on or its efficiency is impossible.

    Examples
    --------
    >>> check_wheel(Wheel("small", 0, on="crank"), {})
    Traceback (most recent call last):
    ...
    fieldsim.machine.gear_wheels.GearTrainError: gears.wheels.small.teeth: 0 teeth; a whole \
number above zero is needed
    """
    where = ("gears", "wheels", wheel.name)
    if wheel.name == CRANK:
        raise GearTrainError(
            where, f'the name "{CRANK}" stands for the crank\'s axle; call the wheel otherwise'
        )
    if isinstance(wheel.teeth, bool) or wheel.teeth != int(wheel.teeth) or wheel.teeth < 1:
        raise GearTrainError(
            (*where, "teeth"), f"{wheel.teeth} teeth; a whole number above zero is needed"
        )
    if (wheel.on is None) == (wheel.driven_by is None):
        both = "both" if wheel.on is not None else "neither"
        raise GearTrainError(
            where, f'has {both} of "on" and "driven_by"; a wheel hangs on exactly one other'
        )
    key = "on" if wheel.on is not None else "driven_by"
    if wheel.driven_by == CRANK:
        raise GearTrainError(
            (*where, key), f"the crank has no teeth; put a wheel `on: {CRANK}` and mesh with that"
        )
    if wheel.parent != CRANK and wheel.parent not in by_name:
        known = ", ".join(n for n in by_name if n != wheel.name) or "none other"
        also = f", or {CRANK}" if key == "on" else ""
        raise GearTrainError(
            (*where, key), f'no wheel is called "{wheel.parent}"; there are: {known}{also}'
        )
    if not 0 < wheel.efficiency <= 1:
        raise GearTrainError(
            (*where, "efficiency"), f"{wheel.efficiency:g} is not above 0 and at most 1"
        )


def loop_error(wheel: Wheel, by_name: Mapping[str, Wheel]) -> GearTrainError:
    """Return the error that names the wheels of the loop which ``wheel`` hangs on."""
    chain = [wheel.name]
    while (parent := by_name[chain[-1]].parent) not in chain:
        chain.append(parent)
    around = [*chain[chain.index(parent) :], parent]
    return GearTrainError(
        ("gears", "wheels", around[0]),
        f"the wheels {' - '.join(around)} hang on each other in a loop; one must lead to the "
        f"{CRANK}",
    )
