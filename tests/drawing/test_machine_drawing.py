"""Drawings of machines: labels, letters, sense of turning, nothing on top of anything."""

import itertools
import re
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from machines import Standing, coil, described, rotor, shipped

from fieldsim.charts.figure_style import figure_svg, new_figure, save_figure
from fieldsim.drawing.label_places import letter_place
from fieldsim.drawing.machine_drawing import (
    draw_machine,
    draw_view,
    draw_view_3d,
)
from fieldsim.drawing.painter_order import outline_of, within
from fieldsim.drawing.rods import shafts_and_arms
from fieldsim.drawing.solids import coil_solids, rotor_solids
from fieldsim.drawing.turning_arrows import turning_arrows
from fieldsim.drawing.views import View, along_shaft_view, shaft_and_coil_view, view_from
from fieldsim.machine.magnets import ArmAxis, Cylinder, Magnet, North, Sphere
from fieldsim.machine.placed import PlacedMagnet
from fieldsim.report.figures import machine_figures

SHIPPED = ["one_rotor", "two_facing_rotors", "bar_inside_coil", "three_rotors"]

DISC = Magnet("disc", Cylinder(0.012, 0.004), 1.3)
ROD = Magnet("rod", Cylinder(0.008, 0.016, ArmAxis.FORWARD), 1.1)
DRUM = Magnet("drum", Cylinder(0.014, 0.02), 1.0)
BALL = Magnet("ball", Sphere(0.012), 1.2)


def ring(magnet, radius_m, count, height_m, norths=(North.PLUS_SHAFT, North.MINUS_SHAFT)):
    return tuple(
        PlacedMagnet(magnet, radius_m, 2 * np.pi * i / count, height_m, norths[i % 2])
        for i in range(count)
    )


def many_discs():
    coils = tuple(
        coil(centre=centre, opening=(12, 14), length=8, build=3, name=name)
        for name, centre in (("a", (0, 45, 0)), ("b", (45, 0, 0)))
    )
    wheel = rotor(*ring(DISC, 0.045, 16, 0.009), ratio=5, name="wheel")
    return described("Sixteen discs", (wheel,), coils)


def balls_and_rods():
    around = ring(BALL, 0.03, 4, 0.014, (North.OUT, North.IN))
    balls = rotor(*around, zero=(1, 0.3, 0), ratio=-4, name="balls")
    below = {"through": (0, 0, -14), "along": (0, 0, -1), "zero": (0, 1, 0)}
    around = ring(ROD, 0.03, 3, 0.0, (North.FORWARD, North.BACK))
    rods = rotor(*around, **below, ratio=Fraction(5, 2), name="rods")
    pickup = coil(centre=(0, 30, 0), opening=(20, 14), name="pickup")
    return described("Balls and rods", (balls, rods), (pickup,))


def tilted():
    along = (1, 0.4, 0.3)
    on_shaft = PlacedMagnet(DRUM, 0.0, 0.3, 0.0, North.OUT)
    drum = rotor(on_shaft, through=(10, 0, 0), along=along, zero=(0, 0, 1), ratio=-7, name="drum")
    tilt = coil(centre=(10, 0, 0), axis=(0, -0.3, 0.4), side=along, opening=(50, 20),
                length=12, build=5, turns=900, name="tilt")  # fmt: skip
    return described("Tilted shaft", (drum,), (tilt,))


def machine(name):
    built = {"many": many_discs, "balls": balls_and_rods, "tilted": tilted}
    return built[name]() if name in built else shipped(name)


ALL = [*SHIPPED, "many", "balls", "tilted"]


@pytest.fixture(scope="module")
def drawings():
    return {name: draw_machine(machine(name)) for name in ALL}


def all_texts(figure):
    texts = [*figure.texts]
    for legend in figure.legends:
        texts += legend.get_texts()
    for axes in figure.axes:
        texts += axes.texts
        texts += [axes.title, axes._left_title]
        if axes.axison:
            texts += [axes.xaxis.label, axes.yaxis.label]
            for axis in (axes.xaxis, axes.yaxis):
                low, high = sorted(axis.get_view_interval())
                shown = [low <= place <= high for place in axis.get_ticklocs()]
                texts += [
                    label for label, seen in zip(axis.get_ticklabels(), shown, strict=True) if seen
                ]
    return [t for t in texts if t.get_text() and t.get_visible()]


@pytest.mark.parametrize("name", ALL)
def test_no_text_overlaps_another_or_leaves_the_page(drawings, name):
    figure = drawings[name]
    figure.draw_without_rendering()
    page = figure.bbox
    boxes = [(t.get_text(), t.get_window_extent()) for t in all_texts(figure)]
    for words, box in boxes:
        assert page.x0 <= box.x0, words
        assert page.y0 <= box.y0, words
        assert box.x1 <= page.x1, words
        assert box.y1 <= page.y1, words
    for (one, a), (two, b) in itertools.combinations(boxes, 2):
        # A text's box has empty rows above and below its letters, of about a fifth of its height.
        slack = 0.2 * min(a.height, b.height)
        apart = (
            a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1
            or a.y1 <= b.y0 + slack or b.y1 <= a.y0 + slack
        )  # fmt: skip
        assert apart, (one, two)


