"""Flux through sections of iron, against closed forms, and what it follows."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from machines import shipped

from fieldsim.field.iron.magnetised_iron import magnetised_iron
from fieldsim.field.iron.section_flux import section_flux
from fieldsim.machine.iron import Ball, Block, Disc, IronPiece, Rod, Tube
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cuboid, Magnet
from fieldsim.machine.materials import Material
from fieldsim.machine.rotors import Mount, Rotor
from fieldsim.machine.shaft import Shaft
from fieldsim.operation.saturation import flux_densities_T

MM = 1e-3


def far_magnet(iron: IronPiece, height: float = 400 * MM) -> Machine:
    """Return a machine of one small strong magnet on a shaft, and iron far from it."""
    coil = shipped("one_rotor").coils[0]
    magnet = Magnet("bar", Cuboid((20 * MM, 20 * MM, 20 * MM)), 1.2)
    rotor = Rotor(
        "far", Shaft((0, 0, height), (0, 0, 1)), (1, 0, 0), (Mount("bar", 0.0, 0.0, "+shaft"),), 1
    )
    return Machine("far", (magnet,), (rotor,), (coil,), iron=(iron,))


def greatest(machine, angles=(0.0,)):
    turned = np.array([[float(r.gear_ratio) * a for a in angles] for r in machine.placed_rotors])
    iron = magnetised_iron(machine.placed_iron, machine.placed_rotors)
    return section_flux(iron).greatest_T(turned)


def dipole_T(distance):
    """On the axis of the magnet, as a dipole: mu0 m/(2 pi r^3) with m = J V/mu0."""
    return 1.2 * (20 * MM) ** 3 / (2 * math.pi * distance**3)


@pytest.mark.parametrize("permeability", [2.0, 20.0, 500.0])
def test_a_ball_in_an_even_field(permeability):
    """B inside is 3 mu/(mu + 2) B0 (Jackson, section 5.11, from memory)."""
    ball = IronPiece("ball", Ball(8 * MM), (0, 0, 0), material=Material(permeability))
    expected = 3 * permeability / (permeability + 2) * dipole_T(2.0)
    # the roughest nodes are used, some of which a section parts
    assert greatest(far_magnet(ball, 2.0))["ball"] == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize(
    "shape", [Rod(8 * MM, 60 * MM), Tube(8 * MM, 4 * MM, 60 * MM), Block((8 * MM, 6 * MM, 60 * MM))]
)
def test_of_almost_no_permeability_it_is_the_field_itself(shape):
    side = {"side": (1, 0, 0)} if isinstance(shape, Block) else {}
    piece = IronPiece("piece", shape, (0, 0, 0), axis=(0, 0, 1), material=Material(1.001), **side)
    near = dipole_T(0.4 - 0.7 * 30 * MM)  # the outermost cut is nearest to the magnet
    assert greatest(far_magnet(piece))["piece"] == pytest.approx(near, rel=0.03)


def test_it_is_linear_in_the_magnets():
    machine = shipped("bolt_beside_magnets")
    angles = np.linspace(0, 2 * math.pi, 720)
    one = greatest(machine, angles)
    weak = greatest(machine.changed({"magnets.bar.remanence": "0.6 T"}), angles)
    assert one["core of pickup"] == pytest.approx(2 * weak["core of pickup"], rel=1e-9)
    assert 0.5 < one["core of pickup"] < 1.0


def test_discs_that_mirror_each_other_carry_alike_though_magnets_lie_against_them():
    """Rounding must not decide on which side of a magnet's face the iron is."""
    machine = shipped("steel_discs")
    found = greatest(machine, np.linspace(0, 2 * math.pi, 360))
    assert found["upper_disc"] == pytest.approx(found["lower_disc"], rel=1e-6)
    # Half of a magnet's flux, 2 cm2 at some 1 T, goes each way through 3 mm by 42 mm; the magnets
    # that face it on the other rotor drive as much again.
    assert 0.8 < found["upper_disc"] < 1.6
    lifted = machine.changed({"magnets.bar.size[2]": "4.98 mm"})  # 0.01 mm of air between
    near = greatest(lifted, np.linspace(0, 2 * math.pi, 360))
    assert near["upper_disc"] == pytest.approx(found["upper_disc"], rel=0.1)


def test_a_thinner_disc_carries_more():
    machine = shipped("steel_discs")
    angles = np.linspace(0, 2 * math.pi, 360)
    thin = replace(machine.iron[0], shape=Disc(84 * MM, 1.5 * MM), centre=(0, 0, 12.75 * MM))
    one, two = (
        greatest(machine, angles),
        greatest(replace(machine, iron=(thin, machine.iron[1])), angles),
    )
    assert two["upper_disc"] > 1.1 * one["upper_disc"]


def test_without_iron_there_is_none():
    machine = shipped("one_rotor")
    assert magnetised_iron(machine.placed_iron, machine.placed_rotors) is None
    assert flux_densities_T(machine) == {}
