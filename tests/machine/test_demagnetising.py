"""Demagnetising factors against published values and averaged fields; what they do to a magnet."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.machine.demagnetising import block_factor, cylinder_factor, demagnetising_factor
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.placed import PlacedMagnet
from fieldsim.machine_file.reader import read
from fieldsim.operation.operating_point import OperatingPoint

# Aharoni, J. Appl. Phys. 83, 3432 (1998), his closed form evaluated with thirty digits.
BLOCKS = {
    (1, 1, 1): 0.333333333333,
    (1, 1, 2): 0.198316152789,
    (1, 1, 5): 0.0883157400454,
    (1, 1, 10): 0.0457311923871,
    (1, 1, 0.1): 0.805077633641,
    (1, 2, 3): 0.18281797804,
}
# D.-X. Chen, J. A. Brug, R. B. Goldfarb, IEEE Trans. Magn. 27, 3601 (1991), table I, length over
# diameter, susceptibility zero; from memory, so to the three digits that are sure.
CYLINDERS = {1.0: 0.3116, 10.0: 0.0412, 0.1: 0.797}


@pytest.mark.parametrize("size", BLOCKS)
def test_blocks(size):
    assert block_factor(size) == pytest.approx(BLOCKS[size], abs=1e-11)


@pytest.mark.parametrize("ratio", CYLINDERS)
def test_cylinders(ratio):
    assert cylinder_factor(1.0, ratio) == pytest.approx(CYLINDERS[ratio], abs=1e-3)


@given(st.tuples(*[st.floats(0.05, 20)] * 3))
def test_three_directions_add_up_to_one(size):
    a, b, c = size
    total = block_factor((a, b, c)) + block_factor((b, c, a)) + block_factor((c, a, b))
    assert total == pytest.approx(1.0, abs=1e-8)


@settings(max_examples=20)
@given(st.floats(0.1, 10))
def test_a_cylinder_lies_near_a_block_of_its_section(ratio):
    side = np.sqrt(np.pi) / 2
    near = block_factor((side, side, ratio))
    assert cylinder_factor(1.0, ratio) == pytest.approx(near, rel=0.03)


@pytest.mark.parametrize(
    ("shape", "axis"),
    [(Cuboid((0.02, 0.01, 0.005)), 2), (Cylinder(0.012, 0.004), 2), (Cylinder(0.012, 0.02), 0)],
)
def test_factor_is_the_mean_of_the_field_inside(shape, axis):
    """magpylib's field of the magnet, averaged over it: H = -N M."""
    import magpylib

    nodes, weights = np.polynomial.legendre.leggauss(24)
    polarization = np.eye(3)[axis]
    if isinstance(shape, Cuboid):
        body = magpylib.magnet.Cuboid(polarization=polarization, dimension=shape.size)
        grid = np.stack(np.meshgrid(*[nodes] * 3, indexing="ij"), -1) * np.array(shape.size) / 2
        weight = np.einsum("i,j,k->ijk", weights, weights, weights)
    else:
        body = magpylib.magnet.Cylinder(
            polarization=polarization, dimension=(shape.diameter, shape.thickness)
        )
        r = (nodes + 1) / 2 * shape.diameter / 2
        phi = np.linspace(0, 2 * np.pi, 32, endpoint=False)
        mesh = np.meshgrid(r, phi, nodes * shape.thickness / 2, indexing="ij")
        grid = np.stack([mesh[0] * np.cos(mesh[1]), mesh[0] * np.sin(mesh[1]), mesh[2]], -1)
        weight = np.einsum("i,j,k->ijk", weights * r, np.ones(32), weights)
    field = body.getH(grid) * 4e-7 * np.pi
    mean = -(field[..., axis] * weight).sum() / weight.sum()
    # The field is logarithmic at the edges: so many points come within a few per mille.
    assert mean == pytest.approx(demagnetising_factor(shape, axis), rel=4e-3)


def test_a_ball_is_weakened_by_a_third_of_the_excess():
    ball = Magnet("ball", Sphere(0.01), 1.2, recoil_permeability=1.3)
    mounted = PlacedMagnet(ball, 0.02, 0.0, 0.0, North.OUT)
    assert mounted.strength_T == pytest.approx(1.2 / 1.1)
    assert mounted.polarization_T == pytest.approx((1.2 / 1.1, 0.0, 0.0))


def test_a_rigid_magnet_is_as_strong_as_its_remanence():
    magnet = Magnet("bar", Cylinder(0.01, 0.003, ArmAxis.SHAFT), 1.1)
    assert PlacedMagnet(magnet, 0.02, 0.0, 0.0, North.MINUS_SHAFT).strength_T == -1.1


def test_voltage_falls_with_the_recoil():
    """A block of 20 x 10 x 5 mm along its thickness: N = 0.5649, so 2.75 % at 1.05."""
    machine = read("geometries/lamp_ring.yaml")
    soft = machine.changed({"magnets.bar.recoil_permeability": "1.05"})
    factor = block_factor((0.02, 0.01, 0.005))
    rms = [OperatingPoint(m, "90 rpm").figures["pickup"].rms_V for m in (machine, soft)]
    assert rms[1] / rms[0] == pytest.approx(1 / (1 + 0.05 * factor), rel=1e-6)
    assert 0.97 < rms[1] / rms[0] < 0.975
