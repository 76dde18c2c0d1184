"""The search for the machine that fulfils a wish best.

Each thing that may vary has so many values, and a machine is one place on that lattice. Where there
are no more places than tries, all are looked at. Otherwise, for each aim:

1. Points of a Latin hypercube cover everything evenly.
2. Differential evolution on whole numbers, both of scipy, goes on from the best of them
   (R. Storn and K. Price, "Differential evolution", J. Global Optim. 11 (1997) 341-359,
   doi:10.1023/A:1008202821328).
3. A search with shrinking steps looks about the best along each axis and along random directions at
   right angles to each other (C. Audet and J. E. Dennis, "Mesh adaptive direct search algorithms
   for constrained optimization", SIAM J. Optim. 17 (2006) 188-217, doi:10.1137/040603371), and
   ends where no neighbour is better.

Evolution and steps begin anew from fresh points, until twice nothing better comes of it. One want
is one aim. Two wants have the first, the second, and the first with so much of the second at least.
What is tried next follows from the seed and from what was tried before alone, so that the same seed
gives the same answer whoever works.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.operation.pieces import in_order
from fieldsim.studies.wish import Wish
from fieldsim.studies.wish_figures import Piece, WishFigures, wish_figures

__all__ = ["Search", "search"]

Array = NDArray[np.float64]
Places = NDArray[np.int64]

_PIECE = 20
_COVERING, _EVOLVING = 0.2, 0.3  # of the tries, each evolution
_VAIN = 2  # beginnings from fresh points that bring nothing better, after which it ends
_BETTER = 1e-4  # of what is wanted: less is not told apart
_EACH_PATH = 4  # members of the evolution for each path
_MEMBERS = (8, 40)  # at least, at most
_BETWEEN = 8  # aims between the two wants
_HEAPS = {1: 4, 2: 1}  # combinations of choices about whose best is looked, by the count of wants
_FIRST_STEP = 8  # of the way
_MOST_OTHERS = 20  # values of a choice that are looked at from one
_MOST_PAIRED = 6  # things that vary, of which two are changed at once
_MISSED = 1e9  # above all that can be wanted


@dataclass(frozen=True, eq=False)
class Search:
    """All machines that were tried.

    Parameters
    ----------
    wish
        What it was for.
    places
        Of each machine, which value of each thing that may vary, counted from 0, (machines, paths).
    figures
        What they come to.
    """

    wish: Wish
    places: Places = field(repr=False)
    figures: WishFigures = field(repr=False)

    def __len__(self) -> int:
        """Return how many were tried."""
        return len(self.places)

    @property
    def has_all(self) -> bool:
        """Whether there are no other machines to choose from."""
        return len(self) == self.wish.machines

    @cached_property
    def can_be(self) -> NDArray[np.bool_]:
        """Which of the machines can be, (machines,)."""
        return np.array([not problem for problem in self.figures.problems], dtype=bool)

    @cached_property
    def fulfils(self) -> NDArray[np.bool_]:
        """Which can be and miss nothing, (machines,)."""
        return np.asarray(self.can_be & (self.figures.excess <= 0).all(axis=1))

    @cached_property
    def missed(self) -> Array:
        """By how much a machine misses all musts together, infinite if it cannot be."""
        return np.where(self.can_be, self.figures.missed.sum(axis=1), np.inf)

    @cached_property
    def nearest(self) -> Array:
        """The excess of the must that is missed most, or nearest to being missed, (machines,)."""
        return np.asarray(self.figures.excess.max(axis=1, initial=-1.0))

    @cached_property
    def order(self) -> tuple[int, ...]:
        """All machines, the best first.

        Those that fulfil the wish come first, by the first want, then the second, then by what they
        have to spare; then those that miss least in all; those that cannot be come last.
        """
        wanted = np.where(self.can_be[:, None], -self.figures.wanted, np.inf)
        # Among those that miss, the want counts only between equals.
        return tuple(np.lexsort((self.nearest, *wanted.T[::-1], self.missed)).tolist())

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
        most = -np.inf
        for i in self.order:
            if not self.fulfils[i]:
                break
            # In this order only the last want can still be better; with one want only the first is.
            if self.figures.wanted[i, -1] > most:
                found.append(i)
                most = float(self.figures.wanted[i, -1])
        return tuple(found)

    @cached_property
    def freed(self) -> dict[str, int]:
        """How many machines each must, left out by itself, would let through beside the others."""
        holds = self.figures.excess <= 0
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
        missed = ((self.figures.excess > 0) & self.can_be[:, None]).sum(axis=0)
        ranks = [
            (self.freed[must.name], int(count), must.name)
            for must, count in zip(self.wish.musts, missed, strict=True)
        ]
        freed, count, name = max(ranks, key=lambda rank: rank[:2], default=(0, 0, ""))
        return name if freed or count else ""

    def values(self, i: int) -> dict[str, str]:
        """Return the values of one of the machines by path, as a screen shows them."""
        return self.wish.texts(self.places[i].tolist())

    def machine(self, i: int) -> Machine:
        """Return one of the machines that were tried."""
        return self.wish.made(self.places[i].tolist())


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
        As `read_wish` gives it.
    executor
        Who works, as for `operating_points`; the answer is the same, to the last bit, whoever does.
    progress
        Called with what was tried so far, after each piece.
    known
        What an earlier search of the same wish had tried when it was stopped.

    Raises
    ------
    ImpossibleError
        If what may vary gives machines with other coils or other groups of lamps, or what is known
        is of another search.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from fieldsim.studies.wish_file import read_wish
    >>> wish = replace(read_wish("geometries/wishes/six_lamps.yaml"), tries=20)
    >>> found = search(wish)
    >>> len(found), found.best in found.unbeaten
    (20, True)
    """
    looking = _Looking(wish, executor, progress, known)
    with suppress(_TriesUsedError):
        if wish.machines <= wish.tries:
            looking.at(np.indices(wish.counts).reshape(len(wish.counts), -1).T)
        else:
            _look_for_the_best(looking)
    return looking.tried


