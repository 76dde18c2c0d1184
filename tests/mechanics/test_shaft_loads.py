"""Loads of several rotors on one shaft, against forces added up at each angle."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from machines import si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.field.force.rotor_force import rotor_forces
from fieldsim.machine.magnets import Cuboid, North
from fieldsim.mechanics.attraction import hub_m, shaft_load
from fieldsim.mechanics.magnet_pairs import magnet_pairs
from fieldsim.mechanics.shaft_loads import shaft_loads

BAR = si_magnet("bar", Cuboid((0.02, 0.01, 0.005)), 1.2)
ODD = (
    si_mounted(BAR, 0.025, 0.0, 0.0, North.PLUS_SHAFT),
    si_mounted(BAR, 0.022, 2.0, 0.002, North.OUT),
)


def rotor(name, through, along=(0, 0, 1), start=0.0, magnets=ODD):
    return si_rotor(name, si_shaft(through, along), (1, 0.2, 0.1), magnets, 1, start)


ROTORS = [
    rotor("low", (0, 0, 0), start=0.3),
    rotor("middle", (0, 0, 0.02), (0, 0, -1), start=-1.0),
    rotor("beside", (0.08, 0, 0.01), (0, 0.3, 1), start=0.5),
]
RATIOS = [Fraction(2), Fraction(3), Fraction(-1)]


@pytest.mark.parametrize("sense", [1, -1])
def test_loads_of_all_the_others_add_up_as_vectors(sense):
    count = 7
    pairs = magnet_pairs(ROTORS, RATIOS, Fraction(1))
    found = shaft_loads(ROTORS, pairs, count, sense)
    crank = sense * 2 * np.pi * np.arange(count) / count
    angle = [r.start + float(q) * crank for r, q in zip(ROTORS, RATIOS, strict=True)]
    for i, own in enumerate(ROTORS):
        along = np.asarray(own.shaft.along)
        force, moment = np.zeros((count, 3)), np.zeros((count, 3))
        for j, other in enumerate(ROTORS):
            if i != j:
                felt = rotor_forces(own, other, angle[i], angle[j]).on_first
                force += felt.total_N
                moment += felt.moment_about_Nm(hub_m(own))
        load = found[own.name]
        # the series of a close pair leaves out 1e-6 of the torque, by its own rule
        largest = np.linalg.norm(force, axis=1).max()
        assert largest > 0.01
        assert load.axial_N == pytest.approx(force @ along, abs=1e-5 * largest)
        across = np.linalg.norm(np.cross(force, along), axis=1)
        assert load.transverse_N == pytest.approx(across, abs=1e-5 * largest)
        bending = np.linalg.norm(np.cross(moment, along), axis=1)
        assert load.bending_Nm == pytest.approx(bending, abs=1e-5 * largest * 0.03)


def test_a_rotor_between_two_equal_ones_bears_little_along_its_shaft():
    ring = tuple(si_mounted(BAR, 0.022, np.pi * i, 0.0, North.PLUS_SHAFT) for i in range(2))
    rotors = [rotor(n, (0, 0, z), magnets=ring) for n, z in (("a", 0), ("b", 0.015), ("c", 0.03))]
    pairs = magnet_pairs(rotors, [Fraction(1)] * 3, Fraction(1))
    found = shaft_loads(rotors, pairs, 4)
    assert np.abs(found["b"].axial_N).max() < 1e-6 * np.abs(found["a"].axial_N).max()
    alone = shaft_load(rotors[1], pairs[0].forces.on_second)
    assert np.abs(alone.axial_N).max() > 1.0


def test_rotors_without_magnets_or_partners_bear_nothing():
    empty = replace(ROTORS[0], name="empty", magnets=())
    found = shaft_loads([ROTORS[0], empty], [], 3)
    assert list(found) == ["low", "empty"]
    for load in found.values():
        assert load.axial_N.tolist() == load.bending_Nm.tolist() == [0.0, 0.0, 0.0]
