"""Poles, field lines and colours where a reader of the picture would look for them.

Everything is read back from the artists and compared with the direction that the machine was
described with, or with a dipole's field in closed form.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import ball, block, coil, disc, machine_of, mounted, rotor, shipped
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import to_hex, to_rgb
from matplotlib.patches import FancyArrowPatch
from matplotlib.path import Path

from fieldsim.charts.figure_style import new_figure
from fieldsim.drawing.field_picture import draw_field
from fieldsim.drawing.machine_drawing import add_machine_legend, draw_view, draw_view_3d
from fieldsim.drawing.views import view_from
from fieldsim.machine.magnets import North

SHAPES = {"block": block(16, 14, 12), "disc": disc(14, 12), "ball": ball(14)}
# Where north points in space when the arm points along x and the shaft along z.
IN_SPACE = {
    North.OUT: (1, 0, 0),
    North.IN: (-1, 0, 0),
    North.FORWARD: (0, 1, 0),
    North.BACK: (0, -1, 0),
    North.PLUS_SHAFT: (0, 0, 1),
    North.MINUS_SHAFT: (0, 0, -1),
}
# A side to look from, and what the picture's axes are then called and mean.
SIDES = {
    (0, 0, 1): (("x (mm)", (1, 0, 0)), ("y (mm)", (0, 1, 0))),
    (0, -1, 0): (("x (mm)", (1, 0, 0)), ("z (mm)", (0, 0, 1))),
    (1, 0, 0): (("y (mm)", (0, 1, 0)), ("z (mm)", (0, 0, 1))),
}
PLACE_MM = np.array([22.0, 0.0, 30.0])


def field_figure(machine, view=None, crank_angle_rad=0.0):
    """Return a figure of the field, in the plane of shaft and coil or in another."""
    figure = new_figure()
    draw_field(figure.add_subplot(), machine, view, crank_angle_rad)
    return figure


def one_magnet(north, shape="block"):
    turning = rotor(mounted(SHAPES[shape], north=north, radius=PLACE_MM[0], height=PLACE_MM[2]))
    return machine_of(turning, coil(centre=(0, 22, 0)))


def letters(axes):
    return {t.get_text(): t for t in axes.texts if t.get_text() in ("N", "S")}


def middle(text):
    """Return where the middle of a letter is, in the picture's millimetres."""
    box = text.get_window_extent()
    return text.axes.transData.inverted().transform([(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2])


def colour_at(axes, place):
    """Return the colour of the uppermost area at a place."""
    found = [
        (areas.get_zorder(), to_hex(areas.get_facecolor()[i % len(areas.get_facecolor())]))
        for areas in axes.collections
        if isinstance(areas, PolyCollection)
        for i, path in enumerate(areas.get_paths())
        if path.contains_point(place)
    ]
    return max(found)[1]


def legend_colours():
    axes = new_figure().add_subplot()
    legend = add_machine_legend(axes)
    named = zip(legend.get_texts(), legend.legend_handles, strict=True)
    return {t.get_text(): h for t, h in named}


@pytest.mark.parametrize("side", SIDES, ids=str)
@pytest.mark.parametrize("north", North)
@pytest.mark.parametrize("shape", SHAPES)
def test_north_and_south_are_lettered_and_coloured_where_they_are(north, shape, side):
    axes = new_figure().add_subplot()
    draw_view(axes, one_magnet(north, shape), side)
    (across, right), (upward, up) = SIDES[side]
    assert (axes.get_xlabel(), axes.get_ylabel()) == (across, upward)
    flat = np.array([right, up])
    centre, towards_north = flat @ PLACE_MM, flat @ IN_SPACE[north]
    found = letters(axes)
    colours = {
        letter: to_hex(legend_colours()[f"{name} pole ({letter})"].get_facecolor())
        for letter, name in (("N", "north"), ("S", "south"))
    }
    if np.any(towards_north):
        assert set(found) == {"N", "S"}
    else:  # seen end on: the pole towards the reader
        assert set(found) == {"N" if np.dot(side, IN_SPACE[north]) > 0 else "S"}
    for letter, text in found.items():
        off = middle(text) - centre
        assert np.hypot(*off) < 9
        if np.any(towards_north):
            assert (off @ towards_north > 0.5) == (letter == "N")
        assert colour_at(axes, middle(text)) == colours[letter]


@pytest.mark.parametrize("north", [North.PLUS_SHAFT, North.MINUS_SHAFT])
def test_in_space_the_upper_pole_is_lettered_above(north):
    axes = new_figure(200, 150).add_subplot()
    draw_view_3d(axes, one_magnet(north))
    found = letters(axes)
    assert found  # a pole that no flat face shows has no letter
    heights = {letter: middle(text)[1] for letter, text in found.items()}
    upper = "N" if north is North.PLUS_SHAFT else "S"
    assert heights[upper] == max(heights.values())
    north_rgb = np.array(to_rgb(legend_colours()["north pole (N)"].get_facecolor()[:3]))
    south_rgb = np.array(to_rgb(legend_colours()["south pole (S)"].get_facecolor()[:3]))
    for letter, text in found.items():
        seen = np.array(to_rgb(colour_at(axes, middle(text))))
        # Faces are shaded, which keeps the proportions of red, green and blue.
        seen = seen / seen.max()
        own, other = (north_rgb, south_rgb) if letter == "N" else (south_rgb, north_rgb)
        assert np.abs(seen - own / own.max()).max() < 0.02
        assert np.abs(seen - other / other.max()).max() > 0.1


@pytest.mark.parametrize("north", [North.OUT, North.IN, North.PLUS_SHAFT, North.MINUS_SHAFT])
def test_the_field_picture_letters_the_poles_too(north):
    axes = new_figure().add_subplot()
    draw_field(axes, one_magnet(north), view_from((0, -1, 0)))
    flat = np.array([[1, 0, 0], [0, 0, 1]])
    for letter, text in letters(axes).items():
        ahead = (middle(text) - flat @ PLACE_MM) @ (flat @ IN_SPACE[north])
        assert (ahead > 0.5) == (letter == "N")
    assert set(letters(axes)) == {"N", "S"}


BALL_T, BALL_MM = 1.2, 12.0


def ball_field_T(points_mm):
    """Return the field of a ball with its north along x at the origin, in x and y, of (points, 2).

    A uniformly magnetised ball is a dipole outside and 2/3 Br inside, exactly.
    """
    x, y = np.asarray(points_mm, dtype=float).T
    r = np.hypot(x, y)
    share = BALL_T * (BALL_MM / 2) ** 3 / 3 / np.maximum(r, 1e-9) ** 5
    outside = np.stack([share * (3 * x * x - r * r), share * 3 * x * y], axis=-1)
    inside = np.array([2 * BALL_T / 3, 0.0])
    return np.where((r < BALL_MM / 2)[:, None], inside, outside)


@pytest.fixture(scope="module")
def ball_picture():
    turning = rotor(mounted(ball(BALL_MM), radius=0, height=0, north=North.OUT))
    far = coil(centre=(0, 30, 0), opening=(8, 8), length=6, build=3)
    axes = new_figure().add_subplot()
    return draw_field(axes, machine_of(turning, far), view_from((0, 0, 1)))


def test_field_lines_follow_the_field(ball_picture):
    lines = [
        np.array(line)
        for c in ball_picture.collections
        if isinstance(c, LineCollection)
        for line in c.get_segments()
    ]
    steps = np.concatenate([np.diff(line, axis=0) for line in lines])
    middles = np.concatenate([(line[1:] + line[:-1]) / 2 for line in lines])
    assert len(steps) > 200
    # The grid is too coarse for the ball's own edge; some steps at the rim have no length.
    far = (np.hypot(*middles.T) > 0.8 * BALL_MM) & (np.hypot(*steps.T) > 1e-3)
    field, steps = ball_field_T(middles[far]), steps[far]
    sine = np.abs(field[:, 0] * steps[:, 1] - field[:, 1] * steps[:, 0])
    sine /= np.hypot(*field.T) * np.hypot(*steps.T)
    assert np.median(sine) < 0.02  # a degree: the grid is 0.5 mm wide
    assert np.quantile(sine, 0.9) < 0.1


def test_arrows_on_field_lines_point_with_the_field(ball_picture):
    arrows = [p for p in ball_picture.patches if isinstance(p, FancyArrowPatch)]
    assert len(arrows) > 10
    for arrow in arrows:
        tail, head = (np.array(p) for p in arrow._posA_posB)
        if np.hypot(*tail) > 0.8 * BALL_MM:
            assert ball_field_T([(tail + head) / 2])[0] @ (head - tail) > 0


def test_colours_are_the_size_of_the_field_in_millitesla(ball_picture):
    (image,) = ball_picture.get_images()
    shown = np.asarray(image.get_array())
    left, right, low, high = image.get_extent()
    assert (left, right) == tuple(ball_picture.get_xlim())
    assert (low, high) == tuple(ball_picture.get_ylim())
    x = np.linspace(left, right, shown.shape[1])
    y = np.linspace(low, high, shown.shape[0])
    assert image.origin == "lower"  # the first row is the lowest
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    true_mT = 1e3 * np.hypot(*ball_field_T(places).T).reshape(shown.shape)
    # 99.5 % of the picture are below the upper end of the colours, and none below the lower one.
    assert image.norm.vmax == pytest.approx(np.quantile(true_mT, 0.995), rel=1e-6)
    expected = true_mT.clip(image.norm.vmin, image.norm.vmax)
    edge = np.abs(np.hypot(*places.T).reshape(shown.shape) - BALL_MM / 2) < 1e-6
    np.testing.assert_allclose(shown[~edge], expected[~edge], rtol=1e-9)
    assert ball_picture.child_axes[0].get_ylabel() == "flux density (mT)"


def test_a_strong_field_is_told_in_tesla():
    """Above 5 T the scale changes its unit, and the numbers with it.

    No magnet is so strong, but drawings allow ten of them in one place, whose fields add.
    """
    shown = {}
    for count in (1, 10):
        strong = count * (mounted(block(20, 20, 20), radius=0, height=0, north=North.OUT),)
        far = coil(centre=(0, 24, 0), opening=(8, 8), length=6, build=3)
        axes = draw_field(
            new_figure().add_subplot(), machine_of(rotor(*strong), far), view_from((0, 0, 1))
        )
        shown[count] = (axes.child_axes[0].get_ylabel(), axes.get_images()[0].norm.vmax)
    assert shown[1][0] == "flux density (mT)"
    assert shown[10][0] == "flux density (T)"
    assert shown[10][1] == pytest.approx(shown[1][1] * 10 / 1e3, rel=1e-9)


def test_outlines_in_the_field_picture_are_the_parts_to_scale():
    axes = field_figure(shipped("one_rotor"), view_from((0, 0, 1))).axes[0]
    hatched = [p.get_xy() for p in axes.patches if p.get_hatch()]
    points = np.concatenate(hatched)
    # The winding's opening is 24 x 16 mm and its build 6 mm, its middle 22 mm from the shaft.
    assert points.min(axis=0) == pytest.approx([-18, 22 - 14], abs=1e-6)
    assert points.max(axis=0) == pytest.approx([18, 22 + 14], abs=1e-6)
    assert not any(Path(p).contains_point((0, 22)) for p in hatched)


def test_the_winding_is_drawn_with_its_own_sizes():
    axes = new_figure().add_subplot()
    draw_view(axes, shipped("one_rotor"), (0, 0, 1))
    cut = to_hex(legend_colours()["winding, cut at its middle"].get_facecolor())
    areas = [
        path.vertices
        for c in axes.collections
        if isinstance(c, PolyCollection) and to_hex(c.get_facecolor()[0]) == cut
        for path in c.get_paths()
    ]
    behind = to_hex(legend_colours()["winding behind the cut"].get_facecolor())
    areas += [
        path.vertices
        for c in axes.collections
        if isinstance(c, PolyCollection) and to_hex(c.get_facecolor()[0]) == behind
        for path in c.get_paths()
    ]
    points = np.concatenate(areas)
    assert points.min(axis=0) == pytest.approx([-18, 8], abs=1e-6)
    assert points.max(axis=0) == pytest.approx([18, 36], abs=1e-6)


def test_the_name_beside_an_arrow_tells_the_ratio_and_its_sign():
    axes = new_figure(200, 150).add_subplot()
    described = shipped("two_facing_rotors")
    draw_view(axes, described, (0, -1, 0))
    named = {t.get_text() for t in axes.texts}
    assert any(w.startswith("upper ") and w.endswith("9×") and "−" not in w for w in named), named
    assert any(w.startswith("lower ") and w.endswith("−9×") for w in named), named


@pytest.mark.parametrize("crank_deg", [0.0, 12.0, -31.0])
def test_the_title_tells_the_angle_at_which_the_field_is_drawn(crank_deg):
    axes = field_figure(shipped("two_facing_rotors"), None, math.radians(crank_deg)).axes[0]
    assert axes.get_title(loc="left").endswith(f"crank at {crank_deg:g}°".replace("-", "−"))
