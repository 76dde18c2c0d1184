"""How round wire lies in a rectangular section: in layers, at random, or by a fill factor.

Layers are counted from the opening outward, turns along the length of the winding::

    square layers          hexagonal layers
    O O O O O O            O O O O O O
    O O O O O O             O O O O O
    O O O O O O            O O O O O O
    ------------ former    ------------ former
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.wire.stacks import LayerStack, Stack, UniformStack, whole_below

__all__ = [
    "DENSEST_FILL",
    "RANDOM_FILL",
    "CopperFill",
    "HexagonalLayers",
    "Packing",
    "RandomWinding",
    "RoundWire",
    "SquareLayers",
    "WireFill",
]

DENSEST_FILL = math.pi / math.sqrt(12)  # of equal circles in the plane (Thue)
RANDOM_FILL = 0.6  # of the section: common practice for random winding, no published source
_SLACK = 1e-9


def _percent(share: float) -> str:
    return f"{share * 100:.3g} %"


class RoundWire(Protocol):
    """One wire, or an array of wires to be packed alike: `Wire` or `Wires`."""

    @property
    def bare_diameter_m(self) -> ArrayLike:
        """Of the copper [m]."""
        ...

    @property
    def overall_diameter_m(self) -> ArrayLike:
        """Over the enamel [m]."""
        ...


class Packing(Protocol):
    """A rule for how wire lies in a section."""

    @property
    def name(self) -> str:
        """As it is shown."""
        ...

    def stack(self, wire: RoundWire, length_m: float) -> Stack:
        """Return the stack of this wire in a winding of this length [m]."""
        ...


def _along(overall_m: NDArray[np.float64], length_m: float) -> NDArray[np.int64]:
    """Return turns side by side along the length, at least one."""
    along = whole_below(length_m / overall_m)
    if np.any(along < 1):
        thick = float(np.max(overall_m))
        raise ImpossibleError(
            f"a winding {length_m * 1e3:.4g} mm long has no room for wire "
            f"{thick * 1e3:.4g} mm thick; make it longer or the wire thinner"
        )
    return along


@dataclass(frozen=True)
class SquareLayers:
    """Each turn exactly above the one below: the wire fills at most 78.5 % of the section."""

    @property
    def name(self) -> str:
        """As it is shown."""
        return "square layers"

    def stack(self, wire: RoundWire, length_m: float) -> LayerStack:
        """Return the stack; every layer holds length / overall diameter turns, rounded down.

        Raises
        ------
        ImpossibleError
            If the length is less than the wire's thickness.

        Examples
        --------
        >>> from fieldsim.wire.round_wire import Wire
        >>> stack = SquareLayers().stack(Wire("0.2 mm", 0.2e-3, 0.25e-3), 10e-3)
        >>> int(stack.odd), int(stack.layers(100)), round(float(stack.build_m(100)) * 1e3, 6)
        (40, 3, 0.75)
        """
        overall = np.asarray(wire.overall_diameter_m, dtype=float)
        along = _along(overall, length_m)
        return LayerStack(overall, overall, along, along)


@dataclass(frozen=True)
class HexagonalLayers:
    """Each turn in the groove between two of the layer below, 0.866 diameters up.

    Notes
    -----
    Every second layer is shifted by half a diameter; it holds as many turns as the others if the
    length has that half diameter to spare, else one fewer. The ideal (90.7 % of the section) needs
    a guided wire: around part of each turn the wire must cross over to the next groove, and
    hand-wound coils fall between this and a good deal below `SquareLayers`.
    """

    @property
    def name(self) -> str:
        """As it is shown."""
        return "hexagonal layers"

    def stack(self, wire: RoundWire, length_m: float) -> LayerStack:
        """Return the stack.

        Raises
        ------
        ImpossibleError
            If the length holds less than one and a half wires, so that there is no groove.

        Examples
        --------
        >>> from fieldsim.wire.round_wire import Wire
        >>> stack = HexagonalLayers().stack(Wire("0.2 mm", 0.2e-3, 0.25e-3), 10e-3)
        >>> int(stack.odd), int(stack.even)
        (40, 39)
        """
        overall = np.asarray(wire.overall_diameter_m, dtype=float)
        along = _along(overall, length_m)
        spare = whole_below(length_m / overall - 0.5) >= along
        between = np.where(spare, along, along - 1)
        if np.any(between < 1):
            raise ImpossibleError(
                f"a winding {length_m * 1e3:.4g} mm long has no groove for hexagonal layers of "
                f"wire {float(np.max(overall)) * 1e3:.4g} mm thick; use square layers"
            )
        return LayerStack(overall, math.sqrt(3) / 2 * overall, along, between)


@dataclass(frozen=True)
class WireFill:
    """Turns spread evenly, with ``fraction`` of the section taken by wire, enamel included."""

    fraction: float

    def __post_init__(self) -> None:
        if not 0 < self.fraction <= DENSEST_FILL:
            raise ImpossibleError(
                f"a wire fill of {_percent(self.fraction)} is not possible; allowed: above 0 % to "
                f"{_percent(DENSEST_FILL)}, the densest packing of round wire"
            )

    @property
    def name(self) -> str:
        """As it is shown."""
        return f"wire fill {_percent(self.fraction)}"

    def stack(self, wire: RoundWire, length_m: float) -> UniformStack:
        """Return the stack."""
        overall = np.asarray(wire.overall_diameter_m, dtype=float)
        return UniformStack(math.pi / 4 * overall**2 / (self.fraction * length_m))


@dataclass(frozen=True)
class RandomWinding:
    """Wound by hand without care for layers, which the trade calls random winding.

    The turns cross each other; with its enamel the wire takes some 60 % of the section, as
    ``WireFill(0.6)``. That is common practice, no published source: thin wire, a short winding or
    an unsteady hand fills less.
    """

    @property
    def name(self) -> str:
        """As it is shown."""
        return "random"

    def stack(self, wire: RoundWire, length_m: float) -> UniformStack:
        """Return the stack.

        Examples
        --------
        >>> from fieldsim.wire.round_wire import awg_wire
        >>> for packing in (SquareLayers(), RandomWinding(), WireFill(0.6)):
        ...     print(int(packing.stack(awg_wire(32), 12e-3).turns_in(6e-3)))
        1378
        1100
        1100
        """
        return WireFill(RANDOM_FILL).stack(wire, length_m)


@dataclass(frozen=True)
class CopperFill:
    """Turns spread evenly, with ``fraction`` of the section taken by copper.

    Notes
    -----
    Common practice, no published source: 40 to 60 % for hand-wound coils, less for thin wire.
    """

    fraction: float

    def __post_init__(self) -> None:
        if not 0 < self.fraction <= DENSEST_FILL:
            raise ImpossibleError(
                f"a copper fill of {_percent(self.fraction)} is not possible; allowed: above 0 % "
                f"to {_percent(DENSEST_FILL)}, the densest packing of round wire"
            )

    @property
    def name(self) -> str:
        """As it is shown."""
        return f"copper fill {_percent(self.fraction)}"

    def stack(self, wire: RoundWire, length_m: float) -> UniformStack:
        """Return the stack.

        Raises
        ------
        ImpossibleError
            If the enamel leaves less room for copper than that.
        """
        bare = np.asarray(wire.bare_diameter_m, dtype=float)
        most = float(np.min(DENSEST_FILL * (bare / np.asarray(wire.overall_diameter_m)) ** 2))
        if self.fraction > most * (1 + _SLACK):
            raise ImpossibleError(
                f"a copper fill of {_percent(self.fraction)} is stated, but with its enamel this "
                f"wire reaches at most {_percent(most)}, in the densest packing"
            )
        return UniformStack(math.pi / 4 * bare**2 / (self.fraction * length_m))