@pytest.mark.parametrize("name", ALL)
def test_axes_carry_units_and_true_scale(drawings, name):
    flat = drawings[name].axes[:2]
    for axes in flat:
        assert axes.get_xlabel().endswith("(mm)")
        assert axes.get_ylabel().endswith("(mm)")
        box = axes.get_window_extent()
        across = np.ptp(axes.get_xlim()) / box.width
        upward = np.ptp(axes.get_ylim()) / box.height
        assert across == pytest.approx(upward, rel=1e-9)


@pytest.mark.parametrize("name", ALL)
def test_every_part_is_named_and_every_pole_lettered(drawings, name):
    geometry = machine(name)
    letters = set()
    for axes in drawings[name].axes:
        words = [t.get_text() for t in axes.texts]
        for turning in geometry.rotors:
            named = (w.removesuffix(", behind") for w in words)
            assert any(w.startswith(f"{turning.name} ") and w.endswith("×") for w in named)
        assert {c.name for c in geometry.coils} <= set(words)
        letters |= {"N", "S"} & set(words)
    assert letters == {"N", "S"}
    legend = {t.get_text() for t in drawings[name].legends[0].get_texts()}
    assert {"north pole (N)", "south pole (S)", "shaft"} <= legend


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("towards", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0, -1, 0), (1, -2, 1.5)])
def test_arrows_show_how_the_rotors_turn(name, towards):
    geometry = machine(name)
    view = view_from(towards)
    arrows = turning_arrows(geometry, rotor_solids(geometry), [], view)
    assert [a.rotor for a in arrows] == [r.name for r in geometry.rotors]
    for arrow, turning in zip(arrows, geometry.placed_rotors, strict=True):
        along = np.array(turning.shaft.along) * np.sign(float(turning.gear_ratio))
        if arrow.behind_mm is None:
            middle = arrow.path_mm.mean(axis=0)
            line = np.array([view.right, view.up]) @ turning.shaft.along
            foot = view.flat_mm(np.array(turning.shaft.through))
            height = np.mean([m.height for m in turning.magnets])
            centre = foot + 1e3 * height * line
            arm, step = middle - centre, arrow.path_mm[-1] - arrow.path_mm[0]
            turn = arm[0] * step[1] - arm[1] * step[0]  # counter-clockwise is above zero
            assert np.sign(turn) == np.sign(along @ np.array(view.towards))
        else:
            near = np.array([view.right, view.up]) @ np.cross(along, view.towards)
            assert (arrow.path_mm[-1] - arrow.path_mm[0]) @ near > 0


def test_reversed_gear_turns_the_arrow():
    geometry = machine("one_rotor")
    turning = geometry.rotors[0]
    back = geometry.changed({f"rotors.{turning.name}.gear_ratio": -turning.gear_ratio})
    view = view_from((0, 0, 1))
    paths = [turning_arrows(g, rotor_solids(g), [], view)[0].path_mm for g in (geometry, back)]
    assert np.allclose(paths[0], paths[1][::-1])


def test_rotor_that_stands_still_has_no_arrow():
    geometry = machine("one_rotor")
    still = replace(geometry.placed_rotors[0], gear_ratio=Fraction(0))
    figure = draw_machine(Standing("", (still,), geometry.placed_coils))
    assert not any("×" in t.get_text() for t in figure.axes[0].texts)


@pytest.mark.parametrize("name", ["two_facing_rotors"])
def test_same_machine_gives_the_same_bytes(name):
    assert figure_svg(draw_machine(machine(name))) == figure_svg(draw_machine(machine(name)))


@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_drawing_is_saved(tmp_path, drawings, ending):
    assert save_figure(drawings["one_rotor"], tmp_path / f"a{ending}").stat().st_size > 5000


def test_single_views_take_and_return_axes():
    figure = new_figure(200, 90)
    one, two = figure.subplots(1, 2)
    geometry = machine("two_facing_rotors")
    assert draw_view(one, geometry, (0, 0, 2.0)) is one
    assert one.get_xlabel() == "x (mm)"
    assert draw_view_3d(two, geometry) is two


def test_crank_angle_moves_the_letters():
    figure = new_figure(200, 90)
    places = []
    for axes, angle in zip(figure.subplots(1, 2), (0.0, np.pi / 9), strict=True):
        draw_view(axes, machine("one_rotor"), (0, 0, 1), angle)
        places.append(next(t.get_position() for t in axes.texts if t.get_text() == "N"))
    # Gear ratio 9: a ninth of half a crank turn swaps the two magnets.
    assert places[0][0] == pytest.approx(-places[1][0], abs=1.0)
    assert abs(places[0][0]) > 15


def test_title_is_shown_as_written():
    geometry = machine("one_rotor")
    odd = Standing(
        "<b>$H_{2$}" + "x" * 10_000, geometry.placed_rotors, geometry.placed_coils, geometry.magnets
    )
    figure = draw_machine(odd)
    title = figure.texts[0]
    assert title.get_text().startswith("<b>$H_{2$}")
    assert len(title.get_text()) <= 90
    figure_svg(figure)


