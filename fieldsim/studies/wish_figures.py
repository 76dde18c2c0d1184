"""What machines come to: how much of what is wanted, and by how much each must is missed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import FieldsimError
from fieldsim.machine.gauge import Gauge
from fieldsim.machine.machine import Machine
from fieldsim.machine.overall_size import overall_size_m
from fieldsim.operation.effort import Effort
from fieldsim.operation.many_points import OperatingPoints, operating_points
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.ranges import ranges
from fieldsim.studies.vary import CRANK_SPEED
from fieldsim.studies.wish import (
    EFFORT,
    IN_NINE_OF_TEN,
    LIGHT,
    MAGNETS_IN_STOCK,
    SPEED,
    WIRE,
    WIRE_IN_STOCK,
    Condition,
    Wish,
)

__all__ = ["Piece", "WishFigures", "wish_figures"]

Array = NDArray[np.float64]

_ROUGH = 1e-4  # of linkage and circuit: machines are compared, not measured
_BUILT = 32  # machines built like one
_ROUGH_BUILT = 1e-3  # far below what those differ by
_ROUNDING = 1e-9  # of a limit


@dataclass(frozen=True, eq=False)
class Piece:
    """Some machines of a wish; small enough to be sent.

    Parameters
    ----------
    wish
        What they are held against.
    places
        Of what varies, counted from 0, (machines, paths).
    """

    wish: Wish
    places: NDArray[np.int64] = field(repr=False)


@dataclass(frozen=True, eq=False)
class WishFigures:
    """What some machines come to.

    Parameters
    ----------
    problems
        Why a machine cannot be; empty where it can.
    wanted
        What is wanted, the larger the better, (machines, wants): useful power [W], crank speed
        [rad/s], wire [m] and average torque of the hand [N m], all but the first with a minus; NaN
        where a machine cannot be.
    excess
        By how much each must is missed, as a share of its limit, (machines, musts); below zero it
        holds, with so much to spare. Infinite where a machine cannot be.
    """

    problems: tuple[str, ...] = field(repr=False)
    wanted: Array = field(repr=False)
    excess: Array = field(repr=False)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.problems)

    def and_then(self, others: WishFigures) -> WishFigures:
        """Return these and others behind them."""
        return WishFigures(
            (*self.problems, *others.problems),
            np.concatenate([self.wanted, others.wanted]),
            np.concatenate([self.excess, others.excess]),
        )

    def some(self, which: slice) -> WishFigures:
        """Return some of them."""
        return WishFigures(self.problems[which], self.wanted[which], self.excess[which])

    @property
    def missed(self) -> Array:
        """By how much each must is missed, 0 where it holds, (machines, musts)."""
        return np.maximum(self.excess, 0.0)


def wish_figures(piece: Piece) -> WishFigures:
    """Return what each machine comes to, at the worst of the wish's crank speeds.

    Raises
    ------
    ImpossibleError
        If the machines have other coils or other groups of lamps than each other.
    """
    wish, count = piece.wish, len(piece.places)
    problems = [""] * count
    wanted = np.full((count, len(wish.wants)), np.nan)
    excess = np.full((count, len(wish.musts)), np.inf)
    made: dict[int, _Candidate] = {}
    for row, places in enumerate(piece.places.tolist()):
        try:
            made[row] = _Candidate(wish, places, wish.made(places))
        except FieldsimError as error:
            problems[row] = error.in_one_line
    points = [
        operating_points(
            [one.machine for one in made.values()],
            speed,
            tolerance=_ROUGH,
            circuit_tolerance=_ROUGH,
        )
        for speed in _speeds(wish, list(made.values()))
    ]
    for i, (row, one) in enumerate(made.items()):
        problems[row] = next(filter(None, (each.problems[i] for each in points)), "")
        try:
            if not problems[row]:
                turned = [_Turned(one, each, i) for each in points]
                wanted[row], excess[row] = _wanted(turned), _excess(turned)
        except FieldsimError as error:
            problems[row] = error.in_one_line
    bad = ~np.isfinite(wanted).all(axis=1)
    wanted[bad], excess[bad] = np.nan, np.inf
    problems = [
        problem or ("what is wanted of it cannot be told" if unknown else "")
        for problem, unknown in zip(problems, bad.tolist(), strict=True)
    ]
    return WishFigures(tuple(problems), wanted, np.where(np.isnan(excess), np.inf, excess))


def _speeds(wish: Wish, machines: Sequence[_Candidate]) -> Sequence[Any]:
    """Return the crank speeds for all, or, where it varies, one for each."""
    if wish.crank_speeds_rad_per_s:
        return wish.crank_speeds_rad_per_s
    k = [each.path for each in wish.varying].index(CRANK_SPEED)
    return [[wish.varying[k].text(one.places[k]) for one in machines]]


@dataclass(frozen=True, eq=False)
class _Candidate:
    """One machine of a wish."""

    wish: Wish
    places: Sequence[int]
    machine: Machine

    @cached_property
    def wire_m(self) -> float:
        """Wire of all coils [m]."""
        return sum(coil.wire_length_m for coil in self.machine.coils)

    @property
    def share_of_wire(self) -> float:
        """Wire that is used of what is in stock, of the size that is scarcest."""
        used: dict[Gauge, float] = {}
        for coil in self.machine.coils:
            gauge = coil.wire.gauge
            if gauge is not None:
                used[gauge] = used.get(gauge, 0.0) + coil.wire_length_m
        return max(used.get(gauge, 0.0) / there for gauge, there in self.wish.wire_m)

    @property
    def share_of_magnets(self) -> float:
        """Magnets that are used of what is in stock, of the kind that is scarcest."""
        used: dict[int, float] = {}
        paths = [each.path for each in self.wish.varying]
        for path, counts in self.wish.magnets:
            name, place = path.partition(".")[2], self.places[paths.index(path)]
            mounted = [m for r in self.machine.placed_rotors for m in r.magnets]
            share = sum(m.magnet.name == name for m in mounted) / counts[place]
            used[place] = used.get(place, 0.0) + share
        return max(used.values())

    @property
    def share_of_size(self) -> float:
        """Longest edge of the box around it as a share of what is allowed."""
        (limits,) = (must.limits for must in self.wish.musts if must.name == "size_at_most")
        edges = zip(overall_size_m(self.machine), limits, strict=True)
        return max(edge / most for edge, most in edges)


@dataclass(frozen=True, eq=False)
class _Turned:
    """One machine of a wish at a crank speed; the i-th of some points."""

    one: _Candidate
    points: OperatingPoints
    i: int

    @property
    def speed_rad_per_s(self) -> float:
        """Of the crank."""
        return float(self.points.speed_rad_per_s[self.i])

    @property
    def useful_power_W(self) -> float:
        """Into lamps, or resistors without lamps."""
        return float(self.points.useful_power_W[self.i])

    @cached_property
    def effort(self) -> Effort:
        """What the hand feels."""
        return self.point(_ROUGH).effort

    def point(self, tolerance: float) -> OperatingPoint:
        """Return it alone."""
        return OperatingPoint(
            self.one.machine,
            crank_speed_rad_per_s=self.speed_rad_per_s,
            tolerance=tolerance,
            circuit_tolerance=tolerance,
        )

    @property
    def average_torque_Nm(self) -> float:
        """Of the hand, the way it turns."""
        return math.copysign(1.0, self.speed_rad_per_s) * self.effort.crank.average_torque_Nm

    @property
    def force_N(self) -> float:
        """The greatest at the handle, turning or at a creep."""
        effort = self.effort
        most_Nm = max(effort.crank.peak_torque_Nm, effort.slow_peak_torque_Nm)
        return most_Nm / effort.arm.arm if effort.arm else math.nan

    @property
    def glue_load(self) -> float:
        """Load of the glue over its strength, of the magnet that sits worst."""
        loads = (magnet.glue_load for hold in self.effort.holds for magnet in hold.magnets)
        return max(loads, default=0.0)

    def over(self, must: Condition) -> float:
        """Return by which share of its limit a must is missed; what is below zero holds."""
        points, i, one = self.points, self.i, self.one
        if must.name == "lamps_lit":
            return float((1 - points.lamp_current_A[i] / points.visible_current_A[i]).max())
        if must.name == "lamps_within_ratings":
            return float((points.share_of_rated[i] - 1).max())
        if must.name == "clearance_at_least":
            return 1 - float(points.clearance_m[i]) / must.limits[0]
        if must.name == "glue_margin_at_least":
            return self.glue_load * must.limits[0] - 1
        if must.name == "crank_force_at_most":
            return self.force_N / must.limits[0] - 1
        if must.name == "wire_length_at_most":
            return one.wire_m / must.limits[0] - 1
        shares = {
            "size_at_most": lambda: one.share_of_size,
            WIRE_IN_STOCK: lambda: one.share_of_wire,
            MAGNETS_IN_STOCK: lambda: one.share_of_magnets,
        }
        return shares[must.name]() - 1


def _wanted(turned: Sequence[_Turned]) -> list[float]:
    """Return what is wanted of a machine, the worst of its speeds."""
    wish = turned[0].one.wish
    found: dict[str, Callable[[], float]] = {
        LIGHT: lambda: min(each.useful_power_W for each in turned),
        SPEED: lambda: -abs(turned[0].speed_rad_per_s),
        WIRE: lambda: -turned[0].one.wire_m,
        EFFORT: lambda: -max(each.average_torque_Nm for each in turned),
    }
    return [found[want]() for want in wish.wants]


def _excess(turned: Sequence[_Turned]) -> list[float]:
    """Return by how much a machine misses each must, the worst of its speeds."""
    musts = {must.name: must for must in turned[0].one.wish.musts}
    in_nine_of_ten = musts.pop(IN_NINE_OF_TEN, None)
    found = {
        name: _unless_rounding(max(each.over(must) for each in turned))
        for name, must in musts.items()
    }
    if in_nine_of_ten is not None:
        # What misses something as it stands need not be built.
        fails = any(each > 0 for each in found.values())
        built = 1.0 if fails else max(_over_built(each) for each in turned)
        found[IN_NINE_OF_TEN] = _unless_rounding(built)
    return [found[must.name] for must in turned[0].one.wish.musts]


def _unless_rounding(over: float) -> float:
    return 0.0 if abs(over) < _ROUNDING else over


def _over_built(turned: _Turned) -> float:
    """Return by which share of its limit the nine best of ten built like it miss a must."""
    wish, places = turned.one.wish, turned.one.places
    built = ranges(turned.point(_ROUGH_BUILT), machines=_BUILT).points
    over = np.full(len(built), np.inf)
    for i in np.flatnonzero(built.can_be).tolist():
        one = _Turned(_Candidate(wish, places, built.machines[i]), built, i)
        over[i] = max(one.over(must) for must in wish.musts if must.name != IN_NINE_OF_TEN)
    return float(np.sort(over)[math.ceil(0.9 * len(over)) - 1])
