"""A rod in the field of a disc magnet on its axis, solved again by finite elements.

scikit-fem (a general finite-element library, BSD) solves for u = r A, A being the vector potential
round the axis, in a meridian plane: the integral of grad u . grad w / (mu r) equals that of M dw/dr
over the magnet, for all w. The flux through a circle is then 2 pi u. That shares nothing with the
surface charges that are tested. With a magnet whose strength alternates, i omega sigma u w / r
joins in over the rod, and |omega u / r|^2 sigma / 2 is what its eddy currents lose.
"""

from __future__ import annotations

import itertools
import math
from functools import cache

import numpy as np
import pytest

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.iron_system import iron_system
from fieldsim.field.iron.magnetised_iron import magnetised_iron
from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.field.iron.screened_bodies import of_complex
from fieldsim.field.iron.section_flux import section_flux
from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.machine.iron import Rod
from fieldsim.machine.magnets import Cylinder, Magnet, North
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron, PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

skfem = pytest.importorskip("skfem")

MU0 = 4e-7 * math.pi
MM = 1e-3
RADIUS, HALF, PERMEABILITY, RESISTIVITY = 4 * MM, 20 * MM, 200.0, 0.15e-6
DISC, THICK, BELOW, REMANENCE_T = 12 * MM, 5 * MM, 23 * MM, 1.2


def graded(*edges_mm, fine_mm, coarse):
    """Return places from edge to edge, close together at the inner ones."""
    found = [edges_mm[0]]
    for low, high in itertools.pairwise(edges_mm):
        count = max(4, math.ceil((high - low) / fine_mm)) if high - low < 100 else coarse
        steps = np.linspace(0, 1, count + 1)[1:]
        if high - low >= 100:  # outwards, each step longer than the one before
            steps = steps**3 if low >= 0 else 1 - (1 - steps) ** 3
        found += list(low + (high - low) * steps)
    return np.array(found) * MM


def flux_Wb(fine_mm, coarse):
    """Return a function from radius and height to the flux through that circle [Wb]."""
    at, _ = by_elements(fine_mm, coarse, 0.0)
    return lambda rho, height: at(rho, height).real


@cache
def by_elements(fine_mm, coarse, omega):
    """Return a function from radius and height to that flux, complex, and the rod's loss [W]."""
    r = graded(0, 4, 6, 12, 300, fine_mm=fine_mm, coarse=coarse)
    z = graded(-300, -26, -20, 20, 23, 28, 34, 300, fine_mm=fine_mm, coarse=coarse)
    mesh = skfem.MeshQuad.init_tensor(r, z)
    basis = skfem.Basis(mesh, skfem.ElementQuad2(), intorder=6)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    inside = (middle[0] < RADIUS) & (np.abs(middle[1]) < HALF)
    magnet = (middle[0] < DISC / 2) & (middle[1] > BELOW) & (middle[1] < BELOW + THICK)
    mu = MU0 * np.where(inside, PERMEABILITY, 1.0)[:, None]
    strength = np.where(magnet, REMANENCE_T / MU0, 0.0)[:, None]
    conductivity = np.where(inside, 1 / RESISTIVITY, 0.0)[:, None]

    @skfem.BilinearForm
    def energy(u, w, at):
        return (u.grad[0] * w.grad[0] + u.grad[1] * w.grad[1]) / (mu * at.x[0])

    @skfem.BilinearForm
    def currents(u, w, at):
        return conductivity * u * w / at.x[0]

    @skfem.LinearForm
    def drive(w, at):
        return strength * w.grad[0]

    matrix, vector = energy.assemble(basis), drive.assemble(basis)
    if omega:
        eddies = currents.assemble(basis)
        matrix = matrix + 1j * omega * eddies
    solved = skfem.solve(*skfem.condense(matrix, vector, D=basis.get_dofs()))
    lost_W = 0.0
    if omega:
        lost_W = math.pi * omega**2 * float((solved.conj() @ (eddies @ solved)).real)

    def at(rho, height):
        probe = basis.probes(np.array([[rho], [height]]))
        return 2 * math.pi * complex((probe @ solved)[0])

    return at, lost_W


def placed():
    rod = PlacedIron("rod", Rod(2 * RADIUS, 2 * HALF), (0, 0, 0), (0, 0, 1), (1, 0, 0),
                     Material(PERMEABILITY, None, RESISTIVITY))  # fmt: skip
    disc = Magnet("disc", Cylinder(DISC, THICK), REMANENCE_T)
    held = PlacedMagnet(
        disc, radius=0.0, angle=0.0, height=BELOW + THICK / 2, north=North.PLUS_SHAFT
    )
    return rod, PlacedRotor("r", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), (held,))


