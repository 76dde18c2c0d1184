"""What ``search`` prints: the best machines with what differs, or what stands in the way."""

from __future__ import annotations

from collections.abc import Sequence

from fieldsim.studies.search import Search
from fieldsim.studies.wish import (
    EFFORT,
    IN_NINE_OF_TEN,
    LIGHT,
    MAGNETS_IN_STOCK,
    SPEED,
    WIRE,
    WIRE_IN_STOCK,
)
from fieldsim.words.layout import PLAIN_WIDTH, Table, laid_out
from fieldsim.words.numbers import in_unit, number, plain_number, rpm_of

__all__ = ["search_text", "want_axis"]

_SHOWN = 10
_MUSTS = {
    "lamps_lit": "that all lamps are lit",
    "lamps_within_ratings": "that lamps stay within their ratings",
    "clearance_at_least": "the least clearance",
    "crank_force_at_most": "the greatest force at the crank",
    "glue_margin_at_least": "the margin of the glue",
    "wire_length_at_most": "the length of wire",
    "size_at_most": "the size",
    IN_NINE_OF_TEN: "that it holds in nine of ten machines built",
    WIRE_IN_STOCK: "the wire in stock",
    MAGNETS_IN_STOCK: "the count of magnets in stock",
}
_HEADINGS = {
    LIGHT: "useful mW",
    SPEED: "crank rpm",
    WIRE: "wire m",
    EFFORT: "crank mN m",
}
_AXES = {
    LIGHT: "useful power (mW)",
    SPEED: "crank speed (rpm)",
    WIRE: "wire (m)",
    EFFORT: "average crank torque (mN m)",
}


def want_axis(want: str) -> str:
    """Return what a want is measured by, and its unit, as an axis has it."""
    return _AXES[want]


def search_text(search: Search, width: int = PLAIN_WIDTH) -> str:
    """Return the best ten, with the values that were changed."""
    wish, fulfil = search.wish, int(search.fulfils.sum())
    wants = " and ".join(wish.wants)
    shown = [i for i in search.order if search.can_be[i]][:_SHOWN]
    if search.best is None:
        told = [f"None of {_count(search)} fulfils the wish.", *_in_the_way(search)]
        about = ["", "Those that miss least:", ""] if shown else []
    else:
        fulfilled = "fulfils" if fulfil == 1 else "fulfil"
        told = [f"{fulfil} of {_count(search)} {fulfilled} the wish."]
        shown = [i for i in shown if search.fulfils[i]]
        about = ["", f"The best by {wants}:", ""]
        if len(wish.wants) > 1:
            shown = list(_spread(search.unbeaten))
            some = _some(shown, search.unbeaten)
            about[1] = f"No other beats {some} in both {wants}:"
    values = [search.values(i) for i in shown]
    paths = [each.path for each in wish.varying]
    same = {path for path in paths if len({each[path] for each in values}) == 1}
    differing = [path for path in paths if path not in same] if len(shown) > 1 else paths
    table = Table(
        ["", *differing, *(_HEADINGS[want] for want in wish.wants)],
        [
            [str(place), *(own[path] for path in differing), *_wanted(search, i)]
            for place, (i, own) in enumerate(zip(shown, values, strict=True), 1)
        ],
        left=1 + len(differing),
        names=1,
    )
    alike = [f"{path} = {values[0][path]}" for path in paths if path in same]
    blocks: list[str | Table] = [wish.machine.title, "", *told, *about]
    if shown:
        blocks.append(table)
    if alike and len(shown) > 1:
        blocks += ["", f"All of these have {', '.join(alike)}."]
    if search.best is not None and IN_NINE_OF_TEN in (must.name for must in wish.musts):
        blocks += ["", "What must hold does in nine of ten machines built like each of these."]
    return laid_out(blocks, width)


def _count(search: Search) -> str:
    if search.has_all:
        return f"all {search.wish.machines:,} machines that there are"
    return f"{len(search):,} machines tried"


def _some(shown: Sequence[int], of: Sequence[int]) -> str:
    if len(shown) == 1:
        return "this one"
    return "these" if len(shown) == len(of) else f"{len(of)} machines ({len(shown)} here)"


def _spread(front: Sequence[int]) -> Sequence[int]:
    """Return ten of a long trade-off, from one end to the other."""
    if len(front) <= _SHOWN:
        return front
    return [front[i * (len(front) - 1) // (_SHOWN - 1)] for i in range(_SHOWN)]


def _in_the_way(search: Search) -> list[str]:
    if not search.can_be.any():
        return [f"None of them can be; the first: {search.figures.problems[0]}"]
    name = search.hardest_must
    if search.freed[name]:
        free = search.freed[name]
        return [
            f"Most in the way stands {_MUSTS[name]}: without it {free:,} would fulfil the wish."
        ]
    return [f"Most machines miss {_MUSTS[name]}, but no must left out by itself lets any through."]


def _wanted(search: Search, i: int) -> list[str]:
    found = []
    for want, value in zip(search.wish.wants, search.figures.wanted[i], strict=True):
        if want == LIGHT:
            found.append(in_unit(float(value), "mW"))
        elif want == SPEED:
            found.append(plain_number(rpm_of(-float(value)), 4))
        elif want == EFFORT:
            found.append(number(-1e3 * float(value)))
        else:
            found.append(number(-float(value), 4))
    return found
