"""Drawings of machines: labels, letters, sense of turning, nothing on top of anything."""

import itertools
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from machines import si_coil, si_machine, si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.charts.figure_style import figure_svg, new_figure, save_figure
from fieldsim.drawing.label_places import letter_place
from fieldsim.drawing.machine_drawing import (
    draw_machine,
    draw_view,
    draw_view_3d,
    machine_words,
)
from fieldsim.drawing.solids import rotor_solids
from fieldsim.drawing.turning_arrows import turning_arrows
from fieldsim.drawing.views import view_from
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere

GEOMETRIES = Path(__file__).parents[2] / "geometries"
SHIPPED = ["one_rotor", "two_facing_rotors", "bar_inside_coil", "three_rotors"]

BAR = si_magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
DISC = si_magnet("disc", Cylinder(0.012, 0.004), 1.3)
ROD = si_magnet("rod", Cylinder(0.008, 0.016, ArmAxis.FORWARD), 1.1)
DRUM = si_magnet("drum", Cylinder(0.014, 0.02), 1.0)
BALL = si_magnet("ball", Sphere(0.012), 1.2)


def ring(magnet, radius_m, count, height_m, norths=(North.PLUS_SHAFT, North.MINUS_SHAFT)):
    return tuple(
        si_mounted(magnet, radius_m, 2 * np.pi * i / count, height_m, norths[i % 2])
        for i in range(count)
    )


def many_discs():
    coils = tuple(
        si_coil(name, centre, (0, 0, 1), (1, 0, 0), (0.012, 0.014), 0.008, 0.003, 1000)
        for name, centre in (("a", (0, 0.045, 0)), ("b", (0.045, 0, 0)))
    )
    rotor = si_rotor("wheel", si_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0),
                       ring(DISC, 0.045, 16, 0.009), 5)  # fmt: skip
    return si_machine("Sixteen discs", (DISC,), (rotor,), coils)


def balls_and_rods():
    balls = si_rotor("balls", si_shaft((0, 0, 0), (0, 0, 1)), (1, 0.3, 0),
                       ring(BALL, 0.03, 4, 0.014, (North.OUT, North.IN)), -4)  # fmt: skip
    rods = si_rotor("rods", si_shaft((0, 0, -0.014), (0, 0, -1)), (0, 1, 0),
                      ring(ROD, 0.03, 3, 0.0, (North.FORWARD, North.BACK)),
                      Fraction(5, 2))  # fmt: skip
    coil = si_coil("pickup", (0, 0.03, 0), (0, 0, 1), (1, 0, 0), (0.02, 0.014), 0.01, 0.004, 1000)
    return si_machine("Balls and rods", (BALL, ROD), (balls, rods), (coil,))


def tilted():
    shaft = si_shaft((0.01, 0, 0), (1, 0.4, 0.3))
    drum = (si_mounted(DRUM, 0.0, 0.3, 0.0, North.OUT),)
    rotor = si_rotor("drum", shaft, (0, 0, 1), drum, -7)
    coil = si_coil("tilt", (0.01, 0, 0), (0, -0.3, 0.4), (1, 0.4, 0.3), (0.05, 0.02),
                     0.012, 0.005, 900)  # fmt: skip
    return si_machine("Tilted shaft", (DRUM,), (rotor,), (coil,))


def machine(name):
    built = {"many": many_discs, "balls": balls_and_rods, "tilted": tilted}
    return built[name]() if name in built else Machine.from_file(GEOMETRIES / f"{name}.yaml")


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
        for rotor in geometry.rotors:
            assert any(w.startswith(f"{rotor.name} ") and w.endswith("×") for w in words)
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
    for arrow, rotor in zip(arrows, geometry.rotors, strict=True):
        along = np.array(rotor.shaft.along) * np.sign(float(rotor.gear_ratio))
        if arrow.behind_mm is None:
            middle = arrow.path_mm.mean(axis=0)
            line = np.array([view.right, view.up]) @ rotor.shaft.along
            foot = view.flat_mm(np.array(rotor.shaft.through))
            height = np.mean([m.height for m in rotor.magnets])
            centre = foot + 1e3 * height * line
            arm, step = middle - centre, arrow.path_mm[-1] - arrow.path_mm[0]
            turn = arm[0] * step[1] - arm[1] * step[0]  # counter-clockwise is above zero
            assert np.sign(turn) == np.sign(along @ np.array(view.towards))
        else:
            near = np.array([view.right, view.up]) @ np.cross(along, view.towards)
            assert (arrow.path_mm[-1] - arrow.path_mm[0]) @ near > 0


def test_reversed_gear_turns_the_arrow():
    geometry = machine("one_rotor")
    rotor = geometry.rotors[0]
    back = si_rotor(rotor.name, rotor.shaft, rotor.zero, rotor.magnets, -rotor.gear_ratio)
    view = view_from((0, 0, 1))
    paths = [
        turning_arrows(g, rotor_solids(g), [], view)[0].path_mm
        for g in (geometry, geometry.with_rotors((back,)))
    ]
    assert np.allclose(paths[0], paths[1][::-1])


def test_rotor_that_stands_still_has_no_arrow():
    geometry = machine("one_rotor")
    rotor = geometry.rotors[0]
    still = si_rotor(rotor.name, rotor.shaft, rotor.zero, rotor.magnets, 0)
    figure = draw_machine(geometry.with_rotors((still,)))
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
    odd = si_machine("<b>$H_{2$}" + "x" * 10_000, geometry.magnets, geometry.rotors, geometry.coils)
    figure = draw_machine(odd)
    title = figure.texts[0]
    assert title.get_text().startswith("<b>$H_{2$}")
    assert len(title.get_text()) <= 90
    figure_svg(figure)


def test_many_parts_end_in_a_count():
    geometry = machine("one_rotor")
    coil = geometry.coils[0]
    coils = tuple(
        si_coil(f"c{i}", (0, 0.03 * i, 0), coil.axis, coil.side, (0.01, 0.01), 0.01, 0.002, 100)
        for i in range(1, 11)
    )
    figure = draw_machine(si_machine("", geometry.magnets, geometry.rotors, coils))
    assert any(t.get_text().endswith("and 4 more parts") for t in figure.texts)


def test_words_name_sizes_and_ratios():
    assert machine_words(machine("two_facing_rotors")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn",
        "Magnet bar: 20 × 10 × 5 mm, 1.2 T",
        "Coil pickup: opening 24 × 16 mm, length 12 mm, build 6 mm, 1800 turns",
    ]


def test_letter_keeps_to_the_uncovered_part():
    hull = np.array([[0, 0], [20, 0], [20, 10], [0, 10]], dtype=float)
    cover = np.array([[-1, -1], [12, -1], [12, 11], [-1, 11]], dtype=float)
    place, size = letter_place(hull, [cover], 0.35)
    half = 0.46 * size * 0.35
    assert place[0] - half >= 12 - 1e-9
    assert place[0] + half <= 20 + 1e-9
    assert letter_place(hull, [cover, hull], 0.35) is None
