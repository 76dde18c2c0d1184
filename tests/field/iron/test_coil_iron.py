"""What iron adds to linkage and inductance, of whole machines and by other ways."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from machines import MM, ball, block, coil, disc, magnet, mounted, rotor, shipped

from fieldsim.errors import ImpossibleError
from fieldsim.field.inductance.matrix import inductance_matrix
from fieldsim.field.iron.coil_iron import NO_IRON, CoilIron
from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.field.linkage.pair_linkage import pair_linkage, sample_series
from fieldsim.field.linkage.quadrature import gauss_legendre
from fieldsim.field.potential.magnet_potential import magnet_potential
from fieldsim.field.potential.winding_field import winding_field
from fieldsim.machine.iron import Ball, Block, Core, Disc, IronPiece, Rod, Tube
from fieldsim.machine.magnets import ArmAxis, North
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron
from fieldsim.waveform.flux_table import coil_iron, flux_table, tolerance_for

MU0 = 4e-7 * math.pi
STEEL = Material(500)
PICKUP = coil()


def iron(shape, centre=(0, 0, 0), axis=(0, 0, 1), side=(1, 0, 0), material=STEEL, **more):
    """Return a piece, its place in millimetres."""
    return PlacedIron("piece", shape, tuple(c * MM for c in centre), axis, side, material, **more)


def share(piece, turning, winding=PICKUP, tolerance=1e-4):
    """Return what iron adds to the linkage at 72 angles, and the whole pair."""
    pieces = piece if isinstance(piece, tuple) else (piece,)
    known = CoilIron(pieces, (winding,), (turning,))
    pair = pair_linkage(winding, turning, tolerance, known)
    bare = pair_linkage(winding, turning, tolerance)
    return (
        sample_series(pair.harmonics_Wb, 72) - sample_series(bare.harmonics_Wb, 72),
        pair,
    )


MAGNETS = {
    "block": mounted(block(20, 10, 5), height=16),
    "disc": mounted(disc(12, 5), height=16, north=North.OUT),
    "rod": mounted(disc(8, 14, ArmAxis.ARM), height=17, north=North.FORWARD),
    "ball": mounted(ball(10), height=18),
}
PIECES = {
    "bolt in the coil": iron(Rod(0.010, 0.030), (0, 22, -6)),
    "bar in the coil": iron(Block((0.010, 0.008, 0.020)), (0, 22, 0)),
    "disc about the shaft": iron(Disc(0.05, 0.003), (0, 0, -20)),
    "tube lying beside": iron(Tube(0.01, 0.006, 0.03), (35, 10, -5), (0.6, 0, 0.8), (0, 1, 0)),
    "ball beside": iron(Ball(0.015), (-30, 20, 0)),
}


def from_the_magnets(piece, turning, winding, angles):
    """Return the linkage with iron that the magnets magnetise, the other way round.

    The iron in the magnets' own field, its charge's field over the area of the turns: no
    reciprocity. For pieces outside the winding, where that field is free of jumps.
    """
    known = CoilIron((piece,), (winding,), (turning,)).levels[2].system
    x, w = gauss_legendre(24)
    depth, weight = gauss_legendre(6)
    found = []
    for angle in angles:
        c, s = math.cos(angle), math.sin(angle)
        turn = turning.frame @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        applied = np.zeros((len(known.points), 3))
        for each in turning.magnets:
            for axis in range(3):
                step = np.zeros(3)
                step[axis] = 1e-6
                values = []
                for sign in (1, -1):
                    local = (known.points + sign * step - np.array(turning.shaft.through)) @ turn
                    local = local - np.array([each.radius, 0, each.height])
                    values.append(
                        magnet_potential(each.magnet.shape, local.T, each.north.axis.value)
                    )
                slope = (values[0] - values[1]) / 2e-6
                applied[:, axis] -= each.north.sign * each.magnet.remanence / MU0 * slope
        charge = known.charges(applied[:, :, None])
        total = 0.0
        for u, wu in zip(depth, weight, strict=True):
            a, b = (o / 2 + winding.build * (u + 1) / 2 for o in winding.opening)
            for z, wz in zip(*gauss_legendre(6), strict=True):
                grid = np.stack(np.meshgrid(a * x, b * x, [winding.length / 2 * z]), -1).reshape(
                    -1, 3
                )
                points = grid @ winding.frame.T + np.array(winding.centre)
                field = (
                    field_of_charges(known.points, charge, points)[:, :, 0] @ winding.frame[:, 2]
                )
                area = np.outer(w, w).ravel() * a * b
                total += wu / 2 * wz / 2 * MU0 * float(field @ area)
        found.append(winding.turns * total)
    return np.array(found)


@pytest.mark.parametrize("name", ["disc about the shaft", "tube lying beside", "ball beside"])
@pytest.mark.parametrize("kind", ["block", "rod"])
def test_magnets_to_coil_is_coil_to_magnets(name, kind):
    turning = rotor(MAGNETS[kind], ratio=1)
    added, _ = share(PIECES[name], turning)
    steps = [0, 3, 18]
    angles = 2 * math.pi / 72 * np.array(steps)
    expected = from_the_magnets(PIECES[name], turning, PICKUP, angles)
    assert added[steps] == pytest.approx(expected, rel=2e-3, abs=5e-4 * np.abs(added).max())


@pytest.mark.parametrize("kind", MAGNETS)
@pytest.mark.parametrize("name", PIECES)
def test_the_stated_error_holds_the_true_one(kind, name):
    turning = rotor(MAGNETS[kind])
    _, pair = share(PIECES[name], turning)
    known = CoilIron((PIECES[name],), (PICKUP,), (turning,))
    finer = pair_linkage(PICKUP, turning, 3e-6, known)
    both = [sample_series(each.harmonics_Wb, 360) for each in (pair, finer)]
    true = np.abs(both[0] - both[1]).max()
    assert pair.relative_error <= 1e-4
    # The finer one has an error of its own.
    assert true <= pair.error_Wb + finer.error_Wb
    assert pair.converged


def test_permeability_one_changes_nothing():
    turning = rotor(MAGNETS["block"])
    added, pair = share(replace(PIECES["bolt in the coil"], material=Material(1)), turning)
    assert not added.any()
    assert pair.relative_error == pair_linkage(PICKUP, turning, 1e-4).relative_error
    machine = shipped("bolt_beside_magnets")
    air = machine.changed({"coils.pickup.core.material": {"permeability": 1}})
    none = machine.changed({"coils.pickup.core": "none"})
    assert flux_table(air) == flux_table(none)
    assert tolerance_for(air) == tolerance_for(none) == 1e-6
    assert tolerance_for(machine) == 1e-4


def test_shares_of_pieces_far_apart_add():
    turning = rotor(MAGNETS["block"])
    pieces = (PIECES["bolt in the coil"], iron(Ball(0.02), (-80, -60, 0)))
    both, _ = share(pieces, turning, tolerance=1e-5)
    alone = sum(share(each, turning, tolerance=1e-5)[0] for each in pieces)
    assert both == pytest.approx(alone, abs=1e-3 * np.abs(alone).max())


def test_magnets_of_several_rotors_count_each_for_itself():
    """Iron on one rotor is iron for the other too: linear, so their linkages add."""
    machine = shipped("two_facing_rotors")
    plate = IronPiece("plate", Disc(0.06, 0.003), (0, 0, 0.02), on="upper")
    with_plate = replace(machine, iron=(plate,))
    upper, lower = (flux_table(with_plate).peak_to_peak_Wb / flux_table(machine).peak_to_peak_Wb)[0]
    assert upper > 1.2  # right behind its magnets, as if they were thicker
    assert 1.0 < lower < upper


def test_a_large_disc_is_a_mirror():
    """Behind it the magnet seems to be there twice, (mu - 1)/(mu + 1) of it mirrored."""
    far_below = rotor(mounted(block(20, 10, 5), height=13))
    image = rotor(mounted(block(20, 10, 5), height=23))
    plate = iron(Disc(0.6, 0.03), (0, 0, 33))  # its lower face is at 18 mm
    added, _ = share(plate, far_below, tolerance=1e-3)
    mirrored = sample_series(pair_linkage(PICKUP, image, 1e-5).harmonics_Wb, 72)
    mirrored *= 499 / 501
    # The rim is ten magnets away, the plate six thicknesses: what is missing of a half space.
    assert np.ptp(added) == pytest.approx(np.ptp(mirrored), rel=5e-3)
    difference = added - mirrored
    assert np.abs(difference - difference.mean()).max() < 0.01 * np.ptp(mirrored)


@pytest.mark.parametrize("kind", ["block", "disc"])
def test_iron_against_a_magnet_is_resolved(kind):
    """A plate that the magnets are glued on: its potential has kinks under their edges."""
    held = replace(MAGNETS[kind], height=13 * MM, north=North.PLUS_SHAFT)
    top = held.height / MM + held.magnet.size[2] / 2 / MM
    plate = iron(Disc(0.07, 0.003), (0, 0, top + 1.5))
    turning = rotor(held)
    _, pair = share(plate, turning)
    known = CoilIron((plate,), (PICKUP,), (turning,))
    fine = sample_series(pair_linkage(PICKUP, turning, 1e-5, known).harmonics_Wb, 144)
    rough = sample_series(pair.harmonics_Wb, 144)
    assert np.abs(fine - rough).max() < 2e-4 * pair.swing_Wb
    assert pair.relative_error < 1e-3


def test_either_way_along_the_shaft_and_any_side_is_one_disc():
    turning = rotor(MAGNETS["block"])
    found = [
        share(iron(Disc(0.05, 0.003), (0, 0, -20), axis, side), turning)[0]
        for axis, side in (((0, 0, 1), (1, 0, 0)), ((0, 0, -1), (0.6, 0.8, 0)))
    ]
    assert found[0] == pytest.approx(found[1], abs=1e-4 * np.ptp(found[0]))


def test_a_ball_in_a_coil_adds_to_its_inductance():
    """A small ball of moment 4 pi a^3 chi / (chi + 3) H: mu0 m H per ampere, exact for even H."""
    small = iron(Ball(0.001), (1, 22, 0.5))
    added, error = CoilIron((small,), (PICKUP,), ()).inductance(1e-4)
    field = winding_field(PICKUP, np.array([small.centre]), 8)[0]
    m = 4 * math.pi * 0.0005**3 * 499 / 502
    assert added[0, 0] == pytest.approx(MU0 * m * field @ field, rel=1e-4)
    assert error[0, 0] < 1e-3 * added[0, 0]


def test_inductances_with_iron():
    other = coil((0, 60, 0), name="other")
    bolt = iron(Rod(0.010, 0.080), (0, 41, 0), (0, 1, 0), (1, 0, 0))
    lying = [replace(c, axis=(0, 1, 0), side=(1, 0, 0)) for c in (PICKUP, other)]
    known = CoilIron((bolt,), tuple(lying), ())
    bare, _ = inductance_matrix(lying)
    matrix, error = inductance_matrix(lying, known)
    added = matrix - bare
    assert added == pytest.approx(added.T)
    assert (np.linalg.eigvalsh(added) > -1e-4 * added.max()).all()  # it only adds energy
    assert added[0, 0] == pytest.approx(added[1, 1], rel=2e-4)  # the bolt is in both alike
    assert matrix[0, 1] / math.sqrt(matrix[0, 0] * matrix[1, 1]) > 5 * bare[0, 1] / bare[0, 0]
    assert error < 1e-4
    assert inductance_matrix(lying, NO_IRON)[0] == pytest.approx(bare)


def test_inductance_by_the_flux_of_the_iron_through_the_turns():
    """For iron beside the coil, integrated over the area of the turns."""
    beside = iron(Rod(0.012, 0.020), (0, 22, 20))
    added, _ = CoilIron((beside,), (PICKUP,), ()).inductance(1e-4)
    level = CoilIron((beside,), (PICKUP,), ()).levels[2]
    x, w = gauss_legendre(24)
    total = 0.0
    for u, wu in zip(*gauss_legendre(6), strict=True):
        a, b = (o / 2 + PICKUP.build * (u + 1) / 2 for o in PICKUP.opening)
        for z, wz in zip(*gauss_legendre(6), strict=True):
            grid = np.stack(np.meshgrid(a * x, b * x, [PICKUP.length / 2 * z]), -1).reshape(-1, 3)
            points = grid + np.array(PICKUP.centre)
            field = field_of_charges(level.system.points, level.charges, points)[:, 2, 0]
            total += wu / 2 * wz / 2 * MU0 * float(field @ np.outer(w, w).ravel()) * a * b
    assert added[0, 0] == pytest.approx(PICKUP.turns * total, rel=1e-3)


def test_a_ring_round_one_side_of_a_coil_is_refused():
    ring = iron(Tube(0.05, 0.03, 0.004), (10, 22, 0), (0, 1, 0), (1, 0, 0))
    turned = replace(PICKUP, opening=(0.06, 0.06), build=0.004, length=0.01)
    ring = replace(ring, centre=(turned.centre[0] + 0.032, turned.centre[1], 0))
    with pytest.raises(ImpossibleError, match='iron goes round one side of coil "c"'):
        CoilIron((ring,), (turned,), ()).inductance(1e-3)


def test_a_machine_with_a_core_gives_more():
    machine = shipped("one_rotor")
    bolt = Core(Rod(0.008, 0.03), offset=-0.009)
    with_core = replace(machine, coils=(replace(machine.coils[0], core=bolt),))
    more, less = flux_table(with_core), flux_table(machine)
    assert 1.3 < float(more.peak_to_peak_Wb[0, 0] / less.peak_to_peak_Wb[0, 0]) < 4
    assert float(more.relative_error[0, 0]) < 1e-4
    # Solved for once and passed along, it gives the same to the last bit.
    assert flux_table(with_core, iron=coil_iron(with_core)) == more
    # A weaker material takes up less.
    weak = with_core.changed({"coils.pickup.core.material": {"permeability": 3}})
    assert less.peak_to_peak_Wb < flux_table(weak).peak_to_peak_Wb < more.peak_to_peak_Wb


def test_magnets_of_opposite_signs_and_many_tracks():
    """Two kinds of magnets on two tracks: the shares of all are added with their signs."""
    first, second = MAGNETS["block"], replace(MAGNETS["disc"], angle=2.0, radius=0.03)
    bolt = PIECES["bolt in the coil"]
    both, _ = share(bolt, rotor(first, second), tolerance=1e-5)
    apart = [share(bolt, rotor(each), tolerance=1e-5)[0] for each in (first, second)]
    assert both == pytest.approx(sum(apart), abs=1e-4 * np.ptp(both))
    reversed_ = replace(first, north=North.MINUS_SHAFT, magnet=magnet(block(20, 10, 5), 0.6))
    half, _ = share(bolt, rotor(reversed_), tolerance=1e-5)
    assert half == pytest.approx(-0.5 * apart[0], abs=1e-5 * np.ptp(half))