def _look_for_the_best(looking: _Looking) -> None:
    """Look until nothing better comes, or the tries are used up."""
    wish = looking.tried.wish
    looking.at(_covering(wish))
    aims: list[_Aim] = []
    for aim in _aims(looking):
        aims.append(aim)
        best = looking.tried.places[aim.order(looking.tried)[: _members(wish)]]
        _evolve(looking, aim, best, len(aims))
    _look_about(looking, aims[:1])  # what is wanted most is to be exact, whatever else is
    _look_about(looking, aims)
    begun, vain = 0, 0
    while vain < _VAIN:
        before = [aim.costs(looking.tried).min() for aim in aims]
        for aim in aims:
            begun += 1
            _evolve(looking, aim, _spread(wish, _members(wish), begun), len(aims) + begun)
        _look_about(looking, aims)
        now = [aim.costs(looking.tried).min() for aim in aims]
        better = any(n < b - _BETTER * abs(b) for n, b in zip(now, before, strict=True))
        vain = 0 if better else vain + 1


@dataclass(frozen=True)
class _Aim:
    """One want, with so much of the second at least."""

    want: int
    least: float = -np.inf

    def costs(self, tried: Search) -> Array:
        """Return what is to be made small, finite, (machines,)."""
        figures = tried.figures
        missed = tried.missed
        if self.least > -np.inf:
            short = self.least - np.where(tried.can_be, figures.wanted[:, 1], 0.0)
            missed = missed + np.maximum(short, 0.0) / (abs(self.least) or 1.0)
        missed = np.minimum(missed, _MISSED)
        return np.where(missed > 0, _MISSED * (1 + missed), -figures.wanted[:, self.want])

    def order(self, tried: Search) -> Places:
        """Return all machines, the best first.

        Of equals the one with more of the other want, then the one with more to spare, from which
        further ones can be reached.
        """
        other = np.where(tried.can_be, -tried.figures.wanted[:, -1 - self.want], np.inf)
        return np.lexsort((tried.nearest, other, self.costs(tried)))


class _TriesUsedError(Exception):
    """There are no tries left."""


