"""A rod that saturates in the field of a disc magnet on its axis, solved again by finite elements.

The same space, magnet and rod as in `test_iron_by_finite_elements`, but the elements' permeability
is found point by point, over and over, from the flux density there: with b = B/mu0, the law
M = chi H/(1 + chi H/Ms) says chi/Ms H^2 + (1 + chi - b chi/Ms) H - b = 0. What is compared is the
flux through the rod's middle, at two saturations, and what saturation takes of it.
"""

from __future__ import annotations

import itertools
import math
import os
from functools import cache

import numpy as np
import pytest

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.iron.iron_cells import iron_cells
from fieldsim.field.iron.magnetised_cells import MagnetisedCells
from fieldsim.field.iron.saturating_law import left_share
from fieldsim.machine.iron import Rod
from fieldsim.machine.magnets import Cylinder
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron

skfem = pytest.importorskip("skfem")

MU0 = 4e-7 * math.pi
MM = 1e-3
RADIUS, HALF, PERMEABILITY = 4 * MM, 20 * MM, 200.0
DISC, THICK, BELOW, REMANENCE_T = 12 * MM, 5 * MM, 23 * MM, 1.2


def graded(*edges_mm, fine_mm, coarse):
    """Return places from edge to edge, farther apart beyond the outer ones."""
    found = [np.array(edges_mm[:1])]
    for low, high in itertools.pairwise(edges_mm):
        if high - low < 100:
            steps = np.linspace(0, 1, max(2, math.ceil((high - low) / fine_mm)) + 1)[1:]
        else:
            steps = np.linspace(0, 1, coarse + 1)[1:] ** 3
            steps = steps if low >= 0 else np.append(1 - steps[-2::-1], 1.0)
        found.append(low + (high - low) * steps)
    return np.concatenate(found) * MM


@cache
def through_middle_by_elements_Wb(saturation_T, fine_mm=1.0, coarse=12):
    r = graded(0, 4, 6, 12, 300, fine_mm=fine_mm, coarse=coarse)
    z = graded(-300, -26, -20, 20, 23, 28, 34, 300, fine_mm=fine_mm, coarse=coarse)
    basis = skfem.Basis(skfem.MeshQuad.init_tensor(r, z), skfem.ElementQuad2(), intorder=4)
    middle = basis.mesh.p[:, basis.mesh.t].mean(axis=1)
    inside = ((middle[0] < RADIUS) & (np.abs(middle[1]) < HALF))[:, None]
    magnet = (middle[0] < DISC / 2) & (middle[1] > BELOW) & (middle[1] < BELOW + THICK)
    strength = np.where(magnet, REMANENCE_T / MU0, 0.0)[:, None]

    @skfem.BilinearForm
    def energy(u, w, at):
        return (u.grad[0] * w.grad[0] + u.grad[1] * w.grad[1]) * at.reluctance / at.x[0]

    @skfem.LinearForm
    def drive(w, at):
        return strength * w.grad[0]

    vector, edge = drive.assemble(basis), basis.get_dofs()
    permeability = np.where(inside, PERMEABILITY, 1.0) + np.zeros_like(basis.dx)
    before = 0.0
    for _ in range(100):
        matrix = energy.assemble(basis, reluctance=1 / (MU0 * permeability))
        solved = skfem.solve(*skfem.condense(matrix, vector, D=edge))
        probe = basis.probes(np.array([[RADIUS], [0.0]]))
        flux = 2 * math.pi * float((probe @ solved)[0])
        if abs(flux - before) < 1e-5 * abs(flux):
            return flux
        before = flux
        grad = basis.interpolate(solved).grad
        b = np.hypot(grad[0], grad[1]) / basis.global_coordinates()[0] / MU0
        chi, a = PERMEABILITY - 1, (PERMEABILITY - 1) * MU0 / saturation_T
        half = (1 + chi - b * a) / 2
        field = b / (half + np.sqrt(half**2 + a * b))
        found = np.where(inside, np.where(b > 0, b / field, PERMEABILITY), 1.0)
        permeability = permeability**0.7 * found**0.3  # in larger steps it sways
    raise AssertionError("the permeability did not settle")


@cache
def through_middle_by_cells_Wb(saturation_T, most=600):
    material = Material(PERMEABILITY, None if math.isinf(saturation_T) else saturation_T)
    rod = PlacedIron("rod", Rod(2 * RADIUS, 2 * HALF), (0, 0, 0), (0, 0, 1), (1, 0, 0), material)
    cells = iron_cells([rod], most)
    from_magnet = cells.points.reshape(-1, 3) - (0, 0, BELOW + THICK / 2)
    body = Body(Cylinder(DISC, THICK), (0.0, 0.0, REMANENCE_T))
    applied = cells.averaged(outside_field_T(body, from_magnet).reshape(-1, 8, 3))[..., None]
    system = MagnetisedCells.of(cells)
    linear = system.linear_T(applied)
    size = np.linalg.norm(linear, axis=1, keepdims=True)
    start = linear / (1 + size / cells.saturation_T[:, None, None])
    found = system.saturated_T(applied, start)[:, :, 0]
    left = left_share(np.linalg.norm(found, axis=1), cells.saturation_T)
    flux_T = (1 + 1 / ((PERMEABILITY - 1) * left)) * found[:, 2]
    middle = np.abs(cells.origin[:, 2]) < 1.1 * cells.size[:, 3]  # one layer, or two that meet
    mean_T = float((cells.volume_m3 * flux_T)[middle].sum() / cells.volume_m3[middle].sum())
    return mean_T * math.pi * RADIUS**2


@pytest.mark.skipif(not os.environ.get("FIELDSIM_LONG"), reason="takes seconds")
def test_the_elements_are_fine_enough():
    assert through_middle_by_elements_Wb(0.35) == pytest.approx(
        through_middle_by_elements_Wb(0.35, 0.7, 16), rel=1e-3
    )


def test_without_saturation():
    """Cells as long as an eighth of the rod's length let 1.1 % less through; 1200 of them 0.7 %."""
    expected = through_middle_by_elements_Wb(math.inf)
    assert through_middle_by_cells_Wb(math.inf) == pytest.approx(expected, rel=0.015)


@pytest.mark.parametrize(("saturation_T", "taken"), [(2.0, 0.02), (0.35, 0.29)])
def test_flux_through_the_middle(saturation_T, taken):
    """From a tenth of the saturation in the middle up to nine tenths of it."""
    expected = through_middle_by_elements_Wb(saturation_T)
    assert 1 - expected / through_middle_by_elements_Wb(math.inf) == pytest.approx(taken, abs=0.01)
    # the less permeable what is left, the better cells tell it
    found = through_middle_by_cells_Wb(saturation_T)
    assert found == pytest.approx(expected, rel=0.012 if saturation_T > 1 else 0.002)
