"""The search for the machine that fulfils a wish best.

Points of a scrambled Sobol sequence cover what may vary evenly; rounds about the best so far
follow, with normal steps from wide to narrow. Both come from `scipy.stats.qmc`. Every
round is drawn from the seed and the rounds before it alone, so that the same seed gives the same
answer whoever works.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import FieldsimError, ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.operation.many_points import OperatingPoints, Variants, operating_points
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.pieces import in_order
from fieldsim.studies.vary import CRANK_SPEED
from fieldsim.studies.wish import LIGHT, SPEED, Wish

__all__ = ["Search", "search"]

Array = NDArray[np.float64]

_ROUND = 50
_BEST = 10  # about which a round looks
_STEPS = 0.2 * 0.4 ** np.arange(5)  # shares of the whole range, all in every round
_DRAWS = 5  # in a round: where little may vary, many points are the same machine
_PIECE = 25
_ROUGH = 1e-4  # of linkage and circuit: machines are compared, not measured


@dataclass(frozen=True, eq=False)
class Search:
    """All machines that were tried.

    Parameters
    ----------
    wish
        What it was for.
    changes
        Of each, what `Machine.changed` takes, with ``crank_speed`` where that varies.
    problems
        Why a machine cannot be; empty where it can.
    wanted
        What is wanted, the larger the better, shape (machines, wants): useful power [W], crank
        speed [rad/s], wire [m] and torque of the hand [N m], all but the first with a minus; NaN
        where a machine cannot be.
    misses
        By how much each must is missed, as a share of its limit, shape (machines, musts); 0 where
        it holds, infinite where a machine cannot be.
    """

    wish: Wish
    changes: tuple[Mapping[str, str], ...] = field(repr=False)
    problems: tuple[str, ...] = field(repr=False)
    wanted: Array = field(repr=False)
    misses: Array = field(repr=False)

    def __len__(self) -> int:
        """Return how many were tried."""
        return len(self.changes)

    @cached_property
    def can_be(self) -> NDArray[np.bool_]:
        """Which of the machines can be, (machines,)."""
        return np.asarray(np.isfinite(self.wanted).all(axis=1))

    @cached_property
    def fulfils(self) -> NDArray[np.bool_]:
        """Which can be and miss nothing, (machines,)."""
        return np.asarray(self.can_be & (self.misses == 0).all(axis=1))

    @cached_property
    def order(self) -> tuple[int, ...]:
        """All machines, the best first.

        Those that fulfil the wish come first, by the first want and then the second; then those
        that miss least in all; those that cannot be come last.
        """
        missed = np.where(self.can_be, self.misses.sum(axis=1), np.inf)
        wanted = np.where(self.can_be[:, None], -self.wanted, np.inf)
        # Among those that miss, the want counts only between equals.
        return tuple(np.lexsort((*wanted.T[::-1], missed)).tolist())

    @property
    def best(self) -> int | None:
        """The one that fulfils the wish best; None where none does."""
        return self.order[0] if self.fulfils.any() else None

    @cached_property
    def unbeaten(self) -> tuple[int, ...]:
        """Those that fulfil the wish and that no other beats in one want and equals in all.

        By the first want, the best first.
        """
        found: list[int] = []
        most = -math.inf
        for i in self.order:
            if not self.fulfils[i]:
                break
            # In this order only the last want can still be better; with one want only the first is.
            if self.wanted[i, -1] > most:
                found.append(i)
                most = float(self.wanted[i, -1])
        return tuple(found)

    @cached_property
    def freed(self) -> dict[str, int]:
        """How many machines each must, left out by itself, would let through beside the others."""
        holds = self.misses == 0
        others = [np.delete(holds, k, axis=1).all(axis=1) for k in range(holds.shape[1])]
        return {
            must.name: int((self.can_be & other & ~holds[:, k]).sum())
            for k, (must, other) in enumerate(zip(self.wish.musts, others, strict=True))
        }

    @property
    def hardest_must(self) -> str:
        """The must that stands most in the way; of equals the one that most machines miss.

        Empty where none of the machines that can be misses any.
        """
        missed = ((self.misses > 0) & self.can_be[:, None]).sum(axis=0)
        ranks = [
            (self.freed[must.name], int(count), must.name)
            for must, count in zip(self.wish.musts, missed, strict=True)
        ]
        freed, count, name = max(ranks, key=lambda rank: rank[:2], default=(0, 0, ""))
        return name if freed or count else ""

    def machine(self, i: int) -> Machine:
        """Return one of the machines that were tried."""
        own = {path: text for path, text in self.changes[i].items() if path != CRANK_SPEED}
        return self.wish.machine.changed(own) if own else self.wish.machine


def search(
    wish: Wish,
    *,
    executor: Executor | None = None,
    progress: Callable[[Search], None] | None = None,
    known: Search | None = None,
) -> Search:
    """Look for the machines that fulfil a wish best.

    Parameters
    ----------
    wish
        As `fieldsim.studies.wish.read_wish` gives it.
    executor
        Who works, as for `operating_points`; the answer is the same whoever does.
    progress
        Called with what was tried so far, after each piece.
    known
        What an earlier search of the same wish had tried when it was stopped.

    Raises
    ------
    ImpossibleError
        If what may vary gives machines with other coils or other groups of lamps, or what is known
        is of another wish.

    Notes
    -----
    Where there are no more machines than tries, all are tried. Otherwise half the tries cover what
    may vary evenly, and the others look about the best.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from fieldsim.studies.wish import read_wish
    >>> wish = replace(read_wish("geometries/wishes/six_lamps.yaml"), tries=8)
    >>> found = search(wish)
    >>> len(found), found.best in found.unbeaten
    (8, True)
    """
    if known is not None and known.wish != wish:
        raise ImpossibleError("what was tried before was for another wish")
    tried = Search(wish, (), (), np.empty((0, len(wish.wants))), np.empty((0, len(wish.musts))))
    shares: dict[_Values, Array] = {}
    number = 0
    while new := _next_round(tried, shares, number):
        shares |= new
        for so_far in _with(tried, list(new), known, executor):
            tried = so_far
            if progress is not None:
                progress(tried)
        number += 1
    return tried


_Values = tuple[str, ...]


def _next_round(
    tried: Search, shares: Mapping[_Values, Array], number: int
) -> dict[_Values, Array]:
    """Return what to try next: values, and where they stand in what may vary; empty at the end."""
    wish = tried.wish
    if number == 0:
        first = _all_there_are(wish)
        return {_values(wish, each): each for each in (_covering(wish) if first is None else first)}
    new: dict[_Values, Array] = {}
    most = min(_ROUND, wish.tries - len(tried))
    for draw in range(_DRAWS if most else 0):
        for share in _about_the_best(tried, list(shares.values()), number, draw):
            values = _values(wish, share)
            if values not in shares and len(new) < most:
                new.setdefault(values, share)
    return new


def _all_there_are(wish: Wish) -> Array | None:
    """Return every machine, (machines, paths), or None where there are more than tries."""
    counts = [each.count or math.inf for each in wish.varying]
    if math.prod(counts) > wish.tries:
        return None
    grid = np.stack(np.meshgrid(*map(np.arange, counts), indexing="ij"), -1)
    return np.asarray((grid.reshape(-1, len(counts)) + 0.5) / counts)


def _values(wish: Wish, share: Array) -> _Values:
    return tuple(each.at(float(part)) for each, part in zip(wish.varying, share, strict=True))


def _covering(wish: Wish) -> Array:
    """Return half the tries as shares of what may vary, (points, paths)."""
    from scipy.stats import qmc

    count = (wish.tries + 1) // 2
    sobol = qmc.Sobol(len(wish.varying), seed=wish.seed)
    return np.asarray(sobol.random_base2(max(1, math.ceil(math.log2(count))))[:count])


def _about_the_best(tried: Search, shares: Sequence[Array], number: int, draw: int) -> Array:
    """Return points near the best so far, (round, paths)."""
    from scipy.stats import qmc

    wish = tried.wish
    front = tried.unbeaten if len(wish.wants) > 1 else ()
    # Of a long front, some spread evenly; of a short one, what comes next as well.
    spread = [front[i] for i in np.linspace(0, len(front) - 1, min(_BEST, len(front))).astype(int)]
    best = list(dict.fromkeys([*spread, *tried.order]))[:_BEST]
    dimension = len(wish.varying)
    # Values of a list and whole numbers do not come closer than the next.
    least = [0.0 if each.count is None else 0.7 / each.count for each in wish.varying]
    steps = np.maximum(_STEPS[np.arange(_ROUND) % len(_STEPS), None], least)
    normal = qmc.MultivariateNormalQMC(
        np.zeros(dimension), seed=wish.seed + number * _DRAWS + draw
    ).random(64)[:_ROUND]
    base = np.array([shares[best[i // len(_STEPS) % len(best)]] for i in range(_ROUND)])
    moved = base + steps * normal
    return np.asarray(np.clip(moved, 0.0, 1.0))


def _with(
    tried: Search, values: Sequence[_Values], known: Search | None, executor: Executor | None
) -> Iterator[Search]:
    """Yield what was tried together with some more, and more, piece by piece."""
    wish = tried.wish
    paths = [each.path for each in wish.varying]
    changes = [dict(zip(paths, each, strict=True)) for each in values]
    rest = changes
    if known is not None and len(known) > len(tried):
        # What another search of this wish has looked at need not be looked at again.
        end = min(len(known), len(tried) + len(changes))
        old = slice(len(tried), end)
        rest = changes[end - len(tried) :]
        tried = _joined(
            tried,
            (known.changes[old], known.problems[old], known.wanted[old], known.misses[old]),
        )
        yield tried
    pieces = [_Piece(wish, tuple(rest[i : i + _PIECE])) for i in range(0, len(rest), _PIECE)]
    for found in in_order(_looked_at, pieces, executor):
        tried = _joined(tried, found)
        yield tried


_Found = tuple[tuple[Mapping[str, str], ...], tuple[str, ...], Array, Array]


def _joined(tried: Search, found: _Found) -> Search:
    changes, problems, wanted, misses = found
    return Search(
        tried.wish,
        (*tried.changes, *changes),
        (*tried.problems, *problems),
        np.concatenate([tried.wanted, wanted]),
        np.concatenate([tried.misses, misses]),
    )


@dataclass(frozen=True, eq=False)
class _Piece:
    """Some changes to the machine of a wish; small enough to be sent."""

    wish: Wish
    changes: tuple[Mapping[str, str], ...]


def _looked_at(piece: _Piece) -> _Found:
    wish, changes = piece.wish, piece.changes
    own = [{p: t for p, t in each.items() if p != CRANK_SPEED} for each in changes]
    machines = Variants(wish.machine, own)
    speeds: Sequence[Any] = wish.crank_speeds_rad_per_s or [[c[CRANK_SPEED] for c in changes]]
    points = [
        operating_points(machines, speed, tolerance=_ROUGH, circuit_tolerance=_ROUGH)
        for speed in speeds
    ]
    more = _hands_and_wire(wish, machines, points)
    problems = tuple(
        next((text for text in texts if text), "")
        for texts in zip(*(each.problems for each in points), more["problems"], strict=True)
    )
    wanted = np.stack([_wanted(want, points, more) for want in wish.wants], axis=1)
    misses = np.zeros((len(changes), len(wish.musts)))
    for k, must in enumerate(wish.musts):
        misses[:, k] = _missed(must.name, must.limit, points, more)
    bad = np.array([bool(text) for text in problems]) | np.isnan(wanted).any(axis=1)
    wanted[bad] = np.nan
    misses[bad] = np.inf
    return changes, problems, wanted, np.where(np.isnan(misses), np.inf, misses)


def _wanted(want: str, points: Sequence[OperatingPoints], more: Mapping[str, Any]) -> Array:
    if want == LIGHT:
        return np.asarray(np.min([each.useful_power_W for each in points], axis=0))
    if want == SPEED:
        return np.asarray(-np.abs(points[0].speed_rad_per_s))
    return np.asarray(-more["wire_m" if want == "least wire" else "torque_Nm"])


def _missed(
    name: str, limit: float, points: Sequence[OperatingPoints], more: Mapping[str, Any]
) -> Array:
    """Return by which share of its limit a must is missed, at the worst speed, (machines,)."""
    over: list[Array]
    if name == "lamps_lit":
        over = [(1 - p.lamp_current_A / p.visible_current_A).max(axis=1) for p in points]
    elif name == "lamps_within_ratings":
        over = [(p.share_of_rated - 1).max(axis=1) for p in points]
    elif name == "clearance_at_least":
        over = [1 - p.clearance_m / limit for p in points]
        over = [np.where(np.abs(each) < 1e-9, 0.0, each) for each in over]  # rounding
    elif name == "glue_margin_at_least":
        over = [1 - more["glue_margin"] / limit]
    else:
        over = [more["wire_m" if name == "wire_length_at_most" else "force_N"] / limit - 1]
    return np.asarray(np.maximum(np.max(over, axis=0), 0.0))


_FOUND = ("wire_m", "torque_Nm", "force_N", "glue_margin")


def _hands_and_wire(
    wish: Wish, machines: Variants, points: Sequence[OperatingPoints]
) -> dict[str, Any]:
    """Return wire, crank and glue of each machine at its worst speed, as far as they are asked."""
    musts = {must.name for must in wish.musts}
    with_hand = bool(musts & {"crank_force_at_most", "glue_margin_at_least"})
    with_hand |= "least effort" in wish.wants
    rows: list[dict[str, Any]] = []
    for i in range(len(machines)):
        row: dict[str, Any] = dict.fromkeys(_FOUND, math.nan) | {"problems": ""}
        rows.append(row)
        if not all(each.can_be[i] for each in points):
            continue
        try:
            machine = machines[i]
            row["wire_m"] = sum(coil.wire_length_m for coil in machine.coils)
            if with_hand:
                hands = [_hand(machine, float(each.speed_rad_per_s[i])) for each in points]
                row |= {name: max(one[name] for one in hands) for name in ("torque_Nm", "force_N")}
                row["glue_margin"] = min(one["glue_margin"] for one in hands)
        except FieldsimError as error:
            row["problems"] = error.in_one_line
    found: dict[str, Any] = {name: np.array([row[name] for row in rows]) for name in _FOUND}
    return found | {"problems": [row["problems"] for row in rows]}


def _hand(machine: Machine, speed_rad_per_s: float) -> dict[str, float]:
    """Return what the hand gives on average and at most, and how far the glue is from failing."""
    found = OperatingPoint(
        machine,
        crank_speed_rad_per_s=speed_rad_per_s,
        tolerance=_ROUGH,
        circuit_tolerance=_ROUGH,
    ).effort
    sense = math.copysign(1.0, speed_rad_per_s)
    most = max(found.crank.peak_torque_Nm, found.slow_peak_torque_Nm)
    loads = [magnet.glue_load for hold in found.holds for magnet in hold.magnets]
    worst = max(loads, default=0.0)
    return {
        "torque_Nm": abs(sense * found.crank.average_torque_Nm),
        "force_N": most / machine.crank.arm if machine.crank else math.nan,
        "glue_margin": 1 / worst if worst > 0 else math.inf if worst == 0 else math.nan,
    }
