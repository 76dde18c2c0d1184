"""Sides with nodes that crowd towards edges, and quadrature beside a near point."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fieldsim.field.iron.sides import Arc, Line, crowded, near_rule, panel_nodes, uncrowded

EDGES = [(True, True), (True, False), (False, True), (False, False)]


@pytest.mark.parametrize("edges", EDGES)
def test_shares_run_from_end_to_end_with_their_slope(edges):
    t = np.linspace(0, 1, 101)
    share, slope = crowded(t, edges)
    assert (share[0], share[-1]) == (0.0, 1.0)
    numerical = np.gradient(share, t, edge_order=2)
    assert slope[1:-1] == pytest.approx(numerical[1:-1], abs=2e-3)
    for end, edge in ((0, edges[0]), (-1, edges[1])):
        assert slope[end] == (0.0 if edge else pytest.approx(slope[end]))
        assert edge or slope[end] > 0


@pytest.mark.parametrize("edges", EDGES)
def test_parameters_of_shares_are_the_inverse_close_to_edges_too(edges):
    share = np.array([0.0, 1e-15, 1e-9, 1e-4, 0.1, 0.49, 0.5, 0.51, 0.9, 1 - 1e-9, 1.0])
    t = uncrowded(share, edges)
    assert crowded(t, edges)[0] == pytest.approx(share, rel=1e-12, abs=2e-16)
    assert uncrowded(np.array([-1.0, 2.0]), edges).tolist() == [0.0, 1.0]


@pytest.mark.parametrize("edges", EDGES)
def test_nodes_integrate_a_charge_that_grows_towards_the_edge(edges):
    """Integral of s^(-1/3) over a side from 0 to 1 is 3/2; only crowded nodes see the edge."""
    nodes = panel_nodes(edges, 3, 6)
    assert len(nodes.t) == 18
    found = float(nodes.weight @ (nodes.slope * nodes.share ** (-1 / 3)))
    assert found == pytest.approx(1.5, rel=1e-10 if edges[0] else 0.05)


@pytest.mark.parametrize("scale", [0.0, 1e-9, 1e-4, 0.1, 5.0])
def test_near_rule_holds_kernels_that_are_almost_singular(scale):
    distance, weight = near_rule(np.array([2.0]), np.array([scale]))
    if scale == 0.0:
        assert float(weight[0] @ np.log(distance[0])) == pytest.approx(
            2 * math.log(2) - 2, rel=1e-8
        )
        return
    found = float(weight[0] @ (scale / (distance[0] ** 2 + scale**2)))
    assert found == pytest.approx(math.atan(2 / scale), rel=1e-7)


def test_nothing_is_integrated_over_nothing():
    _, weight = near_rule(np.array([0.0]), np.array([0.1]))
    assert not weight.any()


def test_normals_point_out_of_the_iron():
    right = Line((1.0, -1.0), (1.0, 1.0))  # iron on its left
    assert [float(v[0]) for v in right.at(np.array([0.25]))] == [1.0, -0.5, 1.0, 0.0]
    top = Line((1.0, 1.0), (0.0, 1.0), (True, False))
    assert [float(v[0]) for v in top.at(np.array([1.0]))] == pytest.approx([0, 1, 0, 1])
    ball = Arc(2.0, 1.0)
    r, z, nr, nz = ball.at(np.linspace(0, 1, 9))
    assert np.hypot(r, z - 1.0) == pytest.approx(2.0)
    assert nr * r + nz * (z - 1.0) == pytest.approx(2.0)


def test_nearest_points():
    side = Line((0.0, 0.0), (0.0, 4.0))
    assert side.nearest(np.array([1.0, 1.0, 1.0]), np.array([-1.0, 1.0, 9.0])).tolist() == [
        0.0,
        0.25,
        1.0,
    ]
    ball = Arc(1.0, 0.0)
    where = ball.nearest(np.array([0.0, 5.0, 0.0]), np.array([-9.0, 0.0, 9.0]))
    assert where == pytest.approx([0.0, 0.5, 1.0])