class _Looking:
    """A search on its way: what was tried, and more of it."""

    def __init__(
        self,
        wish: Wish,
        executor: Executor | None,
        progress: Callable[[Search], None] | None,
        known: Search | None,
    ) -> None:
        if known is not None and known.wish != wish:
            raise ImpossibleError("what was tried before was for another wish")
        self._executor, self._progress, self._known = executor, progress, known
        nothing = WishFigures((), np.empty((0, len(wish.wants))), np.empty((0, len(wish.musts))))
        self.tried = Search(wish, np.empty((0, len(wish.counts)), dtype=np.int64), nothing)
        self.row: dict[tuple[int, ...], int] = {}

    @property
    def left(self) -> int:
        """How many tries are left."""
        return self.tried.wish.tries - len(self.tried)

    def at(self, places: Places) -> None:
        """Look at some machines, those that were not tried before.

        Raises
        ------
        _TriesUsedError
            If there are no tries left, for these or after them.
        """
        each = dict.fromkeys(tuple(place) for place in places.tolist())
        new = np.array([place for place in each if place not in self.row][: self.left])
        for start in range(0, len(new), _PIECE * _PIECE):
            self._look(new[start : start + _PIECE * _PIECE])
        if not self.left:
            raise _TriesUsedError

    def _look(self, new: Places) -> None:
        pieces = [new[i : i + _PIECE] for i in range(0, len(new), _PIECE)]
        for piece, figures in zip(pieces, self._found(pieces), strict=True):
            tried = self.tried
            self.row |= {tuple(place): len(tried) + i for i, place in enumerate(piece.tolist())}
            self.tried = Search(
                tried.wish, np.concatenate([tried.places, piece]), tried.figures.and_then(figures)
            )
            if self._progress is not None:
                self._progress(self.tried)

    def _found(self, pieces: Sequence[Places]) -> Iterator[WishFigures]:
        """Yield what pieces come to; what an earlier search has looked at is taken from that."""
        known, wish = self._known, self.tried.wish
        if known is not None:
            start = len(self.tried)
            for k, piece in enumerate(pieces):
                end = start + len(piece)
                if end > len(known):
                    pieces = pieces[k:]
                    break
                if (known.places[start:end] != piece).any():
                    raise ImpossibleError("what was tried before was for another search")
                yield known.figures.some(slice(start, end))
                start = end
            else:
                return
        yield from in_order(wish_figures, [Piece(wish, piece) for piece in pieces], self._executor)


def _covering(wish: Wish) -> Places:
    """Return places evenly over all there are, (machines, paths)."""
    return _spread(wish, max(round(_COVERING * wish.tries), _members(wish)), 0)


def _spread(wish: Wish, count: int, number: int) -> Places:
    """Return places of a Latin hypercube, each time others, (machines, paths)."""
    from scipy.stats import qmc

    shares = qmc.LatinHypercube(
        len(wish.counts), rng=np.random.default_rng([wish.seed, number])
    ).random(count)
    return np.asarray(shares * np.array(wish.counts), dtype=np.int64)


def _members(wish: Wish) -> int:
    return int(np.clip(_EACH_PATH * len(wish.counts), *_MEMBERS))


def _aims(looking: _Looking) -> Iterator[_Aim]:
    """Yield the aims; those between two wants when their ends are known."""
    yield _Aim(0)
    if len(looking.tried.wish.wants) == 1:
        return
    yield _Aim(1)
    tried = looking.tried
    if tried.best is None:
        return
    low, high = (tried.figures.wanted[_Aim(k).order(tried)[0], 1] for k in (0, 1))
    for share in np.linspace(0.0, 1.0, _BETWEEN + 2)[1:-1].tolist():
        yield _Aim(0, low + share * (high - low))


def _evolve(looking: _Looking, aim: _Aim, first: Places, number: int) -> None:
    """Let some machines evolve, until they are alike or their share of the tries is used."""
    from scipy.optimize import differential_evolution

    wish = looking.tried.wish
    aims = 1 if len(wish.wants) == 1 else _BETWEEN + 2
    end = len(looking.tried) + round(_EVOLVING * wish.tries / aims)
    rng = np.random.default_rng([wish.seed, number])

    def costs(places: Array) -> Array:
        asked = np.rint(places.T).astype(np.int64)
        looking.at(asked)
        rows = [looking.row[tuple(place)] for place in asked.tolist()]
        return np.asarray(aim.costs(looking.tried)[rows])

    def enough(*_: Any, **__: Any) -> bool:
        return len(looking.tried) >= end

    differential_evolution(
        costs,
        [(0, count - 1) for count in wish.counts],
        init=first,
        integrality=np.ones(len(wish.counts), dtype=bool),
        vectorized=True,
        updating="deferred",
        polish=False,
        callback=enough,
        maxiter=wish.tries,
        rng=rng,
    )


