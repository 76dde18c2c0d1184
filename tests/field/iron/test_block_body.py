"""Blocks of iron: symmetries, limits, and the cube that is known to many digits."""

from __future__ import annotations

import numpy as np
import pytest
from iron_bodies import block_body, charges, moment
from scipy.spatial.transform import Rotation

HALF = (0.5, 0.3, 0.2)
ANY = (0.3, -0.5, 0.8)


@pytest.mark.parametrize(("panels", "order", "error"), [(2, 4, 3e-3), (2, 6, 2e-4), (4, 6, 1e-5)])
def test_a_cube_of_infinite_permeability(panels, order, error):
    """3.644305190268 (Helsing and Perfekt, arXiv:1203.5997, Table 1, at second hand)."""
    body = block_body((0.5, 0.5, 0.5), 1e9, (panels,) * 3, order)
    assert moment(body, (0, 0, 1)) == pytest.approx([0, 0, 3.644305190268], rel=error, abs=1e-12)


def test_the_field_may_come_from_anywhere():
    body = block_body(HALF, 99.0)
    each = [moment(body, axis) for axis in np.eye(3)]
    assert moment(body, ANY) == pytest.approx(np.array(ANY) @ each, rel=1e-12)
    for axis, found in enumerate(each):
        assert np.delete(found, axis) == pytest.approx([0, 0], abs=1e-12)
    assert each[0][0] > each[1][1] > each[2][2]  # the longer, the more it takes up


def test_edges_may_be_named_in_any_order():
    body, other = block_body(HALF, 99.0), block_body((0.3, 0.2, 0.5), 99.0)
    assert moment(body, ANY)[[1, 2, 0]] == pytest.approx(
        moment(other, (ANY[1], ANY[2], ANY[0])), rel=1e-6
    )


def test_turned_and_moved_it_is_the_same():
    turned = Rotation.from_rotvec((0.4, -0.9, 0.5)).as_matrix()
    body = block_body(HALF, 99.0)
    moved = block_body(HALF, 99.0, origin=(5, 6, 7), frame=turned)
    assert moment(moved, turned @ ANY) == pytest.approx(turned @ moment(body, ANY), rel=1e-9)


def test_permeability_one_draws_nothing():
    assert not charges(block_body(HALF, 0.0), ANY).any()


def test_weak_iron_is_magnetised_evenly():
    """M = chi H0 to first order: the charge of each face is chi times its area."""
    body = block_body(HALF, 1e-4)
    found = moment(body, ANY) / (8 * np.prod(HALF))
    assert found == pytest.approx(1e-4 * np.array(ANY), rel=1e-4)


def product_of(points, signs):
    return np.prod([points[:, d] if s else np.ones(len(points)) for d, s in enumerate(signs)], 0)


def test_fields_of_every_symmetry_are_solved_for():
    """Odd and even about each middle plane: the charge is as the field is."""
    body = block_body(HALF, 9.0)
    for odd in range(8):
        signs = [(odd >> d) & 1 for d in range(3)]

        def potential_gradient(points, signs=signs):
            terms = [points[:, d] if s else np.ones(len(points)) for d, s in enumerate(signs)]
            gradient = np.zeros_like(points)
            for d, s in enumerate(signs):
                if s:
                    gradient[:, d] = np.prod([t for e, t in enumerate(terms) if e != d], axis=0)
            return gradient

        charge = charges(body, potential_gradient)
        if odd == 0:
            assert not charge.any()
            continue
        assert charge @ product_of(body.points, signs) > 0
        for d in range(3):
            other = [s ^ (d == e) for e, s in enumerate(signs)]
            assert abs(charge @ product_of(body.points, other)) < 1e-9 * np.abs(charge).sum()


def test_charge_adds_to_zero_in_any_field_without_sources():
    body = block_body(HALF, 999.0)
    charge = charges(body, lambda p: np.stack([p[:, 0], p[:, 0] ** 2, 1 - p[:, 2]], axis=1))
    assert abs(charge.sum()) < 1e-3 * np.abs(charge).sum()


@pytest.mark.parametrize("half", [(0.5, 0.4, 0.02), (0.05, 0.04, 0.5)], ids=["plate", "bar"])
def test_finer_nodes_agree(half):
    few = block_body(half, 499.0)
    many = block_body(half, 499.0, (4, 4, 4), 6)
    for axis in np.eye(3):
        assert moment(few, axis) == pytest.approx(moment(many, axis), rel=1e-3, abs=1e-9)


def test_few_points_stand_for_all_from_some_distance():
    body = block_body((0.5, 0.5, 1.0), 99.0, (3, 3, 4))
    listener = np.array([1.5, -1.0, 0.4])

    def reach(points):
        return np.linalg.norm(points - listener, axis=1)

    charge = charges(body, ANY)
    all_of_it = (charge / reach(body.points)).sum()
    for digits, error in ((6.0, 2e-2), (12.0, 2e-4)):
        few = body.reduction([reach], digits)
        seen = (few.down(charge[:, None])[:, 0] / reach(few.points)).sum()
        assert seen == pytest.approx(all_of_it, rel=error)
        values = few.points @ np.array([[1.0], [2.0], [3.0]])
        assert few.up(values) == pytest.approx(body.points @ np.array([[1.0], [2.0], [3.0]]))
    assert len(few.points) < len(body.points) / 2
    # Points on the faces, with their normals.
    local = np.abs(few.points) / np.array([0.5, 0.5, 1.0])
    assert local.max(axis=1) == pytest.approx(1.0)
    assert (np.einsum("pi,pi->p", few.normals, few.points) > 0).all()
