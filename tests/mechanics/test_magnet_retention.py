"""When the glue lets a magnet go."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.errors import ImpossibleError
from fieldsim.field.force.rotor_force import neighbour_forces, rotor_forces
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere
from fieldsim.machine.mechanics import Adhesive
from fieldsim.mechanics.magnet_retention import (
    arm_forces_N,
    balance_caution,
    joint_area_m2,
    retention,
    retention_cautions,
)

BAR = si_magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
GLUE = Adhesive(3e6, 0.5e6)


def rotor(*mounted, name="upper"):
    return si_rotor(name, si_shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)


ONE = rotor(si_mounted(BAR, 0.022, 0.0, 0.0, North.PLUS_SHAFT))


def test_centrifugal_pull_by_hand():
    # 1 cm3 of 7500 kg/m3 on 22 mm at 3000 rpm: 0.0075 * 0.022 * (100 pi)^2 = 16.285 N.
    hold = retention(ONE, 100 * math.pi, GLUE).weakest
    assert hold.mass_kg == pytest.approx(0.0075, rel=1e-12)
    assert hold.centrifugal_N == pytest.approx(16.2849, rel=1e-5)
    # Shear over 2 cm2 at 3 MPa: 600 N.
    assert hold.load == pytest.approx(16.2849 / 600, rel=1e-5)
    assert hold.leaves_at_rad_s == pytest.approx(math.sqrt(600 / (0.0075 * 0.022)), rel=1e-12)


@given(
    st.floats(0.005, 0.1),
    st.floats(1e5, 3e7),
    st.sampled_from([None, *North]),
    st.tuples(*[st.floats(-5, 5)] * 3),
)
@settings(max_examples=60, deadline=None)
def test_at_the_leaving_speed_the_joint_is_just_full(radius, strength, side, force):
    one = rotor(si_mounted(BAR, radius, 0.3, 0.0, North.PLUS_SHAFT))
    glue = Adhesive(strength, strength / 5, side)
    magnetic = np.array(force).reshape(1, 1, 3)
    leaves = retention(one, 0.0, glue, magnetic).weakest.leaves_at_rad_s
    if leaves == 0.0:
        assert retention(one, 0.0, glue, magnetic).weakest.load >= 1
    elif math.isinf(leaves):
        assert side is North.OUT
    else:
        assert retention(one, leaves, glue, magnetic).weakest.load == pytest.approx(1.0, rel=1e-9)
        assert retention(one, -leaves, glue, magnetic).weakest.load == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(
    ("side", "area_mm2", "strength_Pa"),
    [
        (North.MINUS_SHAFT, 200, 3e6),
        (North.FORWARD, 100, 3e6),
        (North.IN, 50, 0.5e6),  # pulled straight off
    ],
)
def test_which_strength_and_area_count(side, area_mm2, strength_Pa):
    hold = retention(ONE, 500.0, Adhesive(3e6, 0.5e6, side)).weakest
    assert hold.load == pytest.approx(
        hold.centrifugal_N / (area_mm2 * 1e-6 * strength_Pa), rel=1e-9
    )


def test_glue_on_the_outside_is_pressed():
    hold = retention(ONE, 5000.0, Adhesive(3e6, 0.5e6, North.OUT))
    assert hold.weakest.load == 0.0
    assert math.isinf(hold.speed_margin)
    assert retention_cautions(hold) == []


def test_a_pull_counts_only_away_from_the_glue():
    up = np.zeros((1, 1, 3))
    up[..., 2] = 20.0
    below = retention(ONE, 0.0, Adhesive(3e6, 0.5e6, North.MINUS_SHAFT), up).weakest
    above = retention(ONE, 0.0, Adhesive(3e6, 0.5e6, North.PLUS_SHAFT), up).weakest
    unknown = retention(ONE, 0.0, GLUE, -up).weakest
    assert below.magnetic_lift_N == 20.0
    assert below.load == pytest.approx(20 / 100)
    assert above.load == 0.0
    assert unknown.load == below.load  # the side is not told: the worse case


def test_density_and_area_are_taken():
    heavy = retention(ONE, 100.0, Adhesive(3e6, None, None, 50e-6, 8300.0)).weakest
    plain = retention(ONE, 100.0, Adhesive(3e6)).weakest
    assert heavy.mass_kg == pytest.approx(plain.mass_kg * 83 / 75)
    assert heavy.load == pytest.approx(plain.load * 83 / 75 * 4)


@pytest.mark.parametrize(
    ("glue", "magnetic", "kind"),
    [
        (Adhesive(None, 0.5e6), 0.0, "shear"),
        (Adhesive(3e6, None, North.IN), 0.0, "peel"),
        (Adhesive(3e6, None), 5.0, "peel"),
        (Adhesive(), 0.0, "shear"),
    ],
)
def test_a_missing_strength_is_asked_for_by_its_key(glue, magnetic, kind):
    forces = np.full((1, 1, 3), magnetic)
    with pytest.raises(ImpossibleError, match=rf"adhesive\.{kind}_strength is not given"):
        retention(ONE, 100.0, glue, forces)


def test_a_strength_that_no_load_calls_for_may_be_missing():
    assert retention(ONE, 100.0, Adhesive(3e6)).weakest.load > 0
    assert retention(ONE, 100.0, Adhesive(None, 1e6, North.IN)).weakest.load > 0


def test_round_magnets():
    disc = si_magnet("disc", Cylinder(0.012, 0.004), 1.2)
    assert joint_area_m2(disc, North.MINUS_SHAFT) == pytest.approx(math.pi * 0.006**2)
    rod = si_magnet("rod", Cylinder(0.006, 0.02, ArmAxis.ARM), 1.2)
    assert joint_area_m2(rod, North.IN) == pytest.approx(math.pi * 0.003**2)
    for magnet, side in (
        (rod, North.MINUS_SHAFT),
        (si_magnet("ball", Sphere(0.01), 1.2), North.IN),
    ):
        with pytest.raises(ImpossibleError, match=r"is not flat; give the glued area"):
            joint_area_m2(magnet, side)
    ball = rotor(si_mounted(si_magnet("ball", Sphere(0.01), 1.2), 0.02, 0, 0, North.PLUS_SHAFT))
    assert retention(ball, 100.0, Adhesive(3e6, area_m2=1e-5)).weakest.load > 0


def test_the_outermost_magnet_leaves_first():
    two = rotor(
        si_mounted(BAR, 0.022, 0.0, 0.0, North.PLUS_SHAFT),
        si_mounted(BAR, 0.040, 3.0, 0.0, North.PLUS_SHAFT),
    )
    hold = retention(two, 300.0, GLUE)
    assert hold.weakest.index == 1
    assert hold.speed_margin == pytest.approx(hold.weakest.leaves_at_rad_s / 300.0)


def test_pull_of_a_facing_rotor_and_of_neighbours():
    upper = rotor(
        *(si_mounted(BAR, 0.022, math.pi / 2 * i, 0.009, list(North)[i % 2]) for i in range(4))
    )
    lower = si_rotor("lower", upper.shaft, upper.zero, upper.magnets).raised(-0.009)
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
    glued_above = Adhesive(3e6, 0.5e6, North.PLUS_SHAFT)
    hold = retention(upper, 0.0, glued_above, total).weakest
    assert hold.magnetic_lift_N == pytest.approx(-total[..., 2].min(), rel=1e-9)
    with_pull = retention(upper, 300.0, glued_above, total).weakest
    without = retention(upper, 300.0, glued_above).weakest
    assert with_pull.leaves_at_rad_s < without.leaves_at_rad_s


def test_caution_only_near_the_limit_and_with_its_numbers():
    leaves = retention(ONE, 0.0, GLUE).weakest.leaves_at_rad_s
    # A quarter of the load is half the speed.
    assert retention_cautions(retention(ONE, 0.499 * leaves, GLUE)) == []
    (text,) = retention_cautions(retention(ONE, 0.6 * leaves, GLUE))
    assert "36 % of what breaks it" in text
    assert "leaves at about 18200 rpm" in text  # 1907 rad/s
    assert "rotor upper" in text
    assert "\n" not in text


def test_caution_when_it_does_not_even_hold_at_rest():
    up = np.full((1, 1, 3), 0.0)
    up[..., 2] = 150.0
    hold = retention(ONE, 100.0, Adhesive(3e6, 0.5e6), up)
    assert hold.weakest.leaves_at_rad_s == 0.0
    (text,) = retention_cautions(hold)
    assert "even at rest, with 150 N" in text
    assert retention(ONE, 0.0, Adhesive(3e6, 0.5e6), up).speed_margin == 0.0


def test_imbalance_is_the_sum_of_the_pulls():
    one = si_mounted(BAR, 0.025, 0.3, 0.0, North.PLUS_SHAFT)
    across = si_mounted(BAR, 0.025, 0.3 + math.pi / 2, 0.0, North.PLUS_SHAFT)
    opposite = si_mounted(BAR, 0.025, 0.3 + math.pi, 0.0, North.MINUS_SHAFT)
    single = retention(rotor(one), 200.0, GLUE)
    assert single.imbalance_N == pytest.approx(single.weakest.centrifugal_N)
    pull = single.imbalance_N
    assert retention(rotor(one, across), 200.0, GLUE).imbalance_N == pytest.approx(pull * 2**0.5)
    assert retention(rotor(one, opposite), 200.0, GLUE).imbalance_N == 0.0
    assert balance_caution(retention(rotor(one, opposite), 1e3, GLUE)) is None
    assert balance_caution(retention(rotor(one), 10.0, GLUE)) is None
    assert "put a like weight" in balance_caution(retention(rotor(one), 200.0, GLUE))
