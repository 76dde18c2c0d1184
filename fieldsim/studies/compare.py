"""The same figures for several designs, side by side, and their ratios to the first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from fieldsim.errors import ImpossibleError
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.figures import NO_VOLTAGE_V, EmfFigures

__all__ = ["Comparison", "Design", "compare"]


@dataclass(frozen=True)
class Design:
    """One design's figures by coil and by connection, and the error estimate behind them.

    A connection has none where coils in parallel lack wire.
    """

    title: str
    file: str
    figures: dict[str, EmfFigures]
    relative_error: float
    connections: dict[str, EmfFigures | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Comparison:
    """Designs in the order given."""

    designs: tuple[Design, ...]

    def ratio_to_first(self, design: Design, coil: str, figure: str) -> float | None:
        """Return a design's figure over that of the first design.

        Coils and connections are matched by name; where the first design has one coil only, that
        is the measure for all. None where there is nothing to measure or to measure against: no
        such coil, or no voltage in it.

        Parameters
        ----------
        design
            One of ``designs``.
        coil
            Name of its coil or connection.
        figure
            Name of a field of `EmfFigures`.
        """
        first, coils = self.designs[0], self.designs[0].figures
        only = next(iter(coils.values())) if len(coils) == 1 else None
        reference = coils.get(coil) or first.connections.get(coil) or only
        own = design.figures.get(coil) or design.connections.get(coil)
        if own is None or reference is None or reference.peak_V < NO_VOLTAGE_V:
            return None
        return float(getattr(own, figure) / getattr(reference, figure))


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
        joined = point.connection_figures
        designs.append(Design(machine.title, machine.file, point.figures, error, joined))
        if progress is not None:
            progress(len(designs), len(points))
    return Comparison(tuple(designs))