def _look_about(looking: _Looking, aims: Sequence[_Aim]) -> None:
    """Look about the best of each aim by ever smaller steps, until no neighbour is better."""
    wish = looking.tried.wish
    heaps = _HEAPS[len(wish.wants)]
    halved: dict[tuple[int, ...], int] = {}  # how often, by aim and choices
    ended: dict[tuple[int, ...], int] = {}  # about which machine nothing better lies
    number = 0
    while True:
        number += 1
        bases = {
            (k, *choices): row
            for k, aim in enumerate(aims)
            for choices, row in _best_of_choices(looking.tried, aim, heaps)
            if ended.get((k, *choices)) != row
        }
        if not bases:
            return
        rng = np.random.default_rng([wish.seed, len(aims), number])
        best = {int(aim.order(looking.tried)[0]) for aim in aims}
        looking.at(
            np.concatenate(
                [
                    _about(wish, looking.tried.places[row], halved.get(key, 0), rng, row in best)
                    for key, row in bases.items()
                ]
            )
        )
        now = {
            (k, *choices): row
            for k, aim in enumerate(aims)
            for choices, row in _best_of_choices(looking.tried, aim, None)
        }
        for key, row in bases.items():
            if now[key] != row:
                continue
            if (_steps(wish, halved.get(key, 0)) > 1).any():
                halved[key] = halved.get(key, 0) + 1
            else:
                ended[key] = row


def _best_of_choices(
    tried: Search, aim: _Aim, most: int | None
) -> list[tuple[tuple[int, ...], int]]:
    """Return the best machine of each combination of choices, the best first."""
    choices = [k for k, each in enumerate(tried.wish.varying) if not each.in_order]
    found: dict[tuple[int, ...], int] = {}
    for row in aim.order(tried).tolist():
        found.setdefault(tuple(tried.places[row, choices].tolist()), row)
        if len(found) == most:
            break
    return list(found.items())


def _steps(wish: Wish, halved: int) -> Places:
    counts = np.array([each.count if each.in_order else 1 for each in wish.varying])
    return np.asarray(np.maximum(counts // _FIRST_STEP >> halved, 1))


def _about(
    wish: Wish, place: Places, halved: int, rng: np.random.Generator, others: bool
) -> Places:
    """Return the places about one, by steps that were halved so often, (machines, paths)."""
    counts, steps = np.array(wish.counts), _steps(wish, halved)
    ordered = np.array([each.in_order for each in wish.varying])
    moves: list[Places] = []
    for k, count in enumerate(wish.counts):
        if ordered[k]:
            ahead = [-int(steps[k]), int(steps[k])]
        else:
            away = np.delete(np.arange(count), place[k]) - place[k]
            ahead = sorted(away.tolist(), key=abs)[: _MOST_OTHERS if others else 0]
        moves += [np.eye(len(counts), dtype=np.int64)[k] * by for by in ahead]
    dimension = int(ordered.sum())
    if (steps == 1).all() and dimension <= _MOST_PAIRED:
        # At last two things at once, as one limit may hold where the other gives way.
        axes = np.eye(len(counts), dtype=np.int64)[ordered]
        for one, other in itertools.combinations(axes, 2):
            moves += [one + other, one - other, other - one, -one - other]
    elif dimension > 1:
        # Columns of a random orthogonal matrix, as long as the steps allow.
        turned, _ = np.linalg.qr(rng.normal(size=(dimension, dimension)))
        for column in (turned / np.abs(turned).max(axis=0)).T:
            move = np.zeros(len(counts), dtype=np.int64)
            move[ordered] = np.rint(column * steps[ordered])
            moves += [move, -move]
    found = np.clip(place + np.array(moves).reshape(-1, len(counts)), 0, counts - 1)
    return np.asarray(found, dtype=np.int64)
