"""How far to trust a result: first what the inputs allow, then what the computation adds."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from fieldsim.machine.assumptions import CLEARANCE, LAMP_VOLTAGE, REMANENCE, Assumption
from fieldsim.operation.spread import LoadRange
from fieldsim.studies.gap import GapStudy
from fieldsim.words.numbers import SOLVED, in_unit, plain_number, quantity, share

__all__ = [
    "computed_words",
    "effort_precision",
    "emf_precision",
    "gap_precision",
    "light_precision",
]

_LEAD = "How far to trust this: "


def emf_precision(relative_error: float, what: str = "voltage", *, gap: bool = True) -> str:
    """Return how good a quantity is that is proportional to remanence.

    Examples
    --------
    >>> print(emf_precision(3.4e-7, "the EMF", gap=False))
    How far to trust this: the EMF follows the remanence of the magnets, usually known within 5 %, \
and is no better than that; a clearance off by 0.5 mm comes on top. The computation itself is good \
to 0.00003 %.
    """
    hint = " (`gap` shows how much)" if gap else ""
    return (
        f"{_LEAD}{what} follows the remanence of the magnets, usually known within "
        f"{_within(REMANENCE)}, and is no better than that; a clearance off by "
        f"{_within(CLEARANCE)} comes on top{hint}.{computed_words([relative_error])}"
    )


def gap_precision(study: GapStudy) -> str:
    """Return how good a gap study is, with what the clearance does in it."""
    tenths = CLEARANCE.within / 1e-4
    shifts = [
        abs(1 - (1 + percent / 100) ** tenths)
        for row in study.rows
        for name, percent in row.percent_per_tenth_mm.items()
        if row.told[name].rms_V > SOLVED * max(f.rms_V for f in row.figures.values())
    ]
    if not shifts:
        return emf_precision(study.relative_error, gap=False)
    low, high = share(min(shifts), 1), share(max(shifts), 1)
    by = low if low == high else f"{low.removesuffix(' %')} to {high}"
    return (
        f"{_LEAD}a clearance off by {_within(CLEARANCE)} changes these voltages by {by}, and they "
        f"follow the remanence of the magnets, usually known within {_within(REMANENCE)}."
        f"{computed_words([study.relative_error])}"
    )


def light_precision(ranges: Sequence[LoadRange], errors: Iterable[float]) -> str:
    """Return how good currents are: their range for the magnets, and what comes on top.

    Parameters
    ----------
    ranges
        Of the lamps, or of the power of a load without lamps; at least one.
    errors
        Relative, of the computation.
    """
    shown: dict[str, list[str]] = {}
    for each in ranges:
        shown.setdefault(_range_words(each), []).append(each.label)
    gives = "give " + ", ".join(
        f"{amount} in each {' and each '.join(dict.fromkeys(labels))}" if labels[0] else amount
        for amount, labels in shown.items()
    )
    if ranges[0].label and not any(in_unit(each.most, "mA").strip("0.") for each in ranges):
        gives = "light the lamps at a speed that is as much higher or lower"
    lamps = f" and lamps that differ by {_within(LAMP_VOLTAGE)}" if ranges[0].label else ""
    comes = "come" if lamps else "comes"
    return (
        f"{_LEAD}magnets up to {_within(REMANENCE)} weaker or stronger than stated, which is "
        f"usual, {gives}; a clearance off by {_within(CLEARANCE)}{lamps} {comes} "
        f"on top.{computed_words(errors)}"
    )


def effort_precision(errors: Iterable[float]) -> str:
    """Return how good forces and torques of magnets are."""
    square = share((1 + REMANENCE.within) ** 2 - 1, 1)
    return (
        f"{_LEAD}what magnets do to each other and to currents grows with the square of their "
        f"remanence, usually known within {_within(REMANENCE)}: that makes {square} here. A "
        f"clearance off by {_within(CLEARANCE)}, and friction, come on top."
        f"{computed_words(errors)}"
    )


def computed_words(errors: Iterable[float]) -> str:
    """Return how good the computation itself is, as a sentence after others.

    Parameters
    ----------
    errors
        Relative; NaN is not known.

    Examples
    --------
    >>> computed_words([4e-7, 1.6e-5]), computed_words([0.0]), computed_words([float("nan")])
    (' The computation itself is good to 0.002 %.', '', '')
    """
    largest = max((e for e in errors if not math.isnan(e)), default=0.0)
    if largest == 0.0:
        return ""
    return f" The computation itself is good to {plain_number(100 * largest, 1)} %."


def _within(known: Assumption) -> str:
    if not known.unit:
        return share(known.within)
    if known.unit == "m":
        return f"{plain_number(known.within * 1e3)} mm"
    return f"{plain_number(known.within)} {known.unit}"


def _range_words(each: LoadRange) -> str:
    if not each.label:
        return f"{quantity(each.least, 'W', 2)} to {quantity(each.most, 'W', 2)}"
    low, high = (in_unit(value, "mA") for value in (each.least, each.most))
    return f"{low} to {high} mA"
