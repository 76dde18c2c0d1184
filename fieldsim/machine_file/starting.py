"""Files to begin with: small machines with comments, and the shipped ones.

A starting machine is put together from parts of the shipped machines, so that each fact stands in
one place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources
from pathlib import Path

from fieldsim.errors import ImpossibleError
from fieldsim.machine.gearing import Gears, GearWheel
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import replaced
from fieldsim.machine_file.comments import comment
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import explained_text

__all__ = [
    "StartingKind",
    "shipped_file",
    "starting_kinds",
    "starting_machine",
    "starting_text",
    "starting_wishes",
]

_PINION_TEETH = 12


@dataclass(frozen=True)
class StartingKind:
    """A kind of file to begin with.

    Parameters
    ----------
    name
        What it is asked for by.
    about
        What it is, in a few words.
    file
        The shipped file that is copied as it is; None for one that is made, with comments, and
        may have gears and lamps.
    """

    name: str
    about: str
    file: Path | None = None


_HEAD = """\
{about}.
It computes as it stands. Change the values to those of your parts, then ask:
  fieldsim check FILE     is it understood, is there room between parts?
  fieldsim draw FILE --out machine.png
{questions}
A value is text with a unit: 8 mm, 0.25 in, 1/4 in, 15 deg, 20 mA. The point
[0, 0, 0] and the axes x, y, z may be where you like. `fieldsim keys` lists
what a file may hold, `fieldsim keys coils.wire` what one section may."""
_EMF = '  fieldsim emf FILE       the voltage; --crank-speed "90 rpm" sets the speed'
_LIGHT = '  fieldsim light FILE     what lights; --crank-speed "90 rpm" sets the speed'
_EFFORT = "  fieldsim effort FILE    how hard the crank is to turn"
_WIND = "  fieldsim wind FILE      how much wire; --gauges 28..36 compares gauges"

_NOTES = {
    "magnets": "Measure with calipers. The remanence is the grade that the shop names, N35 to N52 "
    "or ferrite; take N35 if you do not know it. A round magnet has shape: disc, diameter and "
    "thickness in place of size. Strong magnets pinch, chip and fly off: more than glue must hold "
    "them.",
    "rotors": "An arm or a wheel with magnets on it. Measure from the middle of the shaft to the "
    "middle of a magnet (radius), and along the shaft (height). The shaft goes through a point, "
    "along a direction. The gap between magnets and wire decides most: `fieldsim check` says how "
    "large it comes out.",
    "coils": "Measure the former that the wire goes on: its outside is the opening of the winding. "
    "build is the height to which you mean to wind; the gauge then decides how many turns fit. If "
    "you have counted them, write turns beside wire, in place of fill.",
    "load": "What hangs on the coil. An LED of a known colour needs no data sheet; from a data "
    "sheet, write forward and at in place of colour.",
    "gears": "Count the teeth. A wheel sits on the crank's axle or another wheel's, or another "
    "wheel's teeth drive it.",
    "crank": "Measure from the axle to the handle.",
    "friction": "Guessed, until you measure: with the magnets off, the weight hung on the handle "
    "that just turns the crank, in newtons, times the arm.",
}


def _single() -> Machine:
    ring = _shipped("lamp_ring")
    machine = replaced(ring, rotors=ring.rotors[:1]).changed({"load.lamps.parallel": 1})
    return _for_a_beginner(machine, "One rotor beside a coil")


def _facing() -> Machine:
    return _for_a_beginner(_shipped("lamp_ring"), "Two facing rotors, one coil between them")


def _inside() -> Machine:
    lit, machine = _single(), _shipped("bar_inside_coil")
    (coil,) = machine.coils
    opening = (coil.opening[0], 0.030)  # a former that can be bought
    coil = replaced(coil, opening=opening, turns=None, wire=lit.coils[0].wire)
    machine = replaced(machine, coils=(coil,), load=replaced(lit.load, across=coil.name))
    return _for_a_beginner(machine, "One magnet turning inside a coil")


def _for_a_beginner(machine: Machine, title: str) -> Machine:
    """Return a machine with what is bought and wound without special care."""
    return replaced(machine, title=title, file="").changed(
        {
            **{f"magnets.{magnet.name}.remanence": "N35" for magnet in machine.magnets},
            **{f"magnets.{magnet.name}.recoil_permeability": 1.05 for magnet in machine.magnets},
            **{f"coils.{coil.name}.wire.packing": "random" for coil in machine.coils},
        }
    )


_MADE: dict[str, tuple[str, Callable[[], Machine]]] = {
    "single": ("one rotor beside a coil", _single),
    "facing": ("two rotors that face each other, a coil between them", _facing),
    "inside": ("one magnet that turns inside a coil", _inside),
}


def starting_kinds() -> Mapping[str, StartingKind]:
    """Return what there is to begin with, by name.

    Examples
    --------
    >>> list(starting_kinds())[:4], starting_kinds()["lamp_ring"].about
    (['single', 'facing', 'inside', 'bar_inside_coil'], 'Two facing rotors light a ring of lamps')
    """
    made = [StartingKind(name, about) for name, (about, _) in _MADE.items()]
    copied = [
        StartingKind(path.stem, _shipped(path.stem).title, path)
        for path in sorted(_folder().glob("*.yaml"))
    ]
    return {kind.name: kind for kind in (*made, *copied)}


def starting_wishes() -> Mapping[str, StartingKind]:
    """Return the shipped wishes, by name: what ``search`` takes.

    Examples
    --------
    >>> list(starting_wishes())
    ['six_lamps']
    """
    paths = sorted((_folder() / "wishes").glob("*.yaml"))
    return {path.stem: StartingKind(path.stem, _first_comment(path), path) for path in paths}


def shipped_file(name: str) -> Path | None:
    """Return the file of a shipped machine; None where there is none of that name."""
    return {path.stem: path for path in _folder().glob("*.yaml")}.get(name)


def starting_machine(kind: str, *, gears: bool = False, lamps: bool = False) -> Machine:
    """Return a machine to begin with.

    Parameters
    ----------
    kind
        One of `starting_kinds`.
    gears, lamps
        Whether it has gears with crank and friction, and a rectifier with lamps; not for those
        that are shipped, which have what they have.

    Raises
    ------
    ImpossibleError
        If there is no such kind, it is a wish, or it is shipped and gears or lamps are asked for.

    Examples
    --------
    >>> machine = starting_machine("facing", gears=True)
    >>> [wheel.name for wheel in machine.gears.wheels], bool(machine.load)
    (['hand', 'pinion'], False)
    """
    found = _kind(kind, gears or lamps)
    if kind in starting_wishes():
        raise ImpossibleError(f'"{kind}" is a wish, not a machine')
    if found.file is not None:
        return _shipped(kind)
    machine = _MADE[kind][1]()
    if not lamps:
        machine = replaced(machine, load=type(machine.load)())
    return _geared(machine) if gears else machine


def starting_text(kind: str, *, gears: bool = False, lamps: bool = False) -> str:
    """Return the text of a file to begin with: commented, or as it is shipped.

    Parameters
    ----------
    kind, gears, lamps
        As of `starting_machine`, or one of `starting_wishes`.

    Raises
    ------
    ImpossibleError
        As `starting_machine`, but for wishes.
    """
    found = _kind(kind, gears or lamps)
    if found.file is not None:
        return found.file.read_text(encoding="utf-8")
    questions = [_LIGHT if lamps else _EMF, *([_EFFORT] if gears else []), _WIND]
    about = f"{found.about[0].upper()}{found.about[1:]}"
    head = comment(_HEAD.format(about=about, questions="\n".join(questions)))
    machine = starting_machine(kind, gears=gears, lamps=lamps)
    return "\n".join([*head, explained_text(machine, _NOTES)])


def _kind(name: str, with_more: bool) -> StartingKind:
    kinds = {**starting_kinds(), **starting_wishes()}
    if name not in kinds:
        close = get_close_matches(name, kinds, n=1, cutoff=0.5)
        hint = f'did you mean "{close[0]}"? There' if close else "there"
        raise ImpossibleError(f'no kind "{name[:60]}"; {hint} are: {", ".join(kinds)}')
    if with_more and kinds[name].file is not None:
        raise ImpossibleError(
            f'"{name}" is copied as it is; gears and lamps can be added to: {", ".join(_MADE)}'
        )
    return kinds[name]


def _geared(machine: Machine) -> Machine:
    """Return a machine whose rotors two wheels turn at the ratio that they had, the other way."""
    (ratio,) = {abs(ratio) for ratio in machine.train.ratios.values()}
    names = tuple(rotor.name for rotor in machine.rotors)
    hand = GearWheel("hand", int(ratio * _PINION_TEETH), on="crank")
    pinion = GearWheel("pinion", _PINION_TEETH, driven_by="hand", rotors=names)
    rotors = tuple(replaced(rotor, gear_ratio=None) for rotor in machine.rotors)
    pair = _shipped("geared_pair")
    return replaced(
        machine,
        rotors=rotors,
        gears=Gears(wheels=(hand, pinion)),
        crank=pair.crank,
        friction=pair.friction,
    )


def _first_comment(path: Path) -> str:
    """Return what the first line of a file says of it."""
    first, *_ = path.read_text(encoding="utf-8").splitlines()
    return first.removeprefix("# ").removesuffix(".")


@cache
def _shipped(name: str) -> Machine:
    return read(_folder() / f"{name}.yaml")


def _folder() -> Path:
    """Return where the shipped machines are: in an installed package, or beside it in a clone."""
    package = Path(str(resources.files("fieldsim")))
    installed = package / "geometries"
    return installed if installed.is_dir() else package.parent / "geometries"
