"""What iron does to magnets that turn past it: energy and torque, by other ways and in limits."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from machines import MM, ball, block, disc, field_T, magnet, mounted, rotor

from fieldsim.field.force.charge_field import Body
from fieldsim.field.force.charge_points import charged_pieces
from fieldsim.field.force.rotor_force import magnet_poses, rotor_forces
from fieldsim.field.iron.fineness import FINENESSES
from fieldsim.field.iron.iron_energy import IronEnergy, iron_energy
from fieldsim.field.iron.iron_system import iron_system
from fieldsim.field.iron.point_charges import field_of_charges
from fieldsim.field.iron.reach import from_rotor
from fieldsim.machine.iron import Ball, Block, Disc, Rod, Tube
from fieldsim.machine.magnets import ArmAxis, North
from fieldsim.machine.materials import Material
from fieldsim.machine.placed import PlacedIron

MU0 = 4e-7 * math.pi
STEEL = Material(200)


def iron(shape, centre=(0, 0, 0), axis=(0, 0, 1), side=(1, 0, 0), material=STEEL):
    """Return a piece, its place in millimetres."""
    return PlacedIron("piece", shape, tuple(c * MM for c in centre), axis, side, material)


def torque_Nm(energy: IronEnergy, name: str, *angles: float) -> float:
    """Return the torque on a rotor where the rotors stand at angles."""
    phase = np.exp(1j * np.array(angles)[energy.rotor] * energy.order)
    return float((phase @ energy.torque_series(name) @ phase).real)


def energy_J(energy: IronEnergy, *angles: float) -> float:
    phase = np.exp(1j * np.array(angles)[energy.rotor] * energy.order)
    return float((phase @ energy.energy_J @ phase).real)


def torque_by_charges_Nm(pieces, rotors, angles, which: int) -> float:
    """Return what the iron's charge does to the charge on the faces of a rotor's magnets."""
    reaches = [from_rotor(each) for each in rotors]
    made = iron_system(pieces, reaches, reaches, FINENESSES[2])
    pairs = zip(rotors, angles, strict=True)
    applied = sum(field_T(*pair, made.points) for pair in pairs) / MU0
    charge = made.charges(applied[:, :, None])
    felt = rotors[which]
    (centres,), (turns,) = magnet_poses(felt, angles[which])
    moment = np.zeros(3)
    for each, centre, turn in zip(felt.magnets, centres, turns, strict=True):
        for face in charged_pieces(Body.from_mounted(each)):
            local, pole_Wb = face.nodes(20)
            at = centre + local @ turn.T
            force_N = pole_Wb[:, None] * field_of_charges(made.points, charge, at)[..., 0]
            moment += np.cross(at - np.array(felt.shaft.through), force_N).sum(axis=0)
    return float(moment @ np.array(felt.shaft.along))


MAGNETS = {
    "block": mounted(magnet(block(20, 10, 5)), height=12),
    "disc": mounted(magnet(disc(12, 5)), height=12, north=North.OUT),
    "rod": mounted(magnet(disc(8, 14, ArmAxis.ARM)), height=13, north=North.FORWARD),
    "ball": mounted(magnet(ball(10)), height=14),
}
PIECES = {
    "bolt below": iron(Rod(0.010, 0.030), (0, 22, -10)),
    "bar below": iron(Block((0.010, 0.008, 0.020)), (0, 22, -5)),
    "tube lying beside": iron(Tube(0.01, 0.006, 0.03), (45, 10, 5), (0.6, 0, 0.8), (0, 1, 0)),
    "ball beside": iron(Ball(0.015), (-30, 25, 0)),
}


@pytest.mark.parametrize(("kind", "piece"), [*zip(MAGNETS, PIECES, strict=True)])
def test_torque_is_that_on_the_faces_of_the_magnets(kind, piece):
    turning, pieces = rotor(MAGNETS[kind]), [PIECES[piece]]
    energy = iron_energy(pieces, [turning])
    angles = np.radians([20, 130, 250])
    found = [torque_Nm(energy, turning.name, angle) for angle in angles]
    direct = [torque_by_charges_Nm(pieces, [turning], [angle], 0) for angle in angles]
    assert found == pytest.approx(direct, rel=1e-3, abs=2e-3 * np.abs(direct).max())


def test_two_rotors_feel_what_each_draws_for_the_other():
    """A bolt between two rotors on shafts of their own."""
    low = rotor(mounted(height=-12, north=North.PLUS_SHAFT), name="low")
    high = rotor(
        mounted(height=20, north=North.OUT), mounted(angle=2.0, height=20), name="high",
        through=(5, 3, 0), along=(0, 0.28, 0.96),
    )  # fmt: skip
    pieces = [iron(Rod(0.010, 0.010), (0, 22, 0)), iron(Ball(0.008), (22, 0, 0))]
    energy = iron_energy(pieces, [low, high])
    for angles in ((0.3, 1.9), (1.4, 5.0)):
        for which, each in enumerate((low, high)):
            found = torque_Nm(energy, each.name, *angles)
            alone = torque_Nm(iron_energy(pieces, [each]), each.name, angles[which])
            direct = torque_by_charges_Nm(pieces, [low, high], angles, which)
            assert found == pytest.approx(direct, rel=2e-3, abs=2e-6)
            assert abs(found - alone) > 0.05 * abs(found)


def test_a_small_ball_far_off_is_a_dipole():
    """W = -mu0/2 times 3 chi V / (chi + 3) times H squared, for a ball in an even field."""
    turning = rotor(mounted(magnet(ball(10)), height=10))
    centre = np.array([[0.040, 0.020, 0.0]])
    made = iron_energy([iron(Ball(0.001), 1e3 * centre[0])], [turning])
    chi, volume = STEEL.susceptibility, math.pi / 6 * 0.001**3

    def dipole_J(angle):
        squared = float((field_T(turning, angle, centre) ** 2).sum()) / MU0**2
        return -MU0 / 2 * 3 * chi / (chi + 3) * volume * squared

    assert energy_J(made, 0.7) == pytest.approx(dipole_J(0.7), rel=2e-3)
    slope = (dipole_J(0.7 + 1e-4) - dipole_J(0.7 - 1e-4)) / 2e-4
    assert torque_Nm(made, turning.name, 0.7) == pytest.approx(-slope, rel=2e-3)
    assert slope > 0  # it is drawn back to the ball, which it has passed at 0.46


def test_a_wide_plate_pulls_like_the_mirror_image():
    """With (mu - 1)/(mu + 1) of its strength; a second, faint rotor asks for the energy."""
    step, height = 0.05, 8.0  # mm

    def energy_at(at):
        lone = rotor(mounted(magnet(block(10, 8, 5)), radius=0, height=at))
        faint = rotor(mounted(magnet(ball(1), 0.001), height=40), name="faint", ratio=2)
        return iron_energy([plate], [lone, faint]).energy_J[0, 0].real

    plate = iron(Disc(0.1, 0.05), (0, 0, -25), material=Material(1000))
    pull_N = (energy_at(height + step) - energy_at(height - step)) / (2 * step * MM)
    low, high = (rotor(mounted(magnet(block(10, 8, 5)), radius=0, height=h)) for h in (-8, 8))
    image = rotor_forces(low, high, 0.0, 0.0).force_on_second_N[0, 2]
    assert pull_N == pytest.approx(-image * 999 / 1001, rel=1e-2)
    assert pull_N > 0.5


def test_magnets_are_as_weak_as_their_own_field_leaves_them():
    piece = PlacedIron(
        "rod", Rod(6 * MM, 20 * MM), (0, 22 * MM, -18 * MM), (0, 0, 1), (1, 0, 0), Material(100)
    )
    held = mounted(replace(magnet(), recoil_permeability=1.2))
    assert held.strength_T < 0.95 * 1.2
    energies = [
        iron_energy([piece], [rotor(each)]).energy_J
        for each in (held, mounted(magnet(remanence_T=held.strength_T)))
    ]
    assert energies[0] == pytest.approx(energies[1], rel=1e-9)


def test_no_iron_no_energy():
    turning = rotor(mounted(height=12))
    for pieces in ((), (iron(Rod(0.01, 0.03), (0, 22, -10), material=Material(1)),)):
        assert iron_energy(pieces, [turning]).order.size == 0


@pytest.mark.parametrize("sense", [1, -1])
def test_a_disc_about_the_shaft_holds_nobody_but_hands_on(sense):
    """One rotor's torque is nothing; two feel opposite ones, however each turns."""
    disc_ = iron(Disc(0.05, 0.003))
    low = rotor(mounted(height=-12), mounted(angle=2.0, height=-12), name="low")
    high = rotor(mounted(height=12 * sense), name="high", along=(0, 0, sense), ratio=2)
    alone = iron_energy([disc_], [low])
    assert np.abs(alone.torque_series("low")).max() == 0.0
    both = iron_energy([disc_], [low, high])
    first, second = (torque_Nm(both, name, 0.4, 0.9) for name in ("low", "high"))
    assert first == pytest.approx(-sense * second, rel=1e-9)
    assert abs(first) > 1e-5
    assert first == pytest.approx(
        torque_by_charges_Nm([disc_], [low, high], (0.4, 0.9), 0), rel=5e-3, abs=1e-7
    )
