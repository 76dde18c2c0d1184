"""What a picture consists of, read back from its SVG: texts, lines, areas and marks, in order."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.etree import ElementTree

import numpy as np

_MANY = 60

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_PAIR = re.compile(r"[MLQC ]*(-?\d[\d.e-]*)[ ,](-?\d[\d.e-]*)")


@dataclass(frozen=True)
class Text:
    """A piece of writing: where it begins, from the upper left, and its size, in points."""

    words: str
    x: float
    y: float
    size: float
    style: str


@dataclass(frozen=True, eq=False)
class Shape:
    """A line, area or mark: its points, (points, 2), from the upper left, in points."""

    kind: str
    style: str
    points: np.ndarray = field(repr=False)


def read(svg: str) -> list[Text | Shape]:
    """Return all texts and shapes of an SVG document that matplotlib wrote, in order."""
    parser = ElementTree.XMLParser(target=ElementTree.TreeBuilder(insert_comments=True))
    root = ElementTree.fromstring(svg, parser)
    glyphs = {
        f"#{path.get('id')}": path
        for defs in root.iter(f"{SVG}defs")
        for path in defs.iter(f"{SVG}path")
    }
    found: list[Text | Shape] = []
    _walk(root, glyphs, found)
    return found


def texts(svg: str) -> list[Text]:
    """Return the texts of an SVG document."""
    return [part for part in read(svg) if isinstance(part, Text)]


def _walk(node, glyphs, found) -> None:
    words = ""
    for child in node:
        if child.tag is ElementTree.Comment:
            words = child.text.strip()
        elif child.tag == f"{SVG}defs":
            continue
        elif words and child.tag == f"{SVG}g":
            x, y, size = _placed(child.get("transform", ""))
            found.append(Text(words, x, y, 100 * size, child.get("style", "")))
            words = ""
        elif child.tag == f"{SVG}path":
            style = re.sub(r"url\(#\w+\)", "hatched", child.get("style", ""))
            found.append(Shape("path", style, _points(child.get("d", ""))))
        elif child.tag == f"{SVG}use":
            mark = glyphs[child.get(LINK)]
            place = np.array([float(child.get("x", 0)), float(child.get("y", 0))])
            style = child.get("style", "") or mark.get("style", "")
            found.append(Shape("mark", style, _points(mark.get("d", "")) + place))
        elif child.tag == f"{SVG}image":
            x, y, w, h = (float(child.get(k, 0)) for k in ("x", "y", "width", "height"))
            found.append(Shape("image", "", np.array([[x, y], [x + w, y + h]])))
        else:
            _walk(child, glyphs, found)


def _placed(transform: str) -> tuple[float, float, float]:
    """Return where a text begins and its scale."""
    x, y = (
        (float(v) for v in _NUMBER.findall(transform)[:2]) if "translate" in transform else (0, 0)
    )
    scale = re.search(r"scale\((-?[\d.]+)", transform)
    return x, y, float(scale[1]) if scale else 1.0


def _points(path: str) -> np.ndarray:
    numbers = [float(v) for v in _NUMBER.findall(path)]
    return np.array(numbers[: len(numbers) // 2 * 2]).reshape(-1, 2)


def described(svg: str) -> str:
    """Return one line for each text, and for each run of shapes of one look.

    A run tells how many shapes and points it has and where they lie: least, mean and most of x and
    of y. A shape that moves, grows, loses its colour or goes elsewhere in the order changes a line.
    Of many points only the ends are told: how many a long curve keeps is the drawing library's.
    """
    lines: list[str] = []
    run: list[Shape] = []

    def close() -> None:
        if run:
            points = np.concatenate([shape.points for shape in run])
            many = len(points) > _MANY
            spread = ", ".join(
                f"{v.min():.1f}{'' if many else f' {v.mean():.1f}'} {v.max():.1f}"
                for v in points.T
                if len(points)
            )
            count = "many" if many else str(len(points))
            lines.append(f"{len(run)} {run[0].kind}: {count} at {spread}; {run[0].style}")
            run.clear()

    for part in read(svg):
        if isinstance(part, Text):
            close()
            lines.append(
                f'"{part.words}" at {part.x:.1f}, {part.y:.1f}; size {part.size:.1f}; {part.style}'
            )
            continue
        if run and (run[0].kind, run[0].style) != (part.kind, part.style):
            close()
        run.append(part)
    close()
    return "\n".join(lines)
