"""Letters on the poles, arrows for the sense of turning, and names of rotors and coils."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import COLOURS, plain_text
from fieldsim.drawing.label_places import Anchor, LabelPlacer, letter_place
from fieldsim.drawing.painter_order import Boxes, Outline, within
from fieldsim.drawing.painting import flat_faces, turned
from fieldsim.drawing.solids import Material, Solid
from fieldsim.drawing.turning_arrows import TurningArrow, arrow_lines, turning_words
from fieldsim.drawing.views import View
from fieldsim.machine.machine import Machine

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["NAME_PT", "draw_turning_arrows", "letter_poles", "name_coils", "point_mm"]

Points = NDArray[np.float64]

NAME_PT = 8.0
"""Font size of the names of rotors and coils."""

_STILL = (Material.WINDING, Material.IRON)
_LETTERS = (28, 20, 14)
_STEPS_AWAY = (1.0, 2.5, 5.0, 9.0)  # of a name from its part, over the least
_CAPITAL = 0.73  # height of a capital letter over font size


def letter_poles(
    axes: Axes, outlines: Sequence[Outline], view: View, placer: LabelPlacer, *, shaded: bool
) -> None:
    """Write N and S on the poles where they can be read; in space, each on one flat face."""
    unit_mm = point_mm(axes)
    ink = {Material.NORTH: COLOURS["bright on parts"], Material.SOUTH: COLOURS["dark on parts"]}
    hulls = [o.hull for o in outlines]
    boxes = Boxes(hulls)
    for i, outline in enumerate(outlines):
        body = outline.body
        if not isinstance(body, Solid) or body.material not in ink:
            continue
        covers = [hulls[k] for k in boxes.meeting(hulls[i]) if k > i and len(hulls[k]) > 2]
        spots = [outline.hull]
        if shaded:
            spots = flat_faces(body, view) or spots
        found = [f for f in (letter_place(spot, covers, unit_mm) for spot in spots) if f]
        if not found:
            continue
        (x, y), size = max(found, key=lambda f: f[1])
        letter = "N" if body.material is Material.NORTH else "S"
        capital = _CAPITAL * size * unit_mm  # height of a capital; the text's own box is taller
        text = axes.text(
            x, y - capital / 2, letter, fontsize=size, fontweight="bold",
            color=ink[body.material], ha="center", va="baseline", zorder=5, clip_on=True,
        )  # fmt: skip
        placer.note(text)


def draw_turning_arrows(
    axes: Axes, machine: Machine, arrows: Sequence[TurningArrow], placer: LabelPlacer
) -> None:
    """Draw the arrows and write each rotor's name and gear ratio beside its arrow."""
    from matplotlib.patches import Polygon

    for arrow in arrows:
        placer.keep_clear_of(arrow.path_mm)
        if arrow.behind_mm is not None:
            placer.keep_clear_of(arrow.behind_mm)
    for arrow in arrows:
        if arrow.behind_mm is not None:
            axes.plot(
                *arrow.behind_mm.T, color=COLOURS["turning"], linewidth=1.0, alpha=0.55, zorder=2.6
            )
        shaft, head = _with_head(arrow.path_mm, 7.0 * point_mm(axes))
        axes.plot(
            *shaft.T, color=COLOURS["turning"], linewidth=1.8, solid_capstyle="butt", zorder=5
        )
        axes.add_patch(Polygon(head, closed=True, facecolor=COLOURS["turning"], zorder=5))
        rotor = machine.placed_rotor(arrow.rotor)
        ratio = turning_words(rotor).removeprefix(rotor.name)
        behind = [f"{plain_text(rotor.name, 12)}{ratio}, behind"] if arrow.hindmost else []
        placer.place(
            [*behind, *_shorter(rotor.name, ratio)],
            _places_around(arrow, axes),
            fontsize=NAME_PT, color=COLOURS["turning"], fontweight="bold", zorder=6,
        )  # fmt: skip


