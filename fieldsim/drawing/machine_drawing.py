"""The machine to scale: along the shaft, from the side and in space.

Flat views show each winding cut open at its middle, with the half behind the cut in a lighter
tone, so that opening, length and build can be read off the axes. Poles differ in colour, in
lightness and by letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import (
    COLOURS,
    add_legend,
    figure_style,
    new_figure,
    plain_text,
    style_axes,
)
from fieldsim.drawing.angle_arcs import draw_angle_arcs
from fieldsim.drawing.iron_solids import core_solids, iron_solids, loose_iron_solids
from fieldsim.drawing.label_places import LabelPlacer
from fieldsim.drawing.labels import (
    NAME_PT,
    draw_turning_arrows,
    letter_poles,
    name_coils,
)
from fieldsim.drawing.painter_order import in_painter_order
from fieldsim.drawing.painting import (
    BEHIND_CUT,
    ROD_LOOK,
    paint,
    rod_lines,
)
from fieldsim.drawing.rods import shafts_and_arms, swept_circle_mm
from fieldsim.drawing.ruled_floor import RuledFloor
from fieldsim.drawing.solids import Material, coil_solids, cut_solid, rotor_solids
from fieldsim.drawing.turning_arrows import (
    TurningArrow,
    arrow_lines,
    turning_arrows,
    turning_words,
)
from fieldsim.drawing.views import (
    View,
    along_shaft_view,
    axis_label,
    oblique_view,
    seen_from,
    shaft_and_coil_view,
    view_from,
)
from fieldsim.machine.clearance.clearances import refuse_too_many
from fieldsim.machine.frames import Vec3, dot
from fieldsim.machine.machine import Machine
from fieldsim.machine.shaft import Shaft
from fieldsim.words.machine_words import machine_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.legend import Legend

__all__ = ["add_machine_legend", "draw_machine", "draw_view", "draw_view_3d"]

Points = NDArray[np.float64]

_MARGIN = np.array([0.11, 0.06])  # names stand to the right and left more often
_MOST_ROWS = 9
_ANGLE_ARC = 0.06  # radius over the picture's width


def draw_machine(
    machine: Machine, figure: Figure | None = None, crank_angle_rad: float = 0.0
) -> Figure:
    """Draw the machine from two sides and in space, with a legend and its parts in words.

    Parameters
    ----------
    machine
        The machine.
    figure
        To draw in; by default a new one of 240 mm x 185 mm.
    crank_angle_rad
        Where the crank stands.

    Returns
    -------
    Figure
        With three axes: along the shaft, from the side, in space.

    Raises
    ------
    ImpossibleError
        If it has too many parts.
    """
    refuse_too_many(machine)
    with figure_style():
        if figure is None:
            figure = new_figure(240.0, 185.0)
        figure.set_layout_engine("none")  # labels are placed by measure, so nothing may move after
        top = 0.90 if machine.title else 0.95
        height = (top - 0.07 - 0.12) / 2
        above = figure.add_axes((0.07, top - height, 0.40, height))
        beside = figure.add_axes((0.07, 0.07, 0.40, height))
        space = figure.add_axes((0.49, 0.38, 0.50, top - 0.38))
        if machine.title:
            figure.text(
                0.02, 0.965, plain_text(machine.title, 90),
                fontsize=13, fontweight="bold", va="center", parse_math=False,
            )  # fmt: skip
        _draw_flat(above, machine, along_shaft_view(machine), crank_angle_rad, "Along the shaft")
        _draw_flat(beside, machine, shaft_and_coil_view(machine), crank_angle_rad, "From the side")
        draw_view_3d(space, machine, crank_angle_rad)
        iron = bool(machine.placed_iron)
        add_machine_legend(
            figure, iron=iron, loc="upper left", bbox_to_anchor=(0.52, 0.36), ncols=2
        )
        words = machine_words(machine)
        shown = words if len(words) <= _MOST_ROWS else words[: _MOST_ROWS - 1]
        rest = len(words) - len(shown)
        lines = [plain_text(w, 88) for w in shown] + ([f"and {rest} more parts"] if rest else [])
        figure.text(
            0.525, 0.232, "\n".join(lines),
            fontsize=8, va="top", linespacing=1.4, parse_math=False,
        )  # fmt: skip
    return figure


def draw_view(
    axes: Axes, machine: Machine, direction: Vec3 | View, crank_angle_rad: float = 0.0
) -> Axes:
    """Draw the machine to scale as seen from a side, its windings cut open at their middle.

    Parameters
    ----------
    axes
        To draw in; their place on the page should not change afterwards.
    machine
        The machine.
    direction
        From the machine to the reader, of any length above zero; or a view.
    crank_angle_rad
        Where the crank stands.
    """
    with figure_style():
        view = direction if isinstance(direction, View) else view_from(direction)
        return _draw_flat(axes, machine, view, crank_angle_rad, "")


def draw_view_3d(axes: Axes, machine: Machine, crank_angle_rad: float = 0.0) -> Axes:
    """Draw the machine in space, from above and one side, over a floor ruled in millimetres.

    Parameters
    ----------
    axes
        Ordinary flat axes; the projection is parallel, so that equal lengths along one direction
        stay equal.
    machine
        The machine.
    crank_angle_rad
        Where the crank stands.
    """
    with figure_style():
        view = oblique_view(machine)
        magnets = rotor_solids(machine, crank_angle_rad)
        windings = [side for coil in machine.placed_coils for side in coil_solids(coil)]
        windings += iron_solids(machine)
        rods = shafts_and_arms(machine, magnets, windings, crank_angle_rad)
        outlines = in_painter_order([*magnets, *windings, *rods], view)
        hulls = [o.hull for o in outlines]
        arrows = turning_arrows(machine, magnets, hulls, view)
        axes.set_axis_off()
        axes.set_title("In space", fontsize=10, fontweight="bold", loc="left")
        floor = RuledFloor(np.concatenate([s.corners for s in [*magnets, *windings]]), view)
        _set_limits(axes, [*hulls, *arrow_lines(arrows), floor.reach_mm()], share=0.4)
        floor.draw(axes)
        paint(axes, outlines, view, shaded=True)
        placer = LabelPlacer(axes, [h for h in hulls if len(h) > 2])
        for line in rod_lines(outlines):
            placer.keep_clear_of(line)
        floor.label(axes, placer)
        letter_poles(axes, outlines, view, placer, shaded=True)
        draw_turning_arrows(axes, machine, arrows, placer)
        name_coils(axes, outlines, view, placer, shaded=True)
    return axes


def add_machine_legend(target: Axes | Figure, *, iron: bool = False, **placing: Any) -> Legend:
    """Add what the colours and lines of a machine drawing mean, iron where there is some."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    edge: dict[str, Any] = {"edgecolor": COLOURS["ink"], "linewidth": 0.8}
    with figure_style():
        handles = [
            Patch(facecolor=COLOURS["north"], **edge),
            Patch(facecolor=COLOURS["south"], **edge),
            Patch(facecolor=COLOURS["winding cut"], hatch="////", **edge),
            Patch(facecolor=BEHIND_CUT, **edge),
            Line2D([], [], **ROD_LOOK[Material.SHAFT]),
            Line2D([], [], color=COLOURS["turning"], linewidth=1.8, marker=">", markersize=5),
            Line2D([], [], color=COLOURS["ink"], linewidth=1.0, marker=">", markersize=4,
                   markerfacecolor="none", markeredgewidth=1.0),
            Line2D([], [], color=COLOURS["soft ink"], linewidth=0.9, linestyle=(0, (2, 2))),
        ]  # fmt: skip
        names = [
            "north pole (N)",
            "south pole (S)",
            "winding, cut at its middle",
            "winding behind the cut",
            "shaft",
            "turning, crank forward",
            "angle 0, and how angles grow",
            "swept by the magnets",
        ]
        if iron:
            handles.append(Patch(facecolor=COLOURS["iron"], **edge))
            names.append("iron")
        return add_legend(target, handles, names, **placing)


