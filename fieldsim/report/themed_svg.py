"""Figures inside a page: colours that follow the page's light or dark theme, and a text instead."""

from __future__ import annotations

import re

from fieldsim.charts.figure_style import COLOURS, LINE_COLOURS
from fieldsim.report.markup import Markup, text

__all__ = ["DARK", "LIGHT", "inline_svg"]

_NAMES = {
    COLOURS["ink"]: "ink",
    COLOURS["soft ink"]: "soft",
    COLOURS["grid"]: "grid",
    COLOURS["paper"]: "card",
    COLOURS["turning"]: "turning",
    COLOURS["coil name"]: "coil",
    **{colour: f"line{i}" for i, colour in enumerate(LINE_COLOURS, start=1)},
}
LIGHT = {name: colour for colour, name in _NAMES.items()}
"""Colours of a light page by the name of their CSS variable: those of the figures themselves."""

DARK = {
    "ink": "#e8edf2",
    "soft": "#a9b5c1",
    "grid": "#36424f",
    "card": "#1b242d",
    "turning": "#6fd6bf",
    "coil": "#f0c57e",
    "line1": "#86b6f5",
    "line2": "#ff9a55",
    "line3": "#62d3bf",
    "line4": "#e592b6",
    "line5": "#f0d36a",
    "line6": "#d5dade",
}
"""The same on a dark page, in the same order of hues."""

_HEAD = re.compile(r"<svg\b[^>]*>", re.DOTALL)
_SIZE = re.compile(r'\s(width|height)="[^"]*"')
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_STYLE = re.compile(r'\s*<style type="text/css">.*?</style>', re.DOTALL)
_COLOUR = re.compile(r"#[0-9a-fA-F]{6}\b")


def inline_svg(svg: str, label: str) -> Markup:
    """Return an SVG element made by `fieldsim.charts.figure_style.figure_svg` for a page.

    Parameters
    ----------
    svg
        The element.
    label
        What is to be seen, for who cannot see it.

    Notes
    -----
    Ink, paper and curves take the page's colours; those that mean something, of poles, copper and
    the field, stay. The element loses its size, so that the page gives it one, its metadata, and
    the style sheet inside, which would apply to the whole page.
    """
    svg = _STYLE.sub("", _METADATA.sub("", svg))
    head = _HEAD.match(svg)
    if head is None:
        raise ValueError("this is no SVG element")
    opening = _SIZE.sub("", head[0])[:-1] + f' role="img" aria-label="{text(label)}">'
    body = _COLOUR.sub(lambda found: _variable(found[0]), svg[head.end() :])
    return Markup(opening + body.strip())


def _variable(colour: str) -> str:
    name = _NAMES.get(colour.lower())
    return f"var(--{name})" if name else colour
