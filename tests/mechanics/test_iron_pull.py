"""Pull of iron on magnets, against charge on their faces, energy, and the other way round."""

from __future__ import annotations

import math
import pickle
from dataclasses import replace

import numpy as np
import pytest
from machines import MM, ball, block, disc, field_T, magnet, mounted, rotor, shipped

import fieldsim as fs
from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.charge_points import charged_pieces
from fieldsim.field.force.rotor_force import magnet_poses, neighbour_forces
from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.iron_energy import iron_energy
from fieldsim.field.iron.iron_system import iron_system
from fieldsim.field.iron.magnetised_iron import magnetised_iron
from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.field.iron.reach import from_rotor
from fieldsim.machine.iron import Ball, Block, Disc, Rod
from fieldsim.machine.magnets import ArmAxis, North
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron
from fieldsim.mechanics.attraction import hub_m
from fieldsim.mechanics.iron_assembly import rotor_assembly
from fieldsim.mechanics.iron_pull import iron_pull
from fieldsim.mechanics.magnet_retention import arm_forces_N

MU0 = 4e-7 * math.pi
STEEL = Material(200)
FINE = FINENESSES[2]


def iron(shape, centre=(0, 0, 0), axis=(0, 0, 1), side=(1, 0, 0), on=""):
    """Return a piece of steel, its place in millimetres."""
    return PlacedIron("piece", shape, tuple(c * MM for c in centre), axis, side, STEEL, on)


def pulled(pieces, rotors, angles):
    return iron_pull(magnetised_iron(pieces, rotors, FINE), angles)


def on_faces(pieces, rotors, angles, which):
    """Return force and torque on each magnet of a rotor by what iron does to its faces' charge."""
    reaches = [from_rotor(each) for each in rotors]
    made = iron_system(pieces, reaches, reaches, FINE)
    applied = sum(field_T(r, a, made.points) for r, a in zip(rotors, angles, strict=True)) / MU0
    charge = made.charges(applied[:, :, None])
    felt = rotors[which]
    (centres,), (turns,) = magnet_poses(felt, angles[which])
    force, torque = np.zeros((2, len(felt.magnets), 3))
    for m, (each, centre, turn) in enumerate(zip(felt.magnets, centres, turns, strict=True)):
        for face in charged_pieces(Body.from_mounted(each)):
            local, pole_Wb = face.nodes(20)
            at = centre + local @ turn.T
            on_face_N = pole_Wb[:, None] * field_of_charges(made.points, charge, at)[..., 0]
            force[m] += on_face_N.sum(axis=0)
            torque[m] += np.cross(at - centre, on_face_N).sum(axis=0)
    return force, torque


def moved_rotor(turning, by):
    return replace(turning, shaft=replace(turning.shaft, through=(0.0, 0.0, by)))


def moved(pieces, turning, by):
    """Return pieces of which those on a rotor stand displaced along z."""
    return [
        replace(each, centre=(*each.centre[:2], each.centre[2] + by))
        if each.rotor == turning.name
        else each
        for each in pieces
    ]


def energy_J(pieces, rotors, angles):
    """Return the energy of iron; of other ratios, or what never changes would be left out."""
    freed = [replace(each, gear_ratio=i + 1) for i, each in enumerate(rotors)]
    energy = iron_energy(pieces, freed)
    phase = np.exp(1j * np.array(angles)[energy.rotor] * energy.order)
    return float((phase @ energy.energy_J @ phase).real)


MAGNETS = {
    "block": mounted(magnet(block(20, 10, 5)), height=12),
    "disc": mounted(magnet(disc(12, 5)), height=12, north=North.OUT),
    "rod": mounted(magnet(disc(8, 14, ArmAxis.ARM)), height=13, north=North.FORWARD),
    "ball": mounted(magnet(ball(10)), height=14),
}
PIECES = {
    "bolt below": iron(Rod(0.010, 0.030), (0, 22, -10)),
    "bar below": iron(Block((0.010, 0.008, 0.020)), (0, 22, -5)),
    "bolt askew": iron(Rod(0.008, 0.020), (5, 24, -8), (0.6, 0, 0.8), (0, 1, 0)),
    "ball beside": iron(Ball(0.015), (-30, 25, 0)),
}