def _draw_flat(
    axes: Axes, machine: Machine, view: View, crank_angle_rad: float, title: str
) -> Axes:
    towards = np.array(view.towards)
    magnets = rotor_solids(machine, crank_angle_rad)
    windings = loose_iron_solids(machine)
    behind = list(windings)
    for coil in machine.placed_coils:
        level = float(np.array(coil.centre) @ towards)
        sides = [*coil_solids(coil), *core_solids(machine, coil.name)]
        halves = [cut_solid(side, towards, level) for side in sides]
        windings += sides
        behind += [half for half in halves if half is not None]
    rods = shafts_and_arms(machine, magnets, windings, crank_angle_rad)
    outlines = in_painter_order([*magnets, *behind, *rods], view)
    hulls = [o.hull for o in outlines]
    arrows = turning_arrows(machine, magnets, hulls, view)
    swept = [
        swept_circle_mm(rotor, magnets, view)
        for rotor in machine.placed_rotors
        if abs(dot(rotor.shaft.along, view.towards)) > 0.98
    ]
    words = f"{title}, {seen_from(view.towards)}" if title else ""
    style_axes(axes, axis_label(view.right), axis_label(view.up), words)
    paths = [*hulls, *arrow_lines(arrows), *swept]
    _set_limits(axes, [*paths, *_room_for_names(axes, machine, arrows, paths)])
    for circle in swept:
        axes.plot(
            *circle.T, color=COLOURS["soft ink"], linewidth=0.9, linestyle=(0, (2, 2)), zorder=2.5
        )
    paint(axes, outlines, view, shaded=False)
    for rotor in machine.placed_rotors:
        _centre_line(axes, rotor.shaft, view)
    left, right = axes.get_xlim()
    draw_angle_arcs(axes, machine, view, _ANGLE_ARC * (right - left))
    placer = LabelPlacer(axes, [h for h in hulls if len(h) > 2])
    for circle in swept:
        placer.keep_clear_of(circle, thin=True)
    seen_end_on = [view.flat_mm(np.array([rotor.shaft.through])) for rotor in machine.placed_rotors]
    for line in [*rod_lines(outlines), *seen_end_on]:
        placer.keep_clear_of(line)
    letter_poles(axes, outlines, view, placer, shaded=False)
    draw_turning_arrows(axes, machine, arrows, placer)
    name_coils(axes, outlines, view, placer, shaded=False)
    return axes


