"""Room about axes: for their numbers and labels, measured, and for a legend above them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.charts.figure_style import COLOURS, MM_PER_INCH, add_legend, plain_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["legend_above", "lift_title", "make_room", "only_note", "plain_numbers"]

_SPARE_MM = 1.2
_FONT_PT = 8.5
_HANDLE_LENGTH, _HANDLE_GAP, _COLUMN_GAP = 2.6, 0.6, 1.2  # in letters' heights
_BESIDE_PT = (_HANDLE_LENGTH + _HANDLE_GAP + _COLUMN_GAP) * _FONT_PT
_MOST_COLUMNS = 6


def make_room(axes: Axes) -> None:
    """Shift the borders of the figure's only axes so that nothing beside or above them is cut.

    Parameters
    ----------
    axes
        Placed by hand, with their final limits. They get narrower where the numbers of the
        upright axes are wide; the figure gets taller where the legend above needs it.

    Notes
    -----
    Only what can outgrow its place is measured, and once: laying out a whole figure takes about as
    long as drawing it.
    """
    from matplotlib.backends.backend_agg import RendererAgg

    figure: Any = axes.figure
    measure: Any = RendererAgg(8, 8, figure.dpi)  # type: ignore[no-untyped-call]
    wide, tall = figure.bbox.size
    spare = _SPARE_MM / MM_PER_INCH * figure.dpi
    left, low, width, height = (float(v) for v in axes.get_window_extent().bounds)
    upright = [axes.yaxis, *(strip.yaxis for strip in axes.child_axes)]
    boxes = [box for box in (axis.get_tightbbox(measure) for axis in upright) if box is not None]
    at_left = max(0.0, spare - min((box.x0 for box in boxes), default=left))
    at_right = max(0.0, max((box.x1 for box in boxes), default=0.0) - (wide - spare))
    legend = axes.get_legend()
    top = 0.0 if legend is None else legend.get_window_extent(measure).y1
    # Whole dots: the last digits of measured letters must not decide the bytes of a page.
    at_left, at_right, above = (
        float(math.ceil(v)) for v in (at_left, at_right, max(0.0, top - (tall - spare)))
    )
    grown = tall + above
    figure.set_size_inches(wide / figure.dpi, grown / figure.dpi)
    axes.set_position(
        ((left + at_left) / wide, low / grown, (width - at_left - at_right) / wide, height / grown)
    )  # fmt: skip


def legend_above(
    axes: Axes, handles: Sequence[Any], names: Sequence[str], left_out: int = 0
) -> int:
    """Add a legend above axes in as many columns as its names leave room for.

    Parameters
    ----------
    axes
        With their place on the page.
    handles, names
        One for each curve.
    left_out
        How many further curves are not drawn.

    Returns
    -------
    int
        How many lines it takes.
    """
    figure: Any = axes.figure
    place = axes.get_window_extent()
    # From the axes on, to the figure's end: beside the axes nothing stands so high.
    room_pt = float(figure.bbox.x1 - place.x0) * 72.0 / figure.dpi
    shown = [_that_fits(plain_text(name), room_pt) for name in names]
    most = min(len(shown), _MOST_COLUMNS)
    columns = next(n for n in range(most, 0, -1) if n == 1 or _width_pt(shown, n) <= room_pt)
    rows = math.ceil(len(shown) / columns)
    more: dict[str, Any] = {}
    if left_out:
        more = {
            "title": f"{left_out} more {'is' if left_out == 1 else 'are'} in the table",
            "title_fontsize": _FONT_PT, "alignment": "left",
        }  # fmt: skip
    legend = add_legend(
        axes, handles, shown, loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=columns,
        handlelength=_HANDLE_LENGTH, handletextpad=_HANDLE_GAP, columnspacing=_COLUMN_GAP,
        borderaxespad=0.2, fontsize=_FONT_PT, **more,
    )  # fmt: skip
    legend.get_title().set_color(COLOURS["soft ink"])
    return rows + bool(left_out)


def _name_pt(name: str) -> float:
    """Return how wide a name is set."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=_FONT_PT)
    return float(text_to_path.get_text_width_height_descent(name, font, ismath=False)[0])


def _width_pt(names: Sequence[str], columns: int) -> float:
    """Return the width of a legend with so many columns, which it fills one after the other."""
    widest = [max(map(_name_pt, column)) for column in np.array_split(names, columns)]
    return sum(widest) + columns * _BESIDE_PT


def _that_fits(name: str, room_pt: float) -> str:
    """Return a name, shortened to what has room beside its handle."""
    shorter = (plain_text(name, letters) for letters in range(len(name), 0, -1))
    return next((n for n in shorter if _name_pt(n) + _BESIDE_PT <= room_pt), name[:1])


def lift_title(axes: Axes, points: float) -> None:
    """Move the title of axes up, so that something has room between it and them."""
    axes.set_title(
        axes.get_title(loc="left"), loc="left", fontsize=10, fontweight="bold", pad=points,
        parse_math=False,
    )  # fmt: skip


def only_note(axes: Axes, words: str) -> None:
    """Write words where there is nothing to draw, instead of numbers at the left."""
    axes.set_ylim(-1.0, 1.0)
    axes.set_yticks([])
    axes.text(
        0.5, 0.5, words, transform=axes.transAxes, ha="center", va="center", fontsize=10.0,
        color=COLOURS["soft ink"],
    )  # fmt: skip


def plain_numbers(axes: Axes) -> None:
    """Write the upright axis's numbers in full: its unit makes powers of ten needless."""
    axes.ticklabel_format(axis="y", style="plain", useOffset=False)
