"""Figures inside a page: no size, no style for the whole page, colours that follow the theme."""

import re
import xml.etree.ElementTree as ET

import pytest
from machines import shipped

from fieldsim.charts.figure_style import COLOURS, LINE_COLOURS, figure_svg, new_figure
from fieldsim.charts.waveform_curves import draw_emf
from fieldsim.drawing.machine_drawing import draw_view
from fieldsim.report.themed_svg import DARK, LIGHT, inline_svg


@pytest.fixture(scope="module")
def svg():
    figure = new_figure(100.0, 60.0)
    draw_emf(figure.add_subplot(), [0.0, 1.0], {"a": [0.0, 1.0], "b": [1.0, 0.0]})
    return figure_svg(figure, "f-")


def test_themed_figure(svg):
    made = inline_svg(svg, 'peaks at 3 V & "more"')
    root = ET.fromstring(made.replace("xlink:href", "href"))
    assert root.get("role") == "img"
    assert root.get("aria-label") == 'peaks at 3 V & "more"'
    assert root.get("width") is root.get("height") is None
    assert root.get("viewBox")
    assert "<style" not in made
    assert "<metadata" not in made
    for name in ("ink", "card", "line1", "line2"):
        assert f"var(--{name})" in made
    left = set(re.findall(r"#[0-9a-f]{6}\b", made))
    assert not left & {*LINE_COLOURS, *(COLOURS[n] for n in ("ink", "soft ink", "grid", "paper"))}


def test_a_drawing_keeps_the_colours_of_its_parts():
    figure = new_figure(100.0, 60.0)
    draw_view(figure.add_subplot(), shipped("two_facing_rotors"), (1, 0, 0))
    made = inline_svg(figure_svg(figure, "f-"), "x")
    left = set(re.findall(r"#[0-9a-f]{6}\b", made))
    parts = ("north", "south", "winding cut", "shaft", "dark on parts")
    assert {COLOURS[name] for name in parts} <= left
    # Ink, numbers, arrows and names beside the parts follow the page.
    themed = ("ink", "soft ink", "grid", "paper", "turning", "coil name")
    assert not left & {COLOURS[name] for name in themed}
    assert {"var(--ink)", "var(--card)", "var(--turning)"} <= set(re.findall(r"var\(--\w+\)", made))


def test_only_svg():
    with pytest.raises(ValueError, match="no SVG element"):
        inline_svg("<p>", "x")


def luminance(colour):
    """Relative luminance, WCAG 2.1, definition in its glossary."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, two):
    high, low = sorted((luminance(one), luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colours", [LIGHT, DARK])
def test_words_and_curves_stand_out(colours):
    assert set(colours) == set(LIGHT)
    for name in ("ink", "soft", "turning", "coil"):
        assert contrast(colours[name], colours["card"]) >= 4.5  # WCAG 2.1, 1.4.3
    for name in DARK:
        if name.startswith("line"):
            # WCAG 2.1, 1.4.11 asks for 3; yellow cannot have it on white, and carries a style
            # and a marker of its own besides.
            least = 1.9 if colours is LIGHT and name in ("line5", "line3", "line2") else 3.0
            assert contrast(colours[name], colours["card"]) >= least, name