def _room_for_names(
    axes: Axes,
    machine: Machine,
    arrows: Sequence[TurningArrow],
    paths: Sequence[Points],
) -> list[Points]:
    """Return points (1, 2) that keep room for the names of arrows at the right end [mm]."""
    points = np.concatenate(list(paths))
    low, high = points.min(axis=0), points.max(axis=0)
    box = axes.get_window_extent()
    mm_per_pixel = float(max((high - low) / (box.width, box.height)))
    found = []
    for arrow in arrows:
        if arrow.behind_mm is None:
            continue
        words = turning_words(machine.placed_rotor(arrow.rotor))
        letter_mm = 0.75 * NAME_PT * axes.figure.dpi / 72.0 * mm_per_pixel  # bold, and a margin
        ends = arrow.behind_mm.min(axis=0), arrow.behind_mm.max(axis=0)
        share = (float(ends[0][0] + ends[1][0]) / 2 - low[0]) / (high[0] - low[0])
        reach = letter_mm * min(len(words), 28)
        if share > 0.75:
            found.append((ends[1] + (reach, 0.0))[None])
    return found


def _set_limits(axes: Axes, paths: Sequence[Points], share: float = 1.0) -> None:
    points = np.concatenate(list(paths))
    low, high = points.min(axis=0), points.max(axis=0)
    margin = share * _MARGIN * float((high - low).max()) + 1e-6
    box = axes.get_window_extent()
    # A name above or below takes a line, which a small picture has no margin for otherwise.
    line_mm = 2.0 * NAME_PT * axes.figure.dpi / 72.0 * float(((high - low) / box.size).max())
    margin[1] = max(margin[1], share * line_mm)
    low, high = low - margin, high + margin
    scale = float(max((high[0] - low[0]) / box.width, (high[1] - low[1]) / box.height))
    middle, half = (low + high) / 2, scale * np.array([box.width, box.height]) / 2
    axes.set_xlim(middle[0] - half[0], middle[0] + half[0])
    axes.set_ylim(middle[1] - half[1], middle[1] + half[1])
    axes.set_aspect("equal")  # the limits fit the box already; this holds when it is resized


def _centre_line(axes: Axes, shaft: Shaft, view: View) -> None:
    """Draw a shaft's centre line over everything, or a cross where it is seen end on."""
    look: dict[str, Any] = {"color": COLOURS["ink"], "linewidth": 0.8, "zorder": 4.5}
    middle = view.flat_mm(np.array(shaft.through))
    line = np.array([view.right, view.up]) @ np.array(shaft.along)
    low_x, high_x = axes.get_xlim()
    if np.hypot(*line) < 1e-6:
        reach = 0.02 * (high_x - low_x)
        for step in (np.array([reach, 0]), np.array([0, reach])):
            axes.plot(*np.array([middle - step, middle + step]).T, **look)
        axes.plot(*middle, marker="o", markersize=5, markerfacecolor=COLOURS["shaft"],
                  markeredgecolor=COLOURS["ink"], markeredgewidth=0.8, zorder=4.4)  # fmt: skip
        return
