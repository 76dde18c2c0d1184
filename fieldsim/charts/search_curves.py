"""All machines that a search tried: one want against the other, or against what varied first."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import numpy as np

from fieldsim.charts.figure_style import (
    LINE_COLOURS,
    add_legend,
    new_panels,
    save_figure,
    style_axes,
)
from fieldsim.studies.search import Search
from fieldsim.studies.wish import EFFORT, LIGHT, SPEED, WIRE
from fieldsim.words.search_text import want_axis

if TYPE_CHECKING:
    from matplotlib.artist import Artist

__all__ = ["save_search_plot"]

_SCALES = {LIGHT: 1e3, SPEED: -30 / np.pi, WIRE: -1.0, EFFORT: -1e3}


def save_search_plot(search: Search, path: str | os.PathLike[str]) -> None:
    """Draw the trade-off between two wants, or one want in the order in which it was tried."""
    wants, done = search.wish.wants, search.can_be
    columns = [search.figures.wanted[:, k] * _SCALES[want] for k, want in enumerate(wants)]
    labels = [want_axis(want) for want in wants]
    if len(wants) == 1:
        columns.append(np.arange(1.0, len(search) + 1))
        labels.append("machines tried (count)")
    up, along = columns
    figure, (axes,) = new_panels()
    style_axes(axes, labels[1], labels[0], search.wish.machine.title)
    handles: list[Artist] = []
    names: list[str] = []
    for chosen, colour, size, name in (
        (done & ~search.fulfils, "0.75", 8.0, "misses a must"),
        (search.fulfils, LINE_COLOURS[0], 12.0, "fulfils the wish"),
    ):
        if chosen.any():
            handles.append(axes.scatter(along[chosen], up[chosen], s=size, color=colour))
            names.append(name)
    front = list(search.unbeaten)
    if front:
        (line,) = axes.plot(
            along[front], up[front], color=LINE_COLOURS[1], marker="o", markersize=4.0
        )
        handles.append(line)
        names.append("no other beats it" if len(wants) > 1 else "the best")
    if handles:
        add_legend(axes, handles, names)
    save_figure(figure, path)
