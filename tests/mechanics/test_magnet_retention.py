"""When the glue lets a magnet go."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.rotor_force import neighbour_forces, rotor_forces
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.mechanics import Adhesive
from fieldsim.machine.placed import PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft
from fieldsim.mechanics.magnet_retention import (
    arm_forces_N,
    joint_area_m2,
    retention,
)
from fieldsim.operation.cautions import balance_caution, glue_caution
from fieldsim.words.cautions import caution_text

BAR = Magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)


def glue(shear=None, peel=None, side=None, area=None, **more):
    """Return glue by its strengths [Pa], side and area [m2]."""
    return Adhesive(side, area, shear, peel, **more)


GLUE = glue(3e6, 0.5e6)


def rotor(*mounted, name="upper"):
    return PlacedRotor(name, Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)


ONE = rotor(PlacedMagnet(BAR, 0.022, 0.0, 0.0, North.PLUS_SHAFT))


def test_centrifugal_pull_by_hand():
    # 1 cm3 of 7500 kg/m3 on 22 mm at 3000 rpm: 0.0075 * 0.022 * (100 pi)^2 = 16.285 N.
    hold = retention(ONE, 100 * math.pi, GLUE).weakest
    assert hold.mass_kg == pytest.approx(0.0075, rel=1e-12)
    assert hold.centrifugal_N == pytest.approx(16.2849, rel=1e-5)
    # Shear over 2 cm2 at 3 MPa: 600 N.
    assert hold.glue_load == pytest.approx(16.2849 / 600, rel=1e-5)
    assert hold.leaves_at_rad_per_s == pytest.approx(math.sqrt(600 / (0.0075 * 0.022)), rel=1e-12)


@given(
    st.floats(0.005, 0.1),
    st.floats(1e5, 3e7),
    st.sampled_from([None, *North]),
    st.tuples(*[st.floats(-5, 5)] * 3),
)
@settings(max_examples=60, deadline=None)
def test_at_the_leaving_speed_the_joint_is_just_full(radius, strength, side, force):
    one = rotor(PlacedMagnet(BAR, radius, 0.3, 0.0, North.PLUS_SHAFT))
    joint = glue(strength, strength / 5, side)
    magnetic = np.array(force).reshape(1, 1, 3)
    leaves = retention(one, 0.0, joint, magnetic).weakest.leaves_at_rad_per_s
    if leaves == 0.0:
        assert retention(one, 0.0, joint, magnetic).weakest.glue_load >= 1
    elif math.isinf(leaves):
        assert side is North.OUT
    else:
        assert retention(one, leaves, joint, magnetic).weakest.glue_load == pytest.approx(
            1.0, rel=1e-9
        )
        assert retention(one, -leaves, joint, magnetic).weakest.glue_load == pytest.approx(
            1.0, rel=1e-9
        )


@pytest.mark.parametrize(
    ("side", "area_mm2", "strength_Pa"),
    [
        (North.MINUS_SHAFT, 200, 3e6),
        (North.FORWARD, 100, 3e6),
        (North.IN, 50, 0.5e6),  # pulled straight off
    ],
)
def test_which_strength_and_area_count(side, area_mm2, strength_Pa):
    hold = retention(ONE, 500.0, glue(3e6, 0.5e6, side)).weakest
    assert hold.glue_load == pytest.approx(
        hold.centrifugal_N / (area_mm2 * 1e-6 * strength_Pa), rel=1e-9
    )


def test_glue_on_the_outside_is_pressed():
    hold = retention(ONE, 5000.0, glue(3e6, 0.5e6, North.OUT))
    assert hold.weakest.glue_load == 0.0
    assert math.isinf(hold.speed_margin)
    assert glue_caution(hold) is None


def test_a_pull_counts_only_away_from_the_glue():
    up = np.zeros((1, 1, 3))
    up[..., 2] = 20.0
    below = retention(ONE, 0.0, glue(3e6, 0.5e6, North.MINUS_SHAFT), up).weakest
    above = retention(ONE, 0.0, glue(3e6, 0.5e6, North.PLUS_SHAFT), up).weakest
    unknown = retention(ONE, 0.0, GLUE, -up).weakest
    assert below.magnetic_lift_N == 20.0
    assert below.glue_load == pytest.approx(20 / 100)
    assert above.glue_load == 0.0
    assert unknown.glue_load == below.glue_load  # the side is not told: the worse case


def test_density_and_area_are_taken():
    heavy = retention(ONE, 100.0, glue(3e6, area=50e-6, density=8300.0)).weakest
    plain = retention(ONE, 100.0, glue(3e6)).weakest
    assert heavy.mass_kg == pytest.approx(plain.mass_kg * 83 / 75)
    assert heavy.glue_load == pytest.approx(plain.glue_load * 83 / 75 * 4)


@pytest.mark.parametrize(
    ("glue", "magnetic", "kind"),
    [
        (glue(None, 0.5e6), 0.0, "shear"),
        (glue(3e6, None, North.IN), 0.0, "peel"),
        (glue(3e6, None), 5.0, "peel"),
        (glue(density=8300.0), 0.0, "shear"),
    ],
)
def test_a_missing_strength_is_asked_for_by_its_key(glue, magnetic, kind):
    forces = np.full((1, 1, 3), magnetic)
    with pytest.raises(ImpossibleError, match=rf"adhesive\.{kind}_strength is not given"):
        retention(ONE, 100.0, glue, forces)


def test_a_strength_that_no_load_calls_for_may_be_missing():
    assert retention(ONE, 100.0, glue(3e6)).weakest.glue_load > 0
    assert retention(ONE, 100.0, glue(None, 1e6, North.IN)).weakest.glue_load > 0


def test_round_magnets():
    disc = Magnet("disc", Cylinder(0.012, 0.004), 1.2)
    assert joint_area_m2(disc, North.MINUS_SHAFT) == pytest.approx(math.pi * 0.006**2)
    rod = Magnet("rod", Cylinder(0.006, 0.02, ArmAxis.ARM), 1.2)
    assert joint_area_m2(rod, North.IN) == pytest.approx(math.pi * 0.003**2)
    for magnet, side in ((rod, North.MINUS_SHAFT), (Magnet("ball", Sphere(0.01), 1.2), North.IN)):
        with pytest.raises(ImpossibleError, match=r"is not flat; give the glued area"):
            joint_area_m2(magnet, side)
    ball = rotor(PlacedMagnet(Magnet("ball", Sphere(0.01), 1.2), 0.02, 0, 0, North.PLUS_SHAFT))
    assert retention(ball, 100.0, glue(3e6, area=1e-5)).weakest.glue_load > 0


def test_the_outermost_magnet_leaves_first():
    two = rotor(
        PlacedMagnet(BAR, 0.022, 0.0, 0.0, North.PLUS_SHAFT),
        PlacedMagnet(BAR, 0.040, 3.0, 0.0, North.PLUS_SHAFT),
    )
    hold = retention(two, 300.0, GLUE)
    assert hold.weakest.index == 1
    assert hold.speed_margin == pytest.approx(hold.weakest.leaves_at_rad_per_s / 300.0)


def test_pull_of_a_facing_rotor_and_of_neighbours():
    upper = rotor(
        *(PlacedMagnet(BAR, 0.022, math.pi / 2 * i, 0.009, list(North)[i % 2]) for i in range(4))
    )
    lower = PlacedRotor("lower", upper.shaft, upper.zero, upper.magnets).raised(-0.009)
    angles = 2 * math.pi * np.arange(48) / 48
    forces = rotor_forces(lower, upper, 0.0, angles)
    magnetic = arm_forces_N(upper, forces.on_second, angles)
    # Arm axes: summed over the magnets the component along the shaft is the rotor's own.
    assert magnetic[..., 2].sum(axis=1) == pytest.approx(forces.force_on_second_N[:, 2], abs=1e-9)
    # Outward is where the magnet's centre lies from the shaft.
    outward = forces.on_second.centre_m * [1, 1, 0] / 0.022
    expected = (forces.on_second.force_N * outward).sum(axis=2)
    assert magnetic[..., 0] == pytest.approx(expected, abs=1e-9)
    # All four magnets alike: each bears a quarter of the peak pull downwards.
    assert magnetic[0, :, 2] == pytest.approx(forces.force_on_second_N[0, 2] / 4, rel=1e-6)
    total = magnetic + neighbour_forces(upper)
    glued_above = glue(3e6, 0.5e6, North.PLUS_SHAFT)
    hold = retention(upper, 0.0, glued_above, total).weakest
    assert hold.magnetic_lift_N == pytest.approx(-total[..., 2].min(), rel=1e-9)
    with_pull = retention(upper, 300.0, glued_above, total).weakest
    without = retention(upper, 300.0, glued_above).weakest
    assert with_pull.leaves_at_rad_per_s < without.leaves_at_rad_per_s


def test_caution_only_near_the_limit_and_with_its_numbers():
    leaves = retention(ONE, 0.0, GLUE).weakest.leaves_at_rad_per_s
    # A quarter of the load is half the speed.
    assert glue_caution(retention(ONE, 0.499 * leaves, GLUE)) is None
    caution = glue_caution(retention(ONE, 0.6 * leaves, GLUE))
    assert (caution.kind, caution.where) == ("flying magnets", "upper")
    assert (caution.value, caution.limit) == (pytest.approx(0.36), 0.25)
    assert caution.facts["leaves_at_rad_per_s"] == leaves
    text = caution_text(caution)
    assert "36 % of what breaks it" in text
    assert "leaves at about 18200 rpm" in text  # 1907 rad/s
    assert "magnet 1 (bar) of rotor upper" in text


def test_caution_when_it_does_not_even_hold_at_rest():
    up = np.full((1, 1, 3), 0.0)
    up[..., 2] = 150.0
    hold = retention(ONE, 100.0, glue(3e6, 0.5e6), up)
    assert hold.weakest.leaves_at_rad_per_s == 0.0
    caution = glue_caution(hold)
    assert caution.kind == "loose magnets"
    assert "even at rest, with 150 N" in caution_text(caution)
    assert retention(ONE, 0.0, glue(3e6, 0.5e6), up).speed_margin == 0.0


def test_imbalance_is_the_sum_of_the_pulls():
    one = PlacedMagnet(BAR, 0.025, 0.3, 0.0, North.PLUS_SHAFT)
    across = PlacedMagnet(BAR, 0.025, 0.3 + math.pi / 2, 0.0, North.PLUS_SHAFT)
    opposite = PlacedMagnet(BAR, 0.025, 0.3 + math.pi, 0.0, North.MINUS_SHAFT)
    single = retention(rotor(one), 200.0, GLUE)
    assert single.imbalance_N == pytest.approx(single.weakest.centrifugal_N)
    pull = single.imbalance_N
    assert retention(rotor(one, across), 200.0, GLUE).imbalance_N == pytest.approx(pull * 2**0.5)
    assert retention(rotor(one, opposite), 200.0, GLUE).imbalance_N == 0.0
    assert balance_caution(retention(rotor(one, opposite), 1e3, GLUE)) is None
    assert balance_caution(retention(rotor(one), 10.0, GLUE)) is None
    caution = balance_caution(retention(rotor(one), 200.0, GLUE))
    assert (caution.value, caution.facts["speed_rad_per_s"]) == (pull, 200.0)
