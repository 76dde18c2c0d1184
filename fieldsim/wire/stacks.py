"""Turns of round wire stacked outward from a former: thickness, capacity and wire needed.

A turn is a rectangle with sharp corners through the middle of its wire; one whose middle lies x
outside the former is 8 x longer than the way around the former.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "MOST_TURNS",
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


class Stack(Protocol):
    """Turns of one wire stacked outward in a winding of one length; all methods broadcast."""

    def build_m(self, turns: ArrayLike) -> Floats:
        """Return the thickness that ``turns`` take [m]."""
        ...

    def turns_in(self, build_m: ArrayLike) -> Ints:
        """Return how many whole turns a thickness [m] holds."""
        ...

    def wire_m(self, turns: ArrayLike, around_m: ArrayLike) -> Floats:
        """Return the wire in ``turns`` with sharp corners around a former [m]."""
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

    def wire_m(self, turns: ArrayLike, around_m: ArrayLike) -> Floats:
        """Return the wire in ``turns`` with sharp corners around a former [m]."""
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
        first_m = np.asarray(around_m, dtype=float) + 4 * self.overall_m
        return np.asarray(n * first_m + 8 * self.pitch_m * pitches, dtype=float)


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

    def wire_m(self, turns: ArrayLike, around_m: ArrayLike) -> Floats:
        """Return the wire in ``turns`` with sharp corners: turns times the mean turn [m]."""
        mean_m = np.asarray(around_m, dtype=float) + 4 * self.build_m(turns)
        return np.asarray(np.asarray(turns, dtype=float) * mean_m, dtype=float)


def turns_from_wire(stack: Stack, wire_m: ArrayLike, around_m: ArrayLike) -> Ints:
    """Return how many whole turns a length of wire makes.

    Parameters
    ----------
    stack
        How they lie.
    wire_m
        Wire at hand [m], broadcast against the stack.
    around_m
        Way around the former [m].

    Returns
    -------
    ndarray of int
        The largest number of turns that takes no more wire, at most `MOST_TURNS`.

    Examples
    --------
    >>> from fieldsim.wire.packing import SquareLayers
    >>> from fieldsim.wire.round_wire import Wire
    >>> stack = SquareLayers().stack(Wire("0.9 mm", 0.9e-3, 1e-3), 10e-3)
    >>> int(turns_from_wire(stack, 1.04, 0.1)), int(turns_from_wire(stack, 1.039, 0.1))
    (10, 9)
    """
    wire = np.asarray(wire_m, dtype=float) * (1 + _SLACK)
    shape = np.broadcast_shapes(wire.shape, stack.wire_m(1, around_m).shape)
    low = np.zeros(shape, dtype=np.int64)
    high = np.full(shape, MOST_TURNS + 1, dtype=np.int64)
    # The wire needed rises with every turn, so halving the bracket finds the last one that fits.
    while np.any(high - low > 1):
        middle = (low + high) // 2
        fits = stack.wire_m(middle, around_m) <= wire
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return low
