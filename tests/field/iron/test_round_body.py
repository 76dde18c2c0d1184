"""Iron that is round about an axis, against what is known exactly, and against itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from iron_bodies import ball, charges, moment, profile, rod, round_body
from scipy.spatial.transform import Rotation
from scipy.special import eval_legendre

from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.field.iron.round_body import Profile
from fieldsim.field.iron.sides import Arc
from fieldsim.machine.iron import Disc, Tube

ANY = (0.3, -0.5, 0.8)


@pytest.mark.parametrize("chi", [1e-3, 1.0, 499.0, 1e6])
def test_a_ball_in_an_even_field(chi):
    """M / H0 = 3 chi / (3 + chi), along the field whatever its direction."""
    body = round_body(ball(2.0, chi))
    expected = 3 * chi / (3 + chi) * 4 / 3 * math.pi * np.array(ANY)
    assert moment(body, ANY) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("off", [2.0, 1.3])
def test_a_ball_beside_a_point_charge(off):
    """By the exact series of image multipoles; the point at 2 or 1.3 radii from the middle.

    Inside and out the potential is a series in Legendre polynomials (W. R. Smythe, Static and
    Dynamic Electricity, 5.22): order n of the surface charge is chi n (2 n + 1) / (n (mu + 1) + 1)
    times that of an even permeability's.
    """
    chi = 99.0
    source = off * np.array([math.sin(0.7), 0.0, math.cos(0.7)])

    def applied(points):
        gap = points - source
        return gap / (4 * math.pi * np.linalg.norm(gap, axis=1)[:, None] ** 3)

    body = round_body(ball(2.0, chi), panels=6, order=8, harmonics=40)
    charge = charges(body, applied)
    cosine = body.points @ source / off
    expected = np.zeros(len(charge))
    for n in range(1, 90):
        # Field along the normal at radius 1 of order n of a unit charge at radius `off`.
        normal = -n / (4 * math.pi * off ** (n + 1))
        expected += chi * (2 * n + 1) / (n * (chi + 2) + 1) * normal * eval_legendre(n, cosine)
    r = body.places[0]
    area = np.repeat(body.weight * r * 2 * math.pi / body.around, body.around)
    # The strongest harmonic that is left out is off^-41 of the whole.
    assert charge / area == pytest.approx(expected, abs=1e-4 * np.abs(expected).max())


def test_the_field_inside_a_shell():
    """9 mu / ((2 mu + 1)(mu + 2) - 2 (a/b)^3 (mu - 1)^2) of the applied one, any textbook."""

    class Hollow(Arc):
        def at(self, share):
            r, z, nr, nz = super().at(share)
            return r, z, -nr, -nz

    mu, inner = 200.0, 0.9
    shell = Profile((Arc(1.0, 0.0), Hollow(inner, 0.0)), mu - 1)
    body = round_body(shell, panels=6, order=8)
    inside = field_of_charges(body.points, charges(body, ANY)[:, None], np.zeros((1, 3)))[0, :, 0]
    share = 9 * mu / ((2 * mu + 1) * (mu + 2) - 2 * inner**3 * (mu - 1) ** 2)
    # The iron takes nearly all of the field away, so that its own error counts 20 times.
    assert np.array(ANY) + inside == pytest.approx(share * np.array(ANY), rel=1e-4)


def test_permeability_one_draws_nothing():
    assert not charges(round_body(rod(1.0, 3.0, 0.0)), ANY).any()


@pytest.mark.parametrize("chi", [9.0, 999.0, 1e6])
@pytest.mark.parametrize(
    "field", [ANY, lambda p: np.stack([p[:, 0], p[:, 2] ** 2, 1 - p[:, 2]], 1)]
)
def test_the_charge_of_each_piece_adds_to_zero(chi, field):
    """In any field that has no sources in the iron."""
    body = round_body(rod(1.0, 3.0, chi), ball(0.5, chi, 2.0))
    charge, pieces = charges(body, field), body.pieces
    for piece in (0, 1):
        own = charge[pieces == piece]
        assert abs(own.sum()) < 1e-3 * np.abs(own).sum()


@pytest.mark.parametrize(
    "shape",
    [
        rod(1.0, 4.0, 199.0),
        profile(Tube, 1.0, 0.8, 3.0, susceptibility=199.0),
        profile(Disc, 2.0, 0.1, susceptibility=199.0),
        profile(Tube, 1.0, 0.98, 3.0, susceptibility=499.0),
    ],
    ids=["rod", "tube", "disc", "thin tube"],
)
@pytest.mark.parametrize("axis", [(0, 0, 1), (1, 0, 0)])
def test_finer_nodes_agree(shape, axis):
    few = moment(round_body(shape), axis)
    many = moment(round_body(shape, panels=5, order=8), axis)
    assert few == pytest.approx(many, rel=3e-4, abs=1e-9)


def test_axes_may_point_anywhere():
    """Turned and moved, everything turns and moves with it."""
    turned = Rotation.from_rotvec((0.4, -0.9, 0.5)).as_matrix()
    straight = round_body(rod(1.0, 3.0, 99.0))
    leaning = round_body(rod(1.0, 3.0, 99.0), origin=(5, 6, 7), frame=turned)
    assert moment(leaning, turned @ ANY) - charges(
        leaning, turned @ ANY
    ).sum() * leaning.origin == (pytest.approx(turned @ moment(straight, ANY), rel=1e-9))


def test_fields_add():
    body = round_body(rod(1.0, 3.0, 99.0), ball(0.8, 9.0, 3.0))
    one, two = charges(body, (1, 0, 0)), charges(body, (0, 0, 2))
    assert charges(body, (1, 0, 2)) == pytest.approx(one + two, abs=1e-12 * np.abs(one).max())


def test_two_halves_of_a_rod_come_to_act_like_one():
    """As the gap between them closes; at a thousandth of the diameter a per cent is missing."""
    whole = moment(round_body(rod(1.0, 10.0, 999.0)), (0, 0, 1))[2]
    found = []
    for gap in (1.0, 0.1, 0.01, 1e-3):
        halves = [rod(1.0, 5.0 - gap / 2, 999.0, s * (2.5 + gap / 4)) for s in (1, -1)]
        found.append(moment(round_body(*halves), (0, 0, 1))[2] / whole)
    assert found == sorted(found)
    assert found[0] < 0.4
    assert 0.98 < found[-1] < 1.0


def test_pieces_far_apart_act_alone():
    near, far = rod(1.0, 2.0, 99.0), rod(1.0, 2.0, 99.0, 500.0)
    both = round_body(near, far)
    charge = charges(both, (0, 0, 1))[both.pieces == 0]
    assert charge == pytest.approx(charges(round_body(near), (0, 0, 1)), rel=1e-6, abs=1e-9)


def test_few_points_stand_for_all_from_some_distance():
    body = round_body(rod(1.0, 4.0, 99.0), panels=4, order=6, harmonics=8)
    source, listener = np.array([2.0, 1.0, 1.0]), np.array([1.5, -1.0, 0.4])

    def applied(points):
        return (points - source) / np.linalg.norm(points - source, axis=1)[:, None] ** 3

    def reach(points):
        gaps = [np.linalg.norm(points - place, axis=1) for place in (source, listener)]
        return np.minimum(*gaps)

    charge = charges(body, applied)
    all_of_it = (charge / np.linalg.norm(body.points - listener, axis=1)).sum()
    for digits, error in ((5.0, 1e-2), (9.0, 1e-3), (14.0, 2e-5)):
        few = body.reduction([reach], digits)
        seen = (
            few.down(charge[:, None])[:, 0] / np.linalg.norm(few.points - listener, axis=1)
        ).sum()
        assert seen == pytest.approx(all_of_it, rel=error)
        assert few.down(charge[:, None]).sum() == pytest.approx(0, abs=1e-3 * np.abs(charge).sum())
        normal = np.einsum("pi,pi->p", applied(few.points), few.normals)
        known = np.einsum("pi,pi->p", applied(body.points), body.normals)
        spread = few.up(normal[:, None])[:, 0]
        assert spread == pytest.approx(known, abs=100 * error * np.abs(known).max())
    assert len(few.points) < len(body.points) / 2


def test_rings_hold_the_charge_that_was_there():
    body = round_body(profile(Disc, 2.0, 0.1, susceptibility=99.0, height=0.3), harmonics=5)
    charge = charges(body, ANY)
    cuts = ({0.4, 0.7, 5.0}, {0.28})
    r, z, rings = body.rings(charge, *cuts, lambda r, z: np.zeros_like(r))
    assert len(r) > len(body.weight)
    turn = 2 * math.pi / body.around * np.arange(body.around)
    x, y = r[:, None] * np.cos(turn), r[:, None] * np.sin(turn)
    found = [(rings * place).sum() for place in (x, y, np.broadcast_to(z[:, None], x.shape))]
    assert found == pytest.approx(charge @ body.points, rel=1e-6)
    plain = body.rings(charge, *cuts, lambda r, z: np.full_like(r, np.inf))
    assert len(plain[0]) == len(body.weight)
    assert replace(body, harmonics=2).around == 6
