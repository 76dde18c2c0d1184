"""Tables of magnetic forces through a repeat, against forces computed at each angle."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from machines import si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.magnets import Cuboid, North
from fieldsim.mechanics.magnet_pairs import magnet_loads_N, magnet_pair, magnet_pairs
from fieldsim.mechanics.magnet_retention import arm_forces_N

BAR = si_magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
ODD = (
    si_mounted(BAR, 0.025, 0.0, 0.0, North.PLUS_SHAFT),
    si_mounted(BAR, 0.022, 2.0, 0.002, North.OUT),
)


def rotor(name, through=(0, 0, 0), along=(0, 0, 1), start=0.0, magnets=ODD, zero=(1, 0.2, 0)):
    return si_rotor(name, si_shaft(through, along), zero, magnets, 1, start)


LOW = rotor("low", start=0.3)
CASES = {
    "one line": (rotor("up", (0, 0, 0.02), start=-1.0), (3, -2)),
    "one line, opposed": (rotor("up", (0, 0, 0.02), (0, 0, -1), -1.0), (3, 2)),
    "one line, alike in speed": (rotor("up", (0, 0, 0.02), (0, 0, -1), 0.4), (2, 3)),
    "locked": (rotor("up", (0, 0, 0.02), start=0.4), (3, 3)),
    "locked, opposed": (rotor("up", (0, 0, 0.02), (0, 0, -1), 0.4), (2, -2)),
    "beside": (rotor("up", (0.07, 0, 0.01), (0, 0.3, 1), 0.4), (2, -3)),
    "a long way beside": (
        rotor("up", (0.14, 0, 0.01), (0, 0.3, 1), 0.4, ODD[:1]), (40, 41)
    ),
}  # fmt: skip


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("case", CASES)
def test_any_crank_angle(case, sense):
    up, ratios = CASES[case]
    low = replace(LOW, magnets=LOW.magnets[: len(up.magnets)])
    pair = magnet_pair(low, up, (Fraction(ratios[0]), Fraction(ratios[1])), Fraction(1))
    assert pair.locked == case.startswith("locked")
    assert bool(pair.grid) == case.startswith("a long way")
    assert bool(pair.coaxial) == ("beside" not in case)
    count = 11
    crank = sense * 2 * np.pi * np.arange(count) / count
    direct = rotor_forces(low, up, low.start + ratios[0] * crank, up.start + ratios[1] * crank)
    for table, exact, error in (
        (pair.forces.torque_on_first_Nm, direct.torque_on_first_Nm, pair.forces.error_Nm),
        (pair.forces.torque_on_second_Nm, direct.torque_on_second_Nm, pair.forces.error_Nm),
        (
            arm_forces_N(low, pair.forces.on_first, pair.forces.first_angle_rad),
            arm_forces_N(low, direct.on_first, direct.first_angle_rad),
            pair.forces.error_N,
        ),
        (
            arm_forces_N(up, pair.forces.on_second, pair.forces.second_angle_rad),
            arm_forces_N(up, direct.on_second, direct.second_angle_rad),
            pair.forces.error_N,
        ),
    ):
        found = pair.through_repeat(table, count, sense)
        # The forces' own error, and what the series leaves out: 1e-6 by its own rule on one line,
        # far less at the distance of shafts side by side.
        assert np.abs(found - exact).max() < 4 * error + 2e-6 * np.abs(exact).max()


def test_long_ways_and_turned_shafts_have_torque():
    """The cases above would pass with forces of nothing."""
    for up, _ in CASES.values():
        forces = rotor_forces(LOW, up, 0.3, [0.1, 0.8])
        assert np.abs(forces.torque_on_first_Nm).max() > 1e-6


def test_close_magnets_get_more_angles():
    near = rotor("up", (0, 0, 0.0058), magnets=ODD[:1])
    low = replace(LOW, magnets=ODD[:1])
    pair = magnet_pair(low, near, (Fraction(1), Fraction(-1)), Fraction(1))
    assert len(pair.forces.first_angle_rad) > 128


def test_loads_of_three_rotors_add_up_at_each_angle():
    rotors = (LOW, rotor("mid", (0, 0, 0.02), start=1.0), rotor("top", (0, 0, 0.045)))
    ratios = (Fraction(2), Fraction(-3), Fraction(1))
    pairs = magnet_pairs(rotors, ratios, Fraction(1))
    assert [p.names for p in pairs] == [("low", "mid"), ("low", "top"), ("mid", "top")]
    loads = magnet_loads_N(rotors, pairs, 24)
    angles = [r.start + float(q) * 2 * np.pi * np.arange(24) / 24
              for r, q in zip(rotors, ratios, strict=True)]  # fmt: skip
    below = rotor_forces(rotors[0], rotors[1], angles[0], angles[1])
    above = rotor_forces(rotors[1], rotors[2], angles[1], angles[2])
    alone = magnet_loads_N(rotors[1:2], (), 24)["mid"]
    expected = (
        alone
        + arm_forces_N(rotors[1], below.on_second, angles[1])
        + arm_forces_N(rotors[1], above.on_first, angles[1])
    )
    largest = np.abs(expected).max()
    assert largest > 0.1
    assert np.abs(loads["mid"] - expected).max() < 1e-5 * largest  # as above, of three tables


def test_rounding_is_no_load():
    """Magnets in one plane do not pull each other out of it, whichever way the shaft points."""
    flat = (ODD[0], si_mounted(BAR, 0.025, 2.5, 0.0, North.MINUS_SHAFT))
    tilted = rotor("tilted", along=(0.3, -0.5, 0.8), magnets=flat)
    load = magnet_loads_N([tilted], (), 8)["tilted"]
    assert np.abs(load).max() > 0.01
    assert (load[..., 2] == 0).all()
