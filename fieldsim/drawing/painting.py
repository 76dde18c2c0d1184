"""Filling and lining a machine's parts, back to front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import COLOURS
from fieldsim.drawing.painter_order import Outline
from fieldsim.drawing.solids import Face, Material, Rod, Solid
from fieldsim.drawing.views import View

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "BEHIND_CUT",
    "CUT_LOOK",
    "ROD_LOOK",
    "flat_faces",
    "paint",
    "rod_lines",
    "turned",
]

Points = NDArray[np.float64]

BEHIND_CUT = "#f4e6cb"
"""Colour of the winding behind the cut."""

ROD_LOOK: dict[Material, dict[str, Any]] = {
    Material.SHAFT: {"color": COLOURS["shaft"], "linewidth": 3.0},
    Material.ARM: {"color": "#aab3bd", "linewidth": 2.0},
}
_FILL = {
    Material.NORTH: COLOURS["north"],
    Material.SOUTH: COLOURS["south"],
    Material.WINDING: COLOURS["winding"],
    Material.IRON: COLOURS["iron"],
}
CUT_LOOK: dict[Material, dict[str, Any]] = {
    Material.WINDING: {"facecolor": COLOURS["winding cut"], "hatch": "////"},
    Material.IRON: {"facecolor": COLOURS["iron cut"], "hatch": "\\\\\\\\"},
}
"""Colour and hatch of a part where it is cut open."""


def paint(axes: Axes, outlines: Sequence[Outline], view: View, *, shaded: bool) -> None:
    """Draw the parts in the order given, lit from the upper left if ``shaded``."""
    from matplotlib.collections import LineCollection, PolyCollection

    light = np.array(view.right) * -0.35 + np.array(view.up) * 0.75 + np.array(view.towards) * 0.56
    towards = np.array(view.towards)
    for i, outline in enumerate(outlines):
        level = 3.0 + i / (len(outlines) + 1)
        body = outline.body
        if isinstance(body, Rod):
            if np.ptp(outline.hull, axis=0).max() > 1e-6:
                x, y = outline.hull.T
                axes.plot(x, y, zorder=level, solid_capstyle="butt", **ROD_LOOK[body.material])
            continue
        strokes: list[Any] = []
        fills: list[tuple[Points, Any]] = []
        cuts: list[Points] = []
        if not shaded:  # one flat colour needs one outline only
            behind = body.material is Material.WINDING
            fills.append((outline.hull, BEHIND_CUT if behind else _FILL[body.material]))
        for face, normal in zip(body.faces, body.planes[0], strict=True):
            if not face.shown or normal @ towards < 1e-9:
                continue
            flat = view.flat_mm(face.corners)
            if face.cut:
                cuts.append(flat)
            elif shaded:
                fills.append((flat, _shade(_FILL[body.material], float(normal @ light))))
            if all(face.edges):
                strokes.append(np.vstack([flat, flat[:1]]))
                continue
            following = np.roll(flat, -1, axis=0)
            strokes += [[a, b] for a, b, e in zip(flat, following, face.edges, strict=True) if e]
        colours = [c for _, c in fills]
        axes.add_collection(
            PolyCollection(
                [f for f, _ in fills], facecolors=colours, edgecolors=colours, linewidths=0.4,
                zorder=level,
            ),
            autolim=False,
        )  # fmt: skip
        if cuts:
            axes.add_collection(
                PolyCollection(
                    cuts, edgecolors=COLOURS["dark on parts"], linewidths=0.0, zorder=level,
                    **CUT_LOOK[body.material],
                ),
                autolim=False,
            )  # fmt: skip
        whole = body.material is Material.IRON and all(face.shown for face in body.faces)
        if whole or body.material in (Material.NORTH, Material.SOUTH):
            strokes.append(np.vstack([outline.hull, outline.hull[:1]]))
        axes.add_collection(
            LineCollection(
                strokes, colors=COLOURS["ink"], linewidths=0.8, capstyle="round", zorder=level
            ),
            autolim=False,
        )


def turned(flat: Points) -> Points:
    """Return an outline (corners, 2) in counter-clockwise order."""
    x, y = flat.T
    return flat if x @ np.roll(y, -1) >= y @ np.roll(x, -1) else flat[::-1]


def rod_lines(outlines: Sequence[Outline]) -> list[Points]:
    """Return each rod as a row of points (points, 2)."""
    share = np.linspace(0.0, 1.0, 81)[:, None]
    rods = [o.hull for o in outlines if isinstance(o.body, Rod)]
    return [(1 - share) * ends[0] + share * ends[1] for ends in rods]


def flat_faces(body: Solid, view: View) -> list[Points]:
    """Return the outlines of the flat faces towards the reader, counter-clockwise, large first."""
    towards = np.array(view.towards)
    faces = [
        turned(view.flat_mm(face.corners))
        for face, normal in zip(body.faces, body.planes[0], strict=True)
        if face.shown and _is_flat(face) and normal @ towards > 1e-3
    ]
    return sorted(faces, key=_area_mm2, reverse=True)


def _area_mm2(flat: Points) -> float:
    x, y = flat.T
    return 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))


def _is_flat(face: Face) -> bool:
    """Return whether a face is a flat side of the part, not a facet of a round one."""
    return all(face.edges) or (face.edges == (True, False, True, False) and len(face.corners) == 4)


def _shade(colour: str, brightness: float) -> tuple[float, float, float]:
    from matplotlib.colors import to_rgb

    shade = 0.70 + 0.30 * max(0.0, brightness)
    red, green, blue = to_rgb(colour)
    return shade * red, shade * green, shade * blue