MIDDLE = np.array([0, 0, BELOW + THICK / 2])
MAGNET = Body(Cylinder(DISC, THICK), (0.0, 0.0, REMANENCE_T))


@cache
def iron():
    """Return our rod, and the magnet's field at its points [A/m]."""
    rod, _ = placed()
    gap = [lambda p: np.maximum(np.linalg.norm(p - MIDDLE, axis=1) - 7 * MM, 2 * MM)]
    system = iron_system([rod], gap, gap, FINENESSES[3])
    return system, outside_field_T(MAGNET, system.points - MIDDLE)[:, :, None] / MU0


def field_T(points, omega=0.0):
    """Return our field along the axis: the magnet's own and that of the iron's charge."""
    system, applied = iron()
    charge = (system.screened(omega) if omega else system).charges(applied)
    drawn = of_complex(lambda q: field_of_charges(system.points, q, points), charge)[:, :, 0]
    return outside_field_T(MAGNET, points - MIDDLE) + MU0 * drawn


def through_circle_Wb(rho, height, omega=0.0):
    """Integrate our field over a circle; Gauss points along the radius."""
    nodes, weights = np.polynomial.legendre.leggauss(16)
    r = rho * (nodes + 1) / 2
    along = field_T(np.stack([r, 0 * r, np.full_like(r, height)], axis=1), omega)[:, 2]
    return (along * 2 * math.pi * r * weights).sum() * rho / 2


@pytest.mark.parametrize(
    ("rho", "height"),
    [(4 * MM, 21.5 * MM), (8 * MM, 21.5 * MM), (3 * MM, -22 * MM), (6 * MM, -30 * MM)],
)
def test_flux_through_circles_beyond_both_ends(rho, height):
    by_elements = flux_Wb(0.5, 24)(rho, height)
    assert by_elements == pytest.approx(flux_Wb(0.8, 16)(rho, height), rel=3e-3)
    # 0.01 % near the magnet; far from it the elements are coarse, and their space ends at 300 mm
    assert through_circle_Wb(rho, height) == pytest.approx(by_elements, rel=5e-3)


def test_without_the_rod_it_would_be_another_flux():
    """So that the check above tells something: the rod changes the flux below it manifold."""
    nodes = np.array([[0.0, 0.0, -22 * MM - BELOW - THICK / 2]])
    bare = outside_field_T(Body(Cylinder(DISC, THICK), (0.0, 0.0, REMANENCE_T)), nodes)[0, 2]
    assert field_T(np.array([[0.0, 0.0, -22 * MM]]))[0, 2] > 4 * bare


def test_flux_density_over_a_section_inside():
    rod, rotor = placed()
    found = section_flux(magnetised_iron([rod], [rotor])).greatest_T(np.zeros((1, 1)))["rod"]
    flux = flux_Wb(0.5, 24)
    heights = np.linspace(-0.7, 0.7, 29) * HALF
    greatest = max(abs(flux(RADIUS, height)) for height in heights) / (math.pi * RADIUS**2)
    # a section is averaged over a quarter of the rod, by the roughest nodes
    assert found == pytest.approx(greatest, rel=0.03)


@pytest.mark.parametrize("hertz", [10.0, 100.0, 1000.0])
def test_what_an_alternating_magnet_leaves_of_the_flux_and_what_it_loses(hertz):
    """A rod five times as long as thick, its skin from 4 mm to 0.4 mm.

    The permeability of a long bar in an even field tells flux to some per cent of what it is at
    rest, and the loss to a twentieth; at ten times these frequencies the loss is a fifth too small.
    """
    omega = 2 * math.pi * hertz
    by_fe, lost_W = by_elements(0.5, 16, omega)
    still = flux_Wb(0.5, 16)
    for rho, height in ((3 * MM, -22 * MM), (6 * MM, -24 * MM)):
        theirs = by_fe(rho, height) / still(rho, height)
        ours = through_circle_Wb(rho, height, omega) / through_circle_Wb(rho, height)
        assert abs(ours - theirs) < 0.02
        assert abs(ours - theirs) < 0.06 * abs(theirs - 1)
    system, applied = iron()
    late = (system.screened(omega).charges(applied) - system.charges(applied))[:, 0]
    potential = REMANENCE_T * magnet_potential(MAGNET.shape, (system.points - MIDDLE).T, 2)
    assert omega / 2 * (late @ potential).imag == pytest.approx(lost_W, rel=0.05)
