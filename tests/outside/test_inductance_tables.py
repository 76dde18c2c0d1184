"""Inductance against published figures, closed forms and independent integration.

Reference values without another source were computed independently of this package: filaments by
Neumann's sum to 25 digits (mpmath), confirmed by two-dimensional quadrature; finite sections by a
singular four-dimensional quadrature whose 24, 40 and 60 point results agree to 13 digits, and which
gives the published inductance of the Brooks coil when applied to circles.
"""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest
from machines import si_coil
from scipy.integrate import dblquad

from fieldsim.field.inductance.filament_inductance import (
    polygon_mutual_H,
    rectangle_corners,
    segment_mutual_H,
)
from fieldsim.field.inductance.matrix import mutual_inductance, self_inductance
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.machine.placed import PlacedCoil

MU_0 = 4e-7 * math.pi
MM = 1e-3


def coil(mean_sides, build, length, height=0.0):
    """A coil by the sides of its mean turn [mm], one turn."""
    opening = tuple((side - build) * MM for side in mean_sides)
    return si_coil(
        "c", (0, 0, height * MM), (0, 0, 1), (1, 0, 0), opening, length * MM, build * MM, 1
    )


def rectangle(sides_mm, height_mm=0.0):
    size = (sides_mm[0] * MM, sides_mm[1] * MM)
    return rectangle_corners((0, 0, height_mm * MM), (0, 0, 1), (1, 0, 0), size)


@pytest.mark.parametrize(
    ("first", "second", "distance", "expected"),
    [
        ((100, 100), (100, 100), 10, 1.30250601671926e-7),
        ((100, 100), (100, 100), 100, 1.01214657103857e-8),
        ((40, 20), (40, 20), 5, 2.5952050841444e-8),
        ((60, 40), (30, 20), 10, 1.17706368729915e-8),
        ((50, 30), (50, 30), 50, 2.19803477084544e-9),
    ],
)
def test_coaxial_rectangles(first, second, distance, expected):
    value = polygon_mutual_H(rectangle(first), rectangle(second, distance))
    assert value == pytest.approx(expected, rel=1e-13)  # 14 or 15 digits are given


@pytest.mark.parametrize(
    ("radius1", "radius2", "distance", "expected"),
    [
        # Maxwell's elliptic integrals, evaluated independently; the second rounds to 0.24879 uH, a
        # worked example of Grover's book (remembered, not read again).
        (0.1, 0.1, 0.1, 4.94078463079827e-8),
        (0.2, 0.25, 0.1, 2.48787359042189e-7),
        (0.05, 0.03, 0.02, 2.89330173649111e-8),
    ],
)
def test_many_sided_polygons_tend_to_circles(radius1, radius2, distance, expected):
    def inductance_H(sides):
        angle = 2 * np.pi * np.arange(sides) / sides
        circle = np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=-1)
        # The polygon of equal area: what a circle's flux is set by.
        grow = math.sqrt(2 * math.pi / sides / math.sin(2 * math.pi / sides))
        return float(
            polygon_mutual_H(radius1 * grow * circle, radius2 * grow * circle + [0, 0, distance])
        )

    coarse, fine = inductance_H(60), inductance_H(120)
    # The error falls as 1/sides**2 (or faster): one step of extrapolation, with 1/sides**4 left.
    assert abs(fine - expected) < 0.3 * abs(coarse - expected)
    assert (4 * fine - coarse) / 3 == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("mean_sides", "build", "length", "expected"),
    [
        ((50, 50), 10, 10, 6.898972251007e-8),
        ((40, 25), 8, 12, 3.386940789522e-8),
        ((30, 20), 10, 20, 1.608615595515e-8),
        ((60, 40), 4, 20, 6.224300939034e-8),
        ((100, 50), 5, 5, 1.594759020370e-7),
        ((100, 100), 1, 1, 3.712185760262e-7),
    ],
)
def test_self_inductance_of_finite_sections(mean_sides, build, length, expected):
    own = self_inductance(coil(mean_sides, build, length))
    assert own.value_H == pytest.approx(expected, rel=1e-11)  # 13 digits are given
    assert own.error_H < 2e-9 * own.value_H


@pytest.mark.parametrize(
    ("first", "second", "expected", "tolerance"),
    [
        # Nine or more digits are given, of four-dimensional Gauss-Legendre with 8, 12, 20 points.
        (((50, 50), 10, 10), ((50, 50), 10, 10, 20), 2.146666605014e-8, 1e-9),
        (((40, 25), 8, 12), ((40, 25), 8, 12, 50), 1.180790600653e-9, 1e-9),
        (((60, 40), 4, 20), ((30, 20), 10, 20), 1.46118299e-8, 4e-9),
    ],
)
def test_mutual_inductance_of_finite_sections(first, second, expected, tolerance):
    mutual = mutual_inductance(coil(*first), coil(*second))
    assert mutual.value_H == pytest.approx(expected, rel=tolerance)


