"""The same figures for several designs, side by side, and their ratios to the first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fieldsim.errors import ImpossibleError
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.figures import NO_VOLTAGE_V, EmfFigures

__all__ = ["Comparison", "Design", "compare"]


@dataclass(frozen=True)
class Design:
    """One design's figures by coil, and the error estimate behind them."""

    title: str
    file: str
    figures: dict[str, EmfFigures]
    relative_error: float


@dataclass(frozen=True)
class Comparison:
    """Designs in the order given."""

    designs: tuple[Design, ...]

    def ratio_to_first(self, design: Design, coil: str, figure: str) -> float | None:
        """Return a design's figure over that of the first design.

        Coils are matched by name; where the first design has one coil only, that is the measure
        for all. None where there is nothing to measure against: no such coil, or no voltage in it.

        Parameters
        ----------
        design
            One of ``designs``.
        coil
            Name of its coil.
        figure
            Name of a field of `EmfFigures`.
        """
        first = self.designs[0].figures
        reference = first.get(coil) or (next(iter(first.values())) if len(first) == 1 else None)
        if reference is None or reference.peak_V < NO_VOLTAGE_V:
            return None
        return float(getattr(design.figures[coil], figure) / getattr(reference, figure))


def compare(
    points: Sequence[OperatingPoint],
    progress: Callable[[int, int], None] | None = None,
) -> Comparison:
    """Return the open-circuit figures of several machines, side by side.

    Parameters
    ----------
    points
        At least one.
    progress
        Called with (designs done, designs in all).
    """
    if not points:
        raise ImpossibleError("there is nothing to compare; give at least one design")
    designs = []
    for point in points:
        machine, error = point.machine, point.waveform.relative_error
        designs.append(Design(machine.title, machine.file, point.figures, error))
        if progress is not None:
            progress(len(designs), len(points))
    return Comparison(tuple(designs))
