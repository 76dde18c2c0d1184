"""The machine handed to magpylib stands where the geometry says, and points its way."""

from __future__ import annotations

import math
from fractions import Fraction

import magpylib
import numpy as np
import pytest
from machines import described

from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.magpylib_collection import magpylib_coil, magpylib_magnet, magpylib_rotor
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

MM = 1e-3


def rotor_of(shape, north, **more):
    mounted = PlacedMagnet(Magnet("m", shape, 1.2), 22 * MM, 0.4, 5 * MM, north)
    shaft = Shaft((1 * MM, 2 * MM, 3 * MM), (0.2, -0.1, 1.0))
    return PlacedRotor("r", shaft, (1.0, 0.2, 0.3), (mounted,), **more)


def arm_axes(rotor, angle):
    """Outward, forward and along, written out from the description of the frames."""
    along = np.array(rotor.shaft.along)
    zero = np.array(rotor.zero)
    out = math.cos(angle) * zero + math.sin(angle) * np.cross(along, zero)
    return out, np.cross(along, out), along


DIRECTIONS = {
    North.OUT: (0, 1),
    North.IN: (0, -1),
    North.FORWARD: (1, 1),
    North.BACK: (1, -1),
    North.PLUS_SHAFT: (2, 1),
    North.MINUS_SHAFT: (2, -1),
}
SHAPES = [
    Cuboid((20 * MM, 10 * MM, 5 * MM)),
    Cylinder(12 * MM, 4 * MM, ArmAxis.SHAFT),
    Cylinder(12 * MM, 4 * MM, ArmAxis.ARM),
    Cylinder(12 * MM, 4 * MM, ArmAxis.FORWARD),
    Sphere(9 * MM),
]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
@pytest.mark.parametrize("north", North)
def test_position_and_pole(shape, north):
    rotor = rotor_of(shape, north)
    magnet = magpylib_magnet(rotor, rotor.magnets[0], 0.9)
    axes = arm_axes(rotor, 0.4 + 0.9)
    centre = np.array(rotor.shaft.through) + 22 * MM * axes[0] + 5 * MM * axes[2]
    assert magnet.position == pytest.approx(centre, abs=1e-15)
    axis, sign = DIRECTIONS[north]
    polarization = magnet.orientation.apply(magnet.polarization)
    assert polarization == pytest.approx(1.2 * sign * axes[axis], abs=1e-14)


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_edges_lie_along_the_arm_axes(shape):
    rotor = rotor_of(shape, North.OUT)
    magnet = magpylib_magnet(rotor, rotor.magnets[0], 0.9)
    axes = arm_axes(rotor, 1.3)
    if isinstance(shape, Cuboid):
        assert tuple(magnet.dimension) == shape.size
        for i in range(3):
            assert magnet.orientation.apply(np.eye(3)[i]) == pytest.approx(axes[i], abs=1e-14)
    elif isinstance(shape, Cylinder):
        assert tuple(magnet.dimension) == (shape.diameter, shape.thickness)
        axis = magnet.orientation.apply([0.0, 0.0, 1.0])
        assert abs(axis @ axes[shape.axis.value]) == pytest.approx(1.0, abs=1e-14)
    else:
        assert magnet.diameter == shape.diameter


def test_coil_field_at_its_centre():
    """One loop: 2 mu0 sqrt(p^2 + q^2) / (pi p q) times the turns, along the axis."""
    axis = np.array([0.3, -0.2, 1.0]) / math.sqrt(1.13)
    coil = PlacedCoil(
        "c",
        (1 * MM, 2 * MM, 3 * MM),
        tuple(axis),
        (1, 0, 0),
        (39 * MM, 19 * MM),
        1 * MM,
        1 * MM,
        250,
    )
    b = magpylib_coil(coil, layers=1, rows=1).getB(coil.centre)
    # magpylib takes the measured mu0, 1.3e-10 off 4 pi 1e-7.
    assert b == pytest.approx(250 * 4.47213595499958e-5 * axis, rel=2e-10)


@pytest.mark.parametrize(("layers", "rows"), [(1, 1), (3, 5), (4, 2)])
def test_coil_moment_far_away(layers, rows):
    """All turns together have the moment of turns times mean area, whatever they are lumped to."""
    coil = PlacedCoil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (20 * MM, 12 * MM), 8 * MM, 4 * MM, 600)
    b = magpylib_coil(coil, layers, rows).getB((0.0, 0.0, 4.0))
    # Lumping misses the spread of depths: build^2 / (3 layers^2) of the area; far terms: 1e-4.
    area = coil.mean_turn_area_m2 - coil.build**2 / (3 * layers**2)
    assert b[2] == pytest.approx(2e-7 * 600 * area / 4.0**3, rel=2e-4)


def machine():
    rotor = rotor_of(
        Cuboid((20 * MM, 10 * MM, 5 * MM)), North.OUT, gear_ratio=Fraction(-5, 2), start=0.6
    )
    coil = PlacedCoil(
        "c", (0, 0, 0.05), (0, 0, 1), (1, 0, 0), (20 * MM, 12 * MM), 8 * MM, 4 * MM, 6
    )
    return described("whole", (rotor,), (coil,))


def test_whole_machine_at_a_crank_angle():
    machine_ = machine()
    whole = machine_.to_magpylib(0.8)
    assert isinstance(whole, magpylib.Collection)
    assert [child.style.label for child in whole.children] == ["r", "c"]
    assert whole.style.label == "whole"
    rotor = magpylib_rotor(machine_.placed_rotors[0], 0.6 - 2.5 * 0.8)
    point = (0.01, 0.02, -0.03)
    placed = whole.children[0]
    assert placed.getB(point) == pytest.approx(rotor.getB(point), rel=1e-13)
    coil = magpylib_coil(machine_.placed_coils[0])
    assert whole.getB(point) == pytest.approx(rotor.getB(point) + coil.getB(point), rel=1e-13)


def test_crank_angle_zero_is_the_start():
    machine_ = machine()
    point = (0.01, 0.02, -0.03)
    at_start = magpylib_rotor(machine_.placed_rotors[0], 0.6).getB(point)
    assert machine_.to_magpylib().children[0].getB(point) == pytest.approx(at_start, rel=1e-14)