@pytest.mark.parametrize(
    ("sides", "expected"), [((100, 100), 3.81944361797e-7), ((100, 50), 2.62697992807e-7)]
)
def test_a_thin_square_section_acts_as_round_wire_of_the_same_mean_distance(sides, expected):
    """Rectangles of round wire of 0.5 mm radius (thin-wire closed forms).

    For the square L = (2 mu0 a/pi)(ln(a/r) - 0.5240128); F. W. Grover prints 0.52401 (remembered).
    A section acts by its geometric mean distance: r exp(-1/4) for the round wire, 0.447049 times
    its side for a square (J. C. Maxwell, Treatise, article 692).
    """
    radius = 0.5
    side = radius * math.exp(-0.25) / 0.447049

    def shortfall(shrink):
        """Inductance less its known dependence on thickness, at a fraction of the thickness."""
        thin = self_inductance(coil(sides, side * shrink, side * shrink)).value_H
        return thin + MU_0 / math.pi * sum(sides) * MM * math.log(shrink)

    # Both formulas hold as the wire gets thin; what is left is of the order of thickness over side.
    assert shortfall(1.0) == pytest.approx(expected, rel=2e-3)
    assert shortfall(1e-3) == pytest.approx(expected, rel=2e-6)
    assert abs(shortfall(0.1) - expected) < 0.2 * abs(shortfall(1.0) - expected)


def test_long_winding_tends_to_a_long_solenoid():
    """L = mu0 N2 A/l in the long limit, with corrections of the ends that fall as 1/l.

    In a long solenoid a turn links the flux of another through the smaller of the two, so that A is
    the mean area of the inner one of two turns: exact, by the field of a long sheet.
    """
    side, build = 20.0, 0.5
    inner = side - build
    # Two depths, each evenly spread: the lesser has mean 1/3 and mean square 1/6 of the build.
    area = (inner**2 + 4 * inner * build / 3 + 4 * build**2 / 6) * MM**2

    def ratio(length):
        own = self_inductance(coil((side, side), build, length)).value_H
        return own / (MU_0 * area / (length * MM))

    short, long = ratio(4000.0), ratio(8000.0)
    assert short < long < 1
    # The next correction is of the order (side/length)**2.
    assert 2 * long - short == pytest.approx(1.0, abs=1e-5)


def test_skew_segments_by_two_dimensional_quadrature():
    start1, end1 = np.array([0.0, 0.0, 0.0]), np.array([0.05, 0.01, 0.0])
    start2, end2 = np.array([0.01, 0.0, 0.02]), np.array([0.03, 0.04, 0.035])
    e, g = end1 - start1, end2 - start2

    def inverse_distance(s, t):
        return 1 / math.dist(start1 + s * e, start2 + t * g)

    integral, _ = dblquad(inverse_distance, 0, 1, 0, 1, epsabs=0, epsrel=1e-12)
    expected = 1e-7 * (e @ g) * integral
    assert segment_mutual_H(start1, end1, start2, end2) == pytest.approx(expected, rel=1e-11)


def magpylib_linkage_Wb(source: PlacedCoil, target: PlacedCoil, depth: int, points: int) -> float:
    """Flux of one ampere in the source's turns, made of polylines, through the target's turns."""

    def rule(count):
        nodes, weights = gauss_legendre(count)
        return nodes, weights / 2

    nodes, shares = rule(depth)
    loops = magpylib.Collection()
    for u, a in zip((1 + nodes) / 2 * source.build, shares, strict=True):
        for w, b in zip(nodes * source.length / 2, shares, strict=True):
            centre = tuple(np.array(source.centre) + w * np.array(source.axis))
            size = (source.opening[0] + 2 * u, source.opening[1] + 2 * u)
            corners = rectangle_corners(centre, source.axis, source.side, size)
            closed = np.vstack([corners, corners[:1]])
            loops.add(magpylib.current.Polyline(current=a * b, vertices=closed))

    x, x_share = rule(points)
    total = 0.0
    for u, a in zip((1 + nodes) / 2 * target.build, shares, strict=True):
        half = np.array(target.opening) / 2 + u
        for w, b in zip(nodes * target.length / 2, shares, strict=True):
            plane = np.stack(np.meshgrid(x * half[0], x * half[1], [w], indexing="ij"), axis=-1)
            field = loops.getB(plane.reshape(-1, 3) @ target.frame.T + np.array(target.centre))
            normal = (field @ np.array(target.axis)).reshape(points, points)
            total += a * b * 4 * half[0] * half[1] * (x_share @ normal @ x_share)
    return float(total) * source.turns * target.turns


def test_flux_of_a_tilted_coil_by_magpylib():
    """A route with nothing in common: field of polylines (magpylib), flux through each turn."""
    source = si_coil("s", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 300)
    target = si_coil(
        "t", (0.01, -0.004, 0.03), (0.4, -0.2, 1), (1, 0.3, 0), (0.02, 0.03), 0.008, 0.004, 500
    )
    expected = magpylib_linkage_Wb(source, target, depth=4, points=14)
    mutual = mutual_inductance(source, target)
    # Four points a dimension at a section's size apart hold about six digits.
    assert mutual.value_H == pytest.approx(expected, rel=2e-6)
    assert mutual.error_H < 1e-7 * mutual.value_H
