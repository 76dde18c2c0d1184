"""How far to trust a result: first what the inputs allow, then what the computation adds.

Where a screen has no ranges of machines built like the one, these sentences stand for them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import parameter
from fieldsim.machine.uncertain import DEFAULTS, GiveOrTake
from fieldsim.studies.gap import GapStudy
from fieldsim.words.numbers import SOLVED, plain_number, share

__all__ = ["computed_words", "gap_precision", "linear_precision", "square_precision"]

_LEAD = "How far to trust this: "


def linear_precision(
    machine: Machine, errors: Iterable[float], what: str = "voltage", *, gap: bool = True
) -> str:
    """Return how good a quantity is that is proportional to remanence.

    Parameters
    ----------
    machine
        What is known of it stands in its ``uncertain`` section.
    errors
        Relative, of the computation.
    what
        The quantity.
    gap
        Whether a gap study tells more.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/one_rotor.yaml")
    >>> print(linear_precision(machine, [3.4e-7], "linkage", gap=False))
    How far to trust this: linkage follows the remanence of the magnets, known within 5 %, and is \
no better than that; a clearance off by 0.5 mm comes on top. The computation itself is good to \
0.00003 %.
    """
    hint = " (fieldsim gap shows how much)" if gap else ""
    return (
        f"{_LEAD}{what} follows the remanence of the magnets, known within "
        f"{share(_remanence_share(machine))}, and is no better than that; a clearance off by "
        f"{_mm(_clearance_m(machine))} mm comes on top{hint}. {computed_words(errors)}"
    ).rstrip()


def gap_precision(study: GapStudy, machine: Machine) -> str:
    """Return how good a gap study is, with what the clearance does in it."""
    off_m = _clearance_m(machine)
    shifts = [
        abs(1 - (1 + percent / 100) ** (off_m / 1e-4))
        for row in study.rows
        for name, percent in row.percent_per_tenth_mm.items()
        if row.told[name].rms_V > SOLVED * max(f.rms_V for f in row.figures.values())
    ]
    if not shifts:
        return linear_precision(machine, [study.relative_error], gap=False)
    low, high = share(min(shifts), 1), share(max(shifts), 1)
    by = low if low == high else f"{low.removesuffix(' %')} to {high}"
    return (
        f"{_LEAD}a clearance off by {_mm(off_m)} mm changes these voltages by {by}, and they "
        f"follow the remanence of the magnets, known within {share(_remanence_share(machine))}. "
        f"{computed_words([study.relative_error])}"
    ).rstrip()


def square_precision(machine: Machine) -> str:
    """Return how good the forces and torques of magnets on each other are."""
    known = _remanence_share(machine)
    return (
        f"{_LEAD}what magnets do to each other grows with the square of their remanence: "
        f"{share(known)} there is {share((1 + known) ** 2 - 1, 1)} here, and the clearance comes "
        "on top."
    )


def computed_words(errors: Iterable[float]) -> str:
    """Return how good the computation itself is, in a sentence; nothing where that is not known.

    Parameters
    ----------
    errors
        Relative; NaN is not known.

    Examples
    --------
    >>> computed_words([4e-7, 1.6e-5]), computed_words([0.0]), computed_words([float("nan")])
    ('The computation itself is good to 0.002 %.', '', '')
    """
    largest = max((e for e in errors if not math.isnan(e)), default=0.0)
    if largest == 0.0:
        return ""
    return f"The computation itself is good to {plain_number(100 * largest, 1)} %."


def _remanence_share(machine: Machine) -> float:
    """Return how far remanence may be off, over itself: of the magnets that are known worst."""
    stated = {each.path: each for each in machine.uncertain}
    usual = GiveOrTake("remanence", DEFAULTS["remanence"])
    return max(
        stated.get(f"magnets.{each.name}.remanence", usual).amount(each.remanence, "T")
        / each.remanence
        for each in machine.magnets
    )


def _clearance_m(machine: Machine) -> float:
    """Return how far the clearance may be off [m]."""
    stated = next((each for each in machine.uncertain if each.path == "clearance"), None)
    if stated is None:
        return GiveOrTake("clearance", DEFAULTS["clearance"]).amount(0.0, "m")
    value = parameter(machine, "clearance").value if stated.text.endswith("%") else 0.0
    return stated.amount(float(value), "m")


def _mm(length_m: float) -> str:
    return plain_number(length_m * 1e3)
