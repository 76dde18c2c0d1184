"""How much magnets let a crank's speed swing."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from machines import ball, block, disc, mounted, rotor, shipped

from fieldsim.machine.magnets import ArmAxis
from fieldsim.mechanics.speed_swing import (
    inertia_at_crank_kg_m2,
    rotor_inertia_kg_m2,
    speed_swing,
)
from fieldsim.operation.cautions import uneven_speed_caution
from fieldsim.operation.operating_point import OperatingPoint

DENSITY = 7500.0
ANGLE = 2 * np.pi * np.arange(256) / 256


def by_points(shape, radius_m, inside):
    """Integrate a body's mass times the square of the distance from the shaft, on a fine grid."""
    n = 60
    edges = [(np.arange(n) + 0.5) / n * e - e / 2 for e in shape.size]
    x, y, z = np.meshgrid(*edges, indexing="ij")
    cell = math.prod(shape.size) / n**3
    return DENSITY * cell * float((((radius_m + x) ** 2 + y**2) * inside(x, y, z)).sum())


@pytest.mark.parametrize(
    ("shape", "inside"),
    [
        (block(20, 10, 5), lambda x, y, z: np.ones_like(x)),
        (disc(12, 4), lambda x, y, z: x**2 + y**2 < 0.006**2),
        (disc(12, 4, ArmAxis.ARM), lambda x, y, z: y**2 + z**2 < 0.006**2),
        (disc(12, 4, ArmAxis.FORWARD), lambda x, y, z: x**2 + z**2 < 0.006**2),
        (ball(12), lambda x, y, z: x**2 + y**2 + z**2 < 0.006**2),
    ],
)
@pytest.mark.parametrize("radius_mm", [0.0, 10.0])
def test_inertia_is_that_of_the_body_point_by_point(shape, inside, radius_mm):
    found = rotor_inertia_kg_m2(rotor(mounted(shape, radius=radius_mm)), DENSITY)
    # 60 cells along each edge: a curved rim is off by some 1e-3
    assert found == pytest.approx(by_points(shape, radius_mm * 1e-3, inside), rel=3e-3)


def test_a_rotor_counts_by_the_square_of_its_ratio():
    slow, fast = rotor(mounted(), name="slow"), rotor(mounted(), mounted(angle=1.0), name="fast")
    each = rotor_inertia_kg_m2(slow, DENSITY)
    ratios = {"slow": Fraction(2), "fast": Fraction(-5)}
    found = inertia_at_crank_kg_m2((slow, fast), ratios, DENSITY)
    assert found == pytest.approx(4 * each + 25 * 2 * each)


@pytest.mark.parametrize("barrier", [0.02, 0.5, 0.9])
def test_the_speed_is_that_of_a_free_body_in_its_barrier(barrier):
    """Its motion followed in time: from the slowest to the slowest it takes the time asked for."""
    from scipy.integrate import solve_ivp

    inertia, average = 0.02, 8.0
    height = barrier * inertia * average**2 / 2
    swing = speed_swing(height * np.cos(3 * ANGLE), inertia, average)
    slowest = average * (1 + swing.least)  # at the top, angle zero
    period_s = 2 * math.pi / 3 / average
    motion = solve_ivp(
        lambda _t, s: [s[1], 3 * height * math.sin(3 * s[0]) / inertia],
        (0.0, period_s), [0.0, slowest], rtol=1e-10, atol=1e-12, max_step=period_s / 200,
    )  # fmt: skip
    assert motion.y[0, -1] == pytest.approx(2 * math.pi / 3, rel=1e-6)
    assert motion.y[1].max() == pytest.approx(average * (1 + swing.most), rel=1e-4)


def test_neither_sense_nor_a_constant_energy_matters():
    energy = 0.01 * np.cos(2 * ANGLE)
    swing = speed_swing(energy, 0.01, 5.0)
    assert speed_swing(energy + 3.0, 0.01, -5.0).least == pytest.approx(swing.least, rel=1e-9)
    assert swing.largest == max(-swing.least, swing.most)
    nothing = speed_swing(np.zeros(4), 0.01, 5.0)
    assert (nothing.least, nothing.most) == (0.0, 0.0)


def test_a_crank_too_slow_to_be_carried_past_all_but_stops():
    for average in (0.1, 1e-9):
        swing = speed_swing(0.01 * np.cos(2 * ANGLE), 0.01, average)
        assert swing.least == pytest.approx(-1.0, abs=0.01)  # 256 angles do not see more of the top
        assert swing.most > 1


def test_the_geared_pair_cannot_turn_steadily_at_sixty_a_minute():
    """Two bars of 7.5 g, 20 by 10 mm, on 25 mm of each rotor, at 12 to 1; barrier 54.7 mJ."""
    slow = OperatingPoint(shipped("geared_pair"), "60 rpm", tolerance=1e-4).effort
    own = (0.020**2 + 0.010**2) / 12
    inertia = 2 * 12**2 * 2 * 0.0075 * (0.025**2 + own)
    assert slow.swing.inertia_kg_m2 == pytest.approx(inertia)
    # By the difference of the squares of the speeds, and about the average.
    fastest, slowest = ((2 * math.pi * (1 + s)) ** 2 for s in (slow.swing.most, slow.swing.least))
    assert inertia / 2 * (fastest - slowest) == pytest.approx(slow.rest.barrier_J, rel=1e-3)
    assert slow.swing.least == pytest.approx(-0.25, abs=0.01)
    assert slow.swing.most == pytest.approx(0.235, abs=0.01)
    caution = uneven_speed_caution(slow)
    assert (caution.value, caution.limit) == (-slow.swing.least, 0.1)
    fast = OperatingPoint(shipped("geared_pair"), "120 rpm", tolerance=1e-4).effort
    assert 0 < fast.swing.largest < 0.1
    assert uneven_speed_caution(fast) is None


def test_rotors_that_do_not_hold_each_other_turn_steadily():
    still = OperatingPoint(shipped("lamp_ring"), "60 rpm", tolerance=1e-4).effort
    assert (still.swing.least, still.swing.most) == (0.0, 0.0)
    assert uneven_speed_caution(still) is None
