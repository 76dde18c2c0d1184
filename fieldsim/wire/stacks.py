"""Turns of round wire stacked outward from a former: thickness, capacity and wire needed.

A turn runs through the middle of its wire; one whose middle lies x outside the former is longer
than the way around it by x times the growth of its corners (`fieldsim.wire.corners`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.wire.corners import Corners

__all__ = [
    "MOST_TURNS",
    "Former",
    "LayerStack",
    "Stack",
    "UniformStack",
    "turns_from_wire",
    "whole_below",
]

MOST_TURNS = 1_000_000
_SLACK = 1e-9  # so that 12 mm take sixty wires of 0.2 mm in spite of rounding

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


def whole_below(x: Floats) -> Ints:
    """Return the whole number below ``x``, from zero to a number no winding reaches."""
    return np.floor(np.clip(x, 0.0, 1e9) * (1 + _SLACK)).astype(np.int64)


@dataclass(frozen=True)
class Former:
    """What turns go round.

    Parameters
    ----------
    around_m
        Way around it [m]; any shape that broadcasts against a stack.
    corners
        How the turns go round its edges.

    Examples
    --------
    >>> float(Former(0.1).turn_m(0.01)), round(float(Former(0.1, Corners.ROUND).turn_m(0.01)), 6)
    (0.18, 0.162832)
    """

    around_m: ArrayLike
    corners: Corners = Corners.SHARP

    def turn_m(self, depth_m: ArrayLike) -> Floats:
        """Return the length of a turn whose middle lies so far outside it [m]."""
        depth = np.asarray(depth_m, dtype=float)
        return np.asarray(np.asarray(self.around_m, dtype=float) + self.corners.growth * depth)


class Stack(Protocol):
    """Turns of one wire stacked outward in a winding of one length; all methods broadcast."""

    def build_m(self, turns: ArrayLike) -> Floats:
        """Return the thickness that ``turns`` take [m]."""
        ...

    def turns_in(self, build_m: ArrayLike) -> Ints:
        """Return how many whole turns a thickness [m] holds."""
        ...

    def wire_m(self, turns: ArrayLike, former: Former) -> Floats:
        """Return the wire in ``turns`` around a former [m]."""
        ...


@dataclass(frozen=True)
class LayerStack:
    """Turns in layers.

    Parameters
    ----------
    overall_m
        Wire diameter over the enamel [m].
    pitch_m
        Between the middles of neighbouring layers [m].
    odd, even
        Turns in the first, third, ... and in the second, fourth, ... layer. All of one shape, for
        instance one entry a gauge.

    Notes
    -----
    `wire_m` is the exact sum over the layers, the last one as full as it is.
    """

    overall_m: Floats
    pitch_m: Floats
    odd: Ints
    even: Ints

    def layers(self, turns: ArrayLike) -> Ints:
        """Return the number of layers begun."""
        n = np.asarray(turns, dtype=np.int64)
        pairs, rest = np.divmod(n, self.odd + self.even)
        return np.asarray(2 * pairs + (rest > 0) + (rest > self.odd), dtype=np.int64)

    def build_m(self, turns: ArrayLike) -> Floats:
        """Return the thickness of the layers begun [m]."""
        layers = self.layers(turns)
        return np.asarray(np.where(layers > 0, self.overall_m + (layers - 1) * self.pitch_m, 0.0))

    def turns_in(self, build_m: ArrayLike) -> Ints:
        """Return how many whole turns a thickness [m] holds."""
        build = np.asarray(build_m, dtype=float)
        fits = build * (1 + _SLACK) >= self.overall_m
        layers = np.where(
            fits, 1 + whole_below((build - self.overall_m) / self.pitch_m + _SLACK), 0
        )
        return np.asarray((layers + 1) // 2 * self.odd + layers // 2 * self.even, dtype=np.int64)

    def wire_m(self, turns: ArrayLike, former: Former) -> Floats:
        """Return the wire in ``turns`` around a former [m]."""
        n = np.asarray(turns, dtype=np.int64)
        pairs, rest = np.divmod(n, self.odd + self.even)
        in_odd = np.minimum(rest, self.odd)
        # Layers of the full pairs lie 0, 1, 2, ... pitches above the first, then the begun pair.
        pitches = (
            self.odd * pairs * (pairs - 1)
            + self.even * pairs**2
            + in_odd * 2 * pairs
            + (rest - in_odd) * (2 * pairs + 1)
        )
        first_m = former.turn_m(self.overall_m / 2)
        return np.asarray(n * first_m + former.corners.growth * self.pitch_m * pitches, dtype=float)


@dataclass(frozen=True)
class UniformStack:
    """Turns spread evenly over the section.

    Parameters
    ----------
    build_per_turn_m
        Thickness one turn takes, spread over the length of the winding [m].
    """

    build_per_turn_m: Floats

    def build_m(self, turns: ArrayLike) -> Floats:
        """Return the thickness that ``turns`` take [m]."""
        return np.asarray(turns, dtype=float) * self.build_per_turn_m

    def turns_in(self, build_m: ArrayLike) -> Ints:
        """Return how many whole turns a thickness [m] holds."""
        return whole_below(np.asarray(build_m, dtype=float) / self.build_per_turn_m)

    def wire_m(self, turns: ArrayLike, former: Former) -> Floats:
        """Return the wire in ``turns`` around a former: turns times the mean turn [m]."""
        mean_m = former.turn_m(self.build_m(turns) / 2)
        return np.asarray(np.asarray(turns, dtype=float) * mean_m, dtype=float)


def turns_from_wire(stack: Stack, wire_m: ArrayLike, former: Former) -> Ints:
    """Return how many whole turns a length of wire makes.

    Parameters
    ----------
    stack
        How they lie.
    wire_m
        Wire at hand [m], broadcast against the stack.
    former
        What they go round.

    Returns
    -------
    ndarray of int
        The largest number of turns that takes no more wire, at most `MOST_TURNS`.

    Examples
    --------
    >>> from fieldsim.wire.packing import SquareLayers
    >>> from fieldsim.wire.round_wire import Wire
    >>> stack = SquareLayers().stack(Wire("0.9 mm", 0.9e-3, 1e-3), 10e-3)
    >>> former = Former(0.1)
    >>> int(turns_from_wire(stack, 1.04, former)), int(turns_from_wire(stack, 1.039, former))
    (10, 9)
    """
    wire = np.asarray(wire_m, dtype=float) * (1 + _SLACK)
    shape = np.broadcast_shapes(wire.shape, stack.wire_m(1, former).shape)
    low = np.zeros(shape, dtype=np.int64)
    high = np.full(shape, MOST_TURNS + 1, dtype=np.int64)
    # The wire needed rises with every turn, so halving the bracket finds the last one that fits.
    while np.any(high - low > 1):
        middle = (low + high) // 2
        fits = stack.wire_m(middle, former) <= wire
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low
