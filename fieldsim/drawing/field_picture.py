"""The flux density near a coil as a picture: its size in colour, its direction as lines."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import COLOURS, figure_style, style_axes
from fieldsim.drawing.iron_solids import iron_solids
from fieldsim.drawing.label_places import letter_place
from fieldsim.drawing.painting import CUT_LOOK
from fieldsim.drawing.solids import (
    Material,
    coil_solids,
    cut_solid,
    magnet_frame,
    rotor_angle_rad,
    rotor_solids,
)
from fieldsim.drawing.views import View, axis_label, shaft_and_coil_view
from fieldsim.field.iron.iron_flux import flux_with_iron_T
from fieldsim.field.iron.reach import from_rotor
from fieldsim.machine.machine import Machine
from fieldsim.machine.magpylib_collection import magpylib_rotor
from fieldsim.words.numbers import plain_number, typeset

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["crank_at_coil_rad", "draw_field", "field_on_plane"]

Points = NDArray[np.float64]

_COLUMNS = 240
_COLUMNS_WITH_IRON = 120  # every one costs as many sums as the iron has nodes
_FEWEST_COLUMNS = 80
_MAGNETS = 100  # that are drawn as finely as few: every point costs a field of each
_DECADES = 2.5
_FLATTEST, _TALLEST = 1.55, 1.1  # width over height, height over width
_MARGIN = 0.22
_TRIFLE_M = 1e-7
_FAINT = 1e-3  # of the largest: below it, lines would follow what symmetry leaves of the field
_SAME_M = 1e-6


def draw_field(
    axes: Axes, machine: Machine, plane: View | None = None, crank_angle_rad: float = 0.0
) -> Axes:
    """Draw the flux density of magnets and iron in a plane, with all parts outlined.

    Parameters
    ----------
    axes
        To draw in; the scale of colours takes a strip from their right side.
    machine
        The machine.
    plane
        Where; by default the plane that holds the main shaft and a coil's centre.
    crank_angle_rad
        Where the crank stands.

    Returns
    -------
    Axes
        The same axes.

    Notes
    -----
    The colours show the whole flux density, on a logarithmic scale; the lines follow the part of
    it that lies in the plane. The coil carries no current.
    """
    from matplotlib.colors import LogNorm
    from matplotlib.ticker import FuncFormatter, LogLocator

    plane = plane or shaft_and_coil_view(machine)
    low, high = _window_mm(machine, plane, crank_angle_rad)
    columns = _columns(machine)
    rows = max(24, round(columns * (high[1] - low[1]) / (high[0] - low[0])))
    across = np.linspace(low[0], high[0], columns)
    up = np.linspace(low[1], high[1], rows)
    field = field_on_plane(machine, plane, across * 1e-3, up * 1e-3, crank_angle_rad)
    size_mT = np.sqrt((field**2).sum(axis=-1)) * 1e3
    # Edges of magnets are singular; a few bright points there must not set the scale.
    largest = float(np.quantile(size_mT, 0.995))
    smallest = largest * 10**-_DECADES
    unit_mT, unit = (1e3, "T") if largest > 5e3 else (1.0, "mT")
    with figure_style():
        what = "magnets and iron" if machine.placed_iron else "the magnets"
        degrees = plain_number(np.degrees(crank_angle_rad), 4)
        title = f"Flux density of {what}, crank at {degrees}°"
        style_axes(axes, axis_label(plane.right), axis_label(plane.up), typeset(title))
        axes.grid(visible=False)
        axes.set_aspect("equal")
        axes.set_xlim(low[0], high[0])
        axes.set_ylim(low[1], high[1])
        if largest > 0:
            picture = axes.imshow(
                size_mT.clip(smallest, largest) / unit_mT,
                extent=(low[0], high[0], low[1], high[1]), origin="lower",
                norm=LogNorm(smallest / unit_mT, largest / unit_mT), cmap="cividis",
                interpolation="bilinear", zorder=1,
            )  # fmt: skip
            strip = axes.inset_axes((1.025, 0.0, 0.03, 1.0))
            bar = axes.figure.colorbar(picture, cax=strip)
            strip.set_ylabel(f"flux density ({unit})", fontsize=9, color=COLOURS["ink"])
            strip.tick_params(labelsize=8.5, colors=COLOURS["ink"], width=0.8)
            bar.locator = LogLocator(subs=(1.0, 2.0, 5.0))
            bar.formatter = FuncFormatter(lambda value, _: f"{value:g}")
            bar.minorticks_off()
            strip.spines["outline"].set_visible(False)
            _draw_lines(axes, across, up, field)
        _outline_cuts(axes, machine, plane, crank_angle_rad)
    return axes


def _columns(machine: Machine) -> int:
    """Return how fine a picture is: the more magnets, the rougher."""
    magnets = sum(len(rotor.magnets) for rotor in machine.placed_rotors)
    most = _COLUMNS_WITH_IRON if machine.placed_iron else _COLUMNS
    return max(_FEWEST_COLUMNS, round(most * min(1.0, math.sqrt(_MAGNETS / max(magnets, 1)))))


def field_on_plane(
    machine: Machine,
    plane: View,
    across_m: Points,
    up_m: Points,
    crank_angle_rad: float = 0.0,
) -> Points:
    """Return the flux density of magnets and iron over a grid in a plane.

    Parameters
    ----------
    machine
        The machine.
    plane
        Where, and which way the grid lies.
    across_m, up_m
        Picture coordinates of the grid's columns (columns,) and rows (rows,) [m].
    crank_angle_rad
        Where the crank stands.

    Returns
    -------
    ndarray
        (rows, columns, 3): components to the right, up, and towards the reader [T].
    """
    axes = np.array([plane.right, plane.up, plane.towards])
    level = float(axes[2] @ np.array(plane.through))
    x, y = np.meshgrid(across_m, up_m)
    points = np.stack([x, y, np.full_like(x, level)], axis=-1) @ axes
    rotors = [rotor for rotor in machine.placed_rotors if rotor.magnets]
    sources: list[Any] = [
        magpylib_rotor(rotor, rotor_angle_rad(rotor, crank_angle_rad)) for rotor in rotors
    ]

    def of_magnets_T(at: Points) -> Points:
        return np.asarray(sum((source.getB(at) for source in sources), np.zeros_like(at)))

    reaches = [from_rotor(rotor) for rotor in rotors]
    flat = flux_with_iron_T(machine.placed_iron, reaches, of_magnets_T, points.reshape(-1, 3))
    field: Points = flat.reshape(points.shape) @ axes.T
    return field


def crank_at_coil_rad(machine: Machine, plane: View | None = None) -> float:
    """Return the least turn of the crank that brings a magnet nearest to the middle of a plane.

    Parameters
    ----------
    machine
        The machine.
    plane
        Where; by default the plane that holds the main shaft and a coil's centre, which is its
        middle then. If that lies on a rotor's shaft, the rotor's magnets are brought into the
        plane.

    Returns
    -------
    float
        From zero on, forward [rad].
    """
    plane = plane or shaft_and_coil_view(machine)
    middle, towards = np.array(plane.through), np.array(plane.towards)
    found = [(math.inf, 0.0)]
    for rotor in machine.placed_rotors:
        along, foot = np.array(rotor.shaft.along), np.array(rotor.shaft.through)
        aim = _across(middle - foot, along)
        if np.hypot.reduce(aim) < _SAME_M:
            aim = np.cross(towards, along)
        for mounted in rotor.magnets:
            arm = _across(magnet_frame(rotor, mounted)[0] - foot, along)
            angle = math.atan2(float(along @ np.cross(arm, aim)), float(arm @ aim))
            turn = 0.0
            if rotor.gear_ratio:
                ratio = float(rotor.gear_ratio)
                turn = angle / ratio % (2 * math.pi / abs(ratio))
                if abs(ratio) * turn > 2 * math.pi - 1e-9:  # a whole turn but for rounding
                    turn = 0.0
            off = np.hypot.reduce(magnet_frame(rotor, mounted, turn)[0] - middle)
            found.append((_SAME_M * round(float(off) / _SAME_M), turn))
    return min(found)[1]


def _across(vector: Points, along: Points) -> Points:
    across: Points = vector - along * (vector @ along)
    return across


def _window_mm(machine: Machine, plane: View, crank_angle_rad: float) -> tuple[Points, Points]:
    """Return the lower left and upper right corner of the picture, not too flat."""
    magnets = rotor_solids(machine, crank_angle_rad)
    windings = [side for coil in machine.placed_coils for side in coil_solids(coil)]
    windings += iron_solids(machine)
    corners = plane.flat_mm(np.concatenate([s.corners for s in [*magnets, *windings]]))
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle, span = (low + high) / 2, (high - low) + 2 * _MARGIN * float((high - low).min())
    span = np.maximum(span, span[::-1] / np.array([_TALLEST, _FLATTEST]))
    return middle - span / 2, middle + span / 2


def _draw_lines(axes: Axes, across: Points, up: Points, field: Points) -> None:
    flat = np.sqrt((field[..., :2] ** 2).sum(axis=-1))
    # Where symmetry sends the whole field through the plane, little or only rounding is left in
    # it, and lines would break off anywhere. Edges of magnets must not set the scale.
    shown = flat > _FAINT * float(np.quantile(np.sqrt((field**2).sum(axis=-1)), 0.995))
    if not shown.any():
        return
    before = len(axes.patches)
    right, upward = (np.where(shown, field[..., i], np.nan) for i in (0, 1))
    axes.streamplot(
        across, up, right, upward, color="#e9eef5", density=(0.7, 0.5),
        linewidth=0.7, arrowsize=0.8, zorder=2,
    )  # fmt: skip
    for arrow in axes.patches[before:]:
        arrow.set_in_layout(False)  # hundreds of arrows need not be measured for the layout


def _outline_cuts(axes: Axes, machine: Machine, plane: View, crank_angle_rad: float) -> None:
    """Outline where magnets and windings meet the plane, and letter the poles."""
    from matplotlib.patches import Polygon
    from matplotlib.patheffects import withStroke

    towards = np.array(plane.towards)
    level = float(towards @ np.array(plane.through))
    box = axes.get_window_extent()
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    scale = max((x1 - x0) / box.width, (y1 - y0) / box.height)
    point_mm = axes.figure.dpi / 72.0 * scale
    halo = [withStroke(linewidth=2.4, foreground=COLOURS["bright on parts"])]
    windings = [side for coil in machine.placed_coils for side in coil_solids(coil)]
    windings += iron_solids(machine)
    for solid in [*rotor_solids(machine, crank_angle_rad), *windings]:
        # The plane often passes just between the poles: look a trifle behind it then.
        sections = [cut_solid(solid, towards, level + step) for step in (0.0, -_TRIFLE_M)]
        section = next((s for s in sections if s is not None and s is not solid), None)
        if section is None:
            continue
        outline = plane.flat_mm(next(f.corners for f in section.faces if f.cut))
        if solid.material in CUT_LOOK:
            axes.add_patch(
                Polygon(
                    outline, closed=True, facecolor="none", edgecolor=COLOURS["bright on parts"],
                    linewidth=1.4, zorder=3, hatch=CUT_LOOK[solid.material]["hatch"],
                )
            )  # fmt: skip
            continue
        is_north = solid.material is Material.NORTH
        axes.add_patch(
            Polygon(
                outline, closed=True, facecolor=COLOURS["north" if is_north else "south"],
                edgecolor=COLOURS["dark on parts"], linewidth=0.9, zorder=3.5, path_effects=halo,
            )
        )  # fmt: skip
        x, y = outline.T
        turned = outline if x @ np.roll(y, -1) > y @ np.roll(x, -1) else outline[::-1]
        found = letter_place(turned, [], point_mm)
        if found is not None:
            (x_mm, y_mm), size = found
            axes.text(
                x_mm, y_mm - 0.365 * size * point_mm, "N" if is_north else "S", fontsize=size,
                fontweight="bold", ha="center", va="baseline", zorder=4,
                color=COLOURS["bright on parts" if is_north else "dark on parts"],
            )  # fmt: skip