@pytest.mark.parametrize(("kind", "piece"), [*zip(MAGNETS, PIECES, strict=True)])
def test_pull_is_that_on_the_faces_of_the_magnets(kind, piece):
    other = mounted(
        magnet(block(8, 8, 8)), radius=30, angle=2.0, height=14, north=North.MINUS_SHAFT
    )
    turning, pieces = rotor(MAGNETS[kind], other), [PIECES[piece]]
    angles = np.radians([20, 85, 130])
    felt = pulled(pieces, [turning], [angles]).on_magnets[turning.name]
    for i, angle in enumerate(angles):
        force, torque = on_faces(pieces, [turning], [angle], 0)
        assert felt.force_N[i] == pytest.approx(force, abs=2e-3 * np.abs(force).max())
        assert felt.torque_Nm[i] == pytest.approx(torque, abs=2e-3 * np.abs(torque).max())


def test_moment_about_the_shaft_is_the_torque_of_the_energy():
    turning = rotor(MAGNETS["block"], mounted(angle=2.2, height=12, north=North.OUT))
    pieces = [PIECES["bolt below"]]
    angles = np.radians(np.arange(0, 360, 15.0))
    felt = pulled(pieces, [turning], [angles]).on_magnets[turning.name]
    along = np.array(turning.shaft.along)
    found = felt.moment_about_Nm(np.array(turning.shaft.through)) @ along
    energy = iron_energy(pieces, [turning])
    phase = np.exp(1j * np.outer(angles, energy.order))
    torque = np.einsum("si,ij,sj->s", phase, energy.torque_series(turning.name), phase).real
    assert found == pytest.approx(torque, abs=2e-3 * np.abs(torque).max())


def image_pull_N(turning, height):
    """Return the force on a disc magnet at a height over a half space of endless permeability."""
    each, total = turning.magnets[0], 0.0
    for face in charged_pieces(Body.from_mounted(each)):
        local, pole_Wb = face.nodes(20)
        from_image = local + np.array([0.0, 0.0, 2 * height])
        field_T = outside_field_T(Body.from_mounted(each), from_image)[:, 2]
        total += (pole_Wb * field_T).sum() / MU0
    return total


def test_a_magnet_over_a_wide_sheet_is_pulled_as_by_its_image():
    """A half space mirrors a magnet with (mu - 1)/(mu + 1); a wide disc is nearly one."""
    turning = rotor(mounted(magnet(disc(8, 6)), radius=0.0, height=9))
    sheet = iron(Disc(0.160, 0.030), (0, 0, -15))
    felt = pulled([sheet], [turning], [[0.0]]).on_magnets[turning.name]
    expected = 199 / 201 * image_pull_N(turning, 9 * MM)
    assert felt.force_N[0, 0, 2] == pytest.approx(expected, rel=5e-3)
    assert expected < 0
    known = rotor_assembly(magnetised_iron([sheet], [turning], FINE), turning.name)
    assert known.in_place_N == pytest.approx(-expected, rel=5e-3)
    # rougher nodes tell it from afar
    away = -199 / 201 * image_pull_N(turning, 19 * MM)
    assert known.away_N == pytest.approx(away, rel=0.03)


def test_shafts_and_glue_bear_what_the_iron_pulls():
    """One rotor has nothing but the bolt to bear; its magnets feel each other on top."""
    point = fs.OperatingPoint(shipped("bolt_beside_magnets"), "120 rpm")
    (turning,) = point.machine.placed_rotors
    angles = np.radians(np.arange(0, 360, 2.0))
    felt = iron_pull(point.magnetised_iron, [angles]).on_magnets[turning.name]
    along = np.array(turning.shaft.along)
    axial = np.abs(felt.total_N @ along).max()
    across = np.linalg.norm(felt.total_N - np.outer(felt.total_N @ along, along), axis=1).max()
    peak = point.effort.shafts[turning.name].peak
    assert peak.axial_N == pytest.approx(axial, rel=0.01)
    assert peak.transverse_N == pytest.approx(across, rel=0.01)
    moment = felt.moment_about_Nm(hub_m(turning))
    bending = np.linalg.norm(moment - np.outer(moment @ along, along), axis=1).max()
    assert peak.bending_at_hub_Nm == pytest.approx(bending, rel=0.01)
    # Processes send each other what the hand feels, and what has not been worked out yet.
    (known,) = pickle.loads(pickle.dumps(point.effort)).assemblies
    assert known.in_place_N == pytest.approx(axial, rel=0.02)
    (hold,) = point.effort.holds
    without = neighbour_forces(turning)
    forces = arm_forces_N(turning, felt, angles) + without
    side = 2  # of the arm: magnets are glued by a side along the shaft
    shear = np.linalg.norm(np.delete(forces, side, axis=2), axis=2).max()
    assert max(each.magnetic_shear_N for each in hold.magnets) == pytest.approx(shear, rel=0.02)