def test_many_parts_end_in_a_count():
    geometry = machine("one_rotor")
    coils = tuple(
        coil(centre=(0, 30 * i, 0), opening=(10, 10), build=2, turns=100, name=f"c{i}")
        for i in range(1, 11)
    )
    figure = draw_machine(described("", geometry.placed_rotors, coils))
    assert any(t.get_text().endswith("and 4 more parts") for t in figure.texts)


def test_letter_keeps_to_the_uncovered_part():
    hull = np.array([[0, 0], [20, 0], [20, 10], [0, 10]], dtype=float)
    cover = np.array([[-1, -1], [12, -1], [12, 11], [-1, 11]], dtype=float)
    place, size = letter_place(hull, [cover], 0.35)
    half = 0.46 * size * 0.35
    assert place[0] - half >= 12 - 1e-9
    assert place[0] + half <= 20 + 1e-9
    assert letter_place(hull, [cover, hull], 0.35) is None


@pytest.mark.parametrize("height_mm", [1.0, 2.0, 2.2, 2.5, 3.0, 20.0])
def test_letters_are_as_small_as_print_allows_or_left_out(height_mm):
    """A capital is 0.73 of its size of 8 points high, and lines take their room."""
    point_mm = 25.4 / 72
    hull = np.array([[0, 0], [20, 0], [20, height_mm], [0, height_mm]], dtype=float)
    found = letter_place(hull, [], point_mm)
    assert (found is None) == (height_mm < 0.73 * 8 * point_mm + 0.3)
    if found is not None:
        (_, y), size = found
        assert size >= 8
        assert 0.365 * size * point_mm < min(y, height_mm - y)


def test_a_view_keeps_its_own_upward_axis():
    """A view along x may have y upward; from the direction alone it would be z."""
    axes = new_figure().add_subplot()
    view = View((0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
    draw_view(axes, machine("one_rotor"), view)
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("−z (mm)", "y (mm)")
    draw_view(axes, machine("one_rotor"), view.towards)
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("y (mm)", "z (mm)")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("one_rotor", ("along the shaft, seen from +z", "from the side, seen from +x")),
        ("bar_inside_coil", ("along the shaft, seen from +x", "from the side, seen from −y")),
        (
            "two_coils",
            ("along the shaft, seen from +z", "from the side, seen from between +x and −y"),
        ),
    ],
)
def test_views_say_where_they_look_from(name, words):
    geometry = shipped(name)
    titles = [axes.get_title(loc="left") for axes in draw_machine(geometry).axes[:2]]
    assert [title[0].lower() + title[1:] for title in titles] == list(words)
    assert tuple(dict(machine_figures(geometry)))[:2] == words


@pytest.mark.parametrize("name", ["one_rotor", "two_facing_rotors", "three_rotors"])
def test_numbers_on_the_floor_stand_apart_in_a_small_picture(name):
    (*_, (_, space)) = machine_figures(shipped(name))
    (axes,) = space.axes
    numbers = [t for t in axes.texts if re.fullmatch(r"−?\d+", t.get_text())]
    assert len(numbers) > 4
    boxes = [t.get_window_extent() for t in numbers]
    for one, two in itertools.combinations(boxes, 2):
        assert one.x1 + 2 < two.x0 or two.x1 + 2 < one.x0 or one.y1 <= two.y0 or two.y1 <= one.y0


@pytest.mark.parametrize("name", ["three_rotors", "two_coils", "geared_pair", "steel_discs"])
@pytest.mark.parametrize("sees", [along_shaft_view, shaft_and_coil_view])
def test_names_in_small_views_lie_on_no_rod_magnet_or_other_coil(name, sees):
    machine = shipped(name)
    view = sees(machine)
    which = [along_shaft_view, shaft_and_coil_view].index(sees)
    axes = list(machine_figures(machine))[which][1].axes[0]
    windings = {coil.name: coil_solids(coil) for coil in machine.placed_coils}
    magnets = rotor_solids(machine, 0.0)
    sides = [side for found in windings.values() for side in found]
    rods = shafts_and_arms(machine, magnets, sides, 0.0)
    share = np.linspace(0.0, 1.0, 300)[:, None]
    on_rods = np.concatenate([(1 - share) * r.start + share * r.end for r in rods])
    named = [text for text in axes.texts if text.get_text() in windings]
    assert len(named) == len(windings)
    for text in named:
        box = text.get_window_extent().transformed(axes.transData.inverted())
        x, y = view.flat_mm(on_rods).T
        assert not ((x > box.x0) & (x < box.x1) & (y > box.y0) & (y < box.y1)).any()
        others = [s for coil, found in windings.items() if coil != text.get_text() for s in found]
        grid = np.stack(np.meshgrid(*np.linspace(box.min, box.max, 12).T), -1).reshape(-1, 2)
        for solid in [*magnets, *others]:
            assert not within(grid, outline_of(solid, view).hull).any()