def name_coils(
    axes: Axes, outlines: Sequence[Outline], view: View, placer: LabelPlacer, *, shaded: bool
) -> None:
    """Write the name of each coil and piece of iron: in its opening or on it if it fits, or beside.

    What is cut open is hatched, and bears no name.
    """
    windings: dict[str, list[Points]] = {}
    faces: dict[str, list[Anchor]] = {}
    solids = [o for o in outlines if isinstance(o.body, Solid)]
    for order, outline in enumerate(solids):
        body = outline.body
        named = isinstance(body, Solid) and bool(body.part)
        if isinstance(body, Solid) and named and body.material in _STILL:
            windings.setdefault(body.part, []).append(outline.hull)
            plain = [] if any(face.cut for face in body.faces) else [outline.hull]
            faces.setdefault(body.part, []).extend(
                Anchor((face.min(axis=0) + face.max(axis=0)) / 2, 0.5, 0.5, on=face, order=order)
                for face in (flat_faces(body, view) if shaded else plain)
            )
    gap = 0.012 * (axes.get_xlim()[1] - axes.get_xlim()[0])
    for name, hulls in windings.items():
        points = np.concatenate(hulls)
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        xm, ym = (x0 + x1) / 2, (y0 + y1) / 2
        places = list(faces.get(name, []))
        if not shaded:
            inside = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            places.insert(0, Anchor(np.array([xm, ym]), 0.5, 0.5, on=inside))
        for k in _STEPS_AWAY:
            d = k * gap
            places += [
                Anchor(np.array([xm, y1 + d]), 0.5, 0.0),
                Anchor(np.array([x1 + d, ym]), 0.0, 0.5),
                Anchor(np.array([xm, y0 - d]), 0.5, 1.0),
                Anchor(np.array([x0 - d, ym]), 1.0, 0.5),
                Anchor(np.array([x0, y1 + d]), 0.0, 0.0),
                Anchor(np.array([x1, y1 + d]), 1.0, 0.0),
                Anchor(np.array([x0, y0 - d]), 0.0, 1.0),
                Anchor(np.array([x1, y0 - d]), 1.0, 1.0),
                Anchor(np.array([x1 + d, y1 + d]), 0.0, 0.0),
                Anchor(np.array([x0 - d, y1 + d]), 1.0, 0.0),
                Anchor(np.array([x1 + d, y0 - d]), 0.0, 1.0),
                Anchor(np.array([x0 - d, y0 - d]), 1.0, 1.0),
                Anchor(np.array([x1 + d, y0 - gap]), 1.0, 1.0),
                Anchor(np.array([x0 - d, y0 - gap]), 0.0, 1.0),
                Anchor(np.array([x1 + d, y1 + gap]), 1.0, 0.0),
                Anchor(np.array([x0 - d, y1 + gap]), 0.0, 0.0),
            ]
        text = placer.place(
            _shorter(name), places,
            fontsize=NAME_PT, color=COLOURS["coil name"], fontweight="bold", zorder=6,
        )  # fmt: skip
        middle = placer.middle_mm(text)[None]
        if any(within(middle, turned(o.hull))[0] for o in solids):
            text.set_color(COLOURS["dark on parts"])


def _shorter(name: str, after: str = "") -> list[str]:
    """Return a name shortened ever more, always with what stands after it."""
    return [plain_text(name, letters - len(after)) + after for letters in _LETTERS]


def point_mm(axes: Axes) -> float:
    """Return the length of one typographic point on the picture, in the picture's mm."""
    low, high = axes.transData.transform([(0, 0), (1, 0)])
    return float(axes.figure.dpi / 72.0 / (high[0] - low[0]))


def _with_head(path: Points, length_mm: float) -> tuple[Points, Points]:
    """Return a path shortened by an arrow head at its end, and the head's three corners."""
    tip = path[-1]
    far = np.sqrt(((path - tip) ** 2).sum(axis=1))
    kept = path[: max(2, int(np.argmax(far < length_mm)) + 1)]
    base = kept[-1]
    back = tip - base
    back = back / max(float(np.hypot(*back)), 1e-9)
    side = np.array([-back[1], back[0]])
    base = tip - back * length_mm
    return kept, np.array([tip, base + 0.45 * length_mm * side, base - 0.45 * length_mm * side])


def _places_around(arrow: TurningArrow, axes: Axes) -> list[Anchor]:
    """Return places for an arrow's name: beside its middle and its ends, on all sides."""
    points = np.vstack(arrow_lines([arrow]))
    gap = 0.012 * (axes.get_xlim()[1] - axes.get_xlim()[0])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    xm, ym = (x0 + x1) / 2, (y0 + y1) / 2
    places: list[Anchor] = []
    for k in _STEPS_AWAY:
        d = k * gap
        places += [
            Anchor(np.array([x1 + d, ym]), 0.0, 0.5),
            Anchor(np.array([x0 - d, ym]), 1.0, 0.5),
            Anchor(np.array([xm, y1 + d]), 0.5, 0.0),
            Anchor(np.array([xm, y0 - d]), 0.5, 1.0),
            Anchor(np.array([x1 + d, y1]), 0.0, 0.0),
            Anchor(np.array([x1 + d, y0]), 0.0, 1.0),
            Anchor(np.array([x0 - d, y1]), 1.0, 0.0),
            Anchor(np.array([x0 - d, y0]), 1.0, 1.0),
            Anchor(np.array([x0, y1 + d]), 0.0, 0.0),
            Anchor(np.array([x0, y0 - d]), 0.0, 1.0),
            Anchor(np.array([x1, y1 + d]), 1.0, 0.0),
            Anchor(np.array([x1, y0 - d]), 1.0, 1.0),
        ]
    return places