def test_what_turns_with_a_rotor_bears_the_other_rotors_and_iron_beside():
    """Two facing rotors with a steel disc each: all forces add up to none."""
    low = rotor(mounted(height=-14), mounted(angle=math.pi, height=-14), name="low")
    high = rotor(mounted(height=14), mounted(angle=3.0, height=14), name="high")
    pieces = [
        iron(Disc(0.050, 0.004), (0, 0, -26), on="low"),
        iron(Disc(0.050, 0.004), (0, 0, 26), on="high"),
    ]
    found = pulled(pieces, [low, high], [[0.2, 0.2], [0.5, 2.0]])
    # On a rotor: what foreign iron does to its magnets, and all that its own iron feels.
    on = {
        name: found.on_magnets[name].total_N + found.iron_force_N[name] for name in ("low", "high")
    }
    assert on["low"] == pytest.approx(-on["high"], abs=2e-3 * np.abs(on["low"]).max())
    assert np.abs(on["low"][:, 2]).min() > 0.03
    # Along the shaft it is minus the slope of the iron's energy as one comes nearer, disc and all.
    step = 0.2 * MM
    away = [
        energy_J(moved(pieces, low, sign * step), [moved_rotor(low, sign * step), high], (0.2, 0.5))
        for sign in (-1, 1)
    ]
    assert on["low"][0, 2] == pytest.approx((away[0] - away[1]) / (2 * step), rel=0.02)
    # Moments about one point, whatever hub they are told about.
    moment = {}
    for each in (low, high):
        felt, hub = found.on_magnets[each.name], hub_m(each)
        moment[each.name] = (
            felt.moment_about_Nm(np.zeros(3))
            + found.iron_moment_Nm[each.name]
            + np.cross(hub, found.iron_force_N[each.name])
        )
    assert moment["low"] == pytest.approx(-moment["high"], abs=2e-3 * np.abs(moment["low"]).max())


def test_few_points_do_to_a_rotor_what_all_points_do():
    machine = shipped("steel_discs")
    made = magnetised_iron(machine.placed_iron, machine.placed_rotors)
    angles = np.array([[0.3], [0.3]])
    charge, holders = made.charge_at(angles), np.array([each.rotor for each in made.pieces])
    upper, lower = (np.flatnonzero(holders[made.piece] == name) for name in ("upper", "lower"))
    points = made.system.points
    between = field_of_charges(points[lower], charge[:, lower].T, points[upper])[..., 0]
    by_iron = MU0 * charge[0, upper] @ between
    below = machine.placed_rotors[[r.name for r in machine.placed_rotors].index("lower")]
    by_magnets = charge[0, upper] @ field_T(below, 0.3, points[upper])
    found = iron_pull(made, angles, {"upper"})
    assert len(made.few.points) < len(points) / 8
    assert found.iron_force_N.keys() == {"upper"}
    assert found.iron_force_N["upper"][0, 2] == pytest.approx((by_iron + by_magnets)[2], rel=1e-3)
    whole = iron_pull(made, angles)
    assert found.on_magnets["upper"].total_N == pytest.approx(whole.on_magnets["upper"].total_N)
    assert whole.iron_force_N["lower"] == pytest.approx(
        -whole.iron_force_N["upper"], rel=1e-6, abs=1e-6
    )
