"""What eddy currents change of linkages and inductances of whole machines."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from machines import shipped

from fieldsim.field.iron.iron_eddies import IronEddies, few_frequencies
from fieldsim.field.iron.iron_energy import outward_series, potential_series
from fieldsim.field.iron.screened_bodies import ScreenedRound
from fieldsim.machine.iron import Block, Disc, IronPiece, Rod, Tube
from fieldsim.machine.materials import Material
from fieldsim.waveform.flux_table import coil_iron

MU0 = 4e-7 * math.pi
BOLTED = shipped("bolt_beside_magnets")
SPREAD = 5e-4  # of a change, by few frequencies that stand for many
SLOPES = np.array([0.35])  # about what that machine has [Wb/rad]


def eddies(machine=BOLTED):
    return IronEddies(coil_iron(machine))


def change(found, speed_rad_per_s, relative=1e-4):
    rotors = found.iron.rotors
    acting, _ = found.linkage_changes_Wb(rotors, [speed_rad_per_s], SLOPES[:, None], relative)
    return acting[:, 0]


def with_core(**keys):
    (coil,) = BOLTED.coils
    return replace(BOLTED, coils=(replace(coil, core=replace(coil.core, **keys)),))


@pytest.fixture(scope="module")
def bolted():
    return eddies()


def test_slow_turning_changes_nothing(bolted):
    assert np.abs(change(bolted, 1e-6)).max() < 1e-7 * np.abs(change(bolted, 100.0)).max()


def test_turning_back_is_turning_forward_in_a_mirror(bolted):
    """What is late by a time is late the other way round."""
    (rotor,), system = bolted.iron.rotors, bolted.level.system
    forward, back = change(bolted, 80.0), change(bolted, -80.0)
    drawn = system.screened(160.0).charges(bolted.level.fields) - bolted.level.charges
    assert forward[0, 2] == pytest.approx(-bolted.potential(rotor)[2] @ drawn[:, 0], rel=SPREAD)
    assert back[0, 2] == pytest.approx(-bolted.potential(rotor)[2] @ drawn[:, 0].conj(), rel=SPREAD)


def test_currents_act_as_turning_back_would(bolted):
    rotors = bolted.iron.rotors
    forward, back = (
        bolted.linkage_changes_Wb(rotors, [speed], SLOPES[:, None], 1e-4) for speed in (80.0, -80.0)
    )
    assert np.array_equal(forward[1], back[0])
    assert np.array_equal(forward[0], back[1])


def test_few_frequencies_stand_for_many(bolted):
    """Against every frequency by itself."""
    (rotor,), speed = bolted.iron.rotors, 20.0
    found = change(bolted, speed, 1e-9)
    kept = np.flatnonzero(found[0])
    nodes, shares = few_frequencies(kept * speed)
    assert len(nodes) < len(kept) == len(shares)
    fields, at_rest = bolted.level.fields, bolted.level.charges
    for k in kept[:: len(kept) // 5]:
        late = bolted.level.system.screened(k * speed).charges(fields) - at_rest
        alone = -bolted.potential(rotor)[k] @ late[:, 0]
        assert found[0, k] == pytest.approx(alone, rel=SPREAD)


def test_order_and_speed_count_by_their_product(bolted):
    first, second = change(bolted, 90.0), change(bolted, 30.0)
    (rotor,) = bolted.iron.rotors
    potential = bolted.potential(rotor)
    assert first[0, 2] / potential[2, 0] != pytest.approx(second[0, 2] / potential[2, 0])
    drawn = bolted.level.system.screened(180.0).charges(bolted.level.fields)
    at_rest = bolted.level.charges
    assert first[0, 2] == pytest.approx(-potential[2] @ (drawn - at_rest)[:, 0], rel=SPREAD)
    assert second[0, 6] == pytest.approx(-potential[6] @ (drawn - at_rest)[:, 0], rel=SPREAD)


def test_magnets_to_coil_is_coil_to_magnets(bolted):
    """The coil's potential and the charge that magnets draw, against the other way round."""
    (rotor,), system, omega = bolted.iron.rotors, bolted.level.system, 300.0
    normal = outward_series(rotor, system, 128)[2] / MU0
    screened = system.screened(omega)
    (body,) = screened.bodies
    drawn = body.charges(normal[:, None])[:, 0]
    by_magnets = -MU0 * bolted.level.potentials[0] @ drawn
    by_coil = -bolted.potential(rotor)[2] @ screened.charges(bolted.level.fields)[:, 0]
    assert by_magnets == pytest.approx(by_coil, rel=2e-3)  # of the roughest nodes


def test_orders_that_hardly_count_are_left_out(bolted):
    few, many = change(bolted, 60.0, 1e-2), change(bolted, 60.0, 1e-6)
    counts = [(np.abs(found[0]) > 0).sum() for found in (few, many)]
    assert 0 < counts[0] < counts[1]
    order = np.arange(many.shape[1])
    missed = 2 * (order * np.abs(many - few)[0]).sum()
    assert 1e-5 * SLOPES[0] < missed < 1e-2 * SLOPES[0]


def test_permeability_found_at_rest_is_that_of_a_weaker_material():
    """Eddy currents that leave 60 of 500 do as a material of 60 without any, but for the lag."""
    strong, weak = eddies(), eddies(with_core(material=Material(60)))
    (rotor,) = strong.iron.rotors
    body = strong.level.system.bodies[0]
    alike = ScreenedRound(body, np.array([59.0 + 0j]))
    normal = np.einsum("pif,pi->pf", strong.level.fields, strong.level.system.normals)
    by_strong = -strong.potential(rotor)[2] @ alike.charges(normal)[:, 0]
    by_weak = -weak.potential(rotor)[2] @ weak.level.charges[:, 0]
    assert by_strong == pytest.approx(by_weak, rel=2e-3)


@pytest.mark.parametrize("name", ["ferrite rod", "laminated steel", Material(500, "2 T")])
def test_without_resistivity_nothing_changes(name):
    assert not eddies(with_core(material=name))
    assert eddies(with_core(material="soft iron"))


def test_a_whole_tube_has_none_and_a_slit_one_has():
    tube = Tube("8 mm", "5 mm", "50 mm")
    assert not eddies(with_core(shape=tube))
    assert eddies(with_core(shape=replace(tube, slit=True)))


def test_what_is_round_about_the_shaft_is_not_aware_of_turning():
    rod = IronPiece("axle", Rod("8 mm", "20 mm"), (0, 0, -0.005), on="wheel")
    machine = replace(BOLTED.changed({"coils.pickup.core": None}), iron=(rod,))
    found = eddies(machine)
    assert found
    assert np.abs(change(found, 1e3, 1e-9)).max() < 1e-12


def test_several_pieces_change_each_other():
    beside = IronPiece("bar", Block((0.01, 0.01, 0.06)), (0, 0.055, -0.01), (0, 0, 1),
                       (1, 0, 0))  # fmt: skip
    both, alone = eddies(replace(BOLTED, iron=(beside,))), eddies()
    less = replace(beside, material="laminated steel")
    one = eddies(replace(BOLTED, iron=(less,)))
    found = [change(each, 60.0)[0, 2] for each in (both, one, alone)]
    assert abs(found[0] - found[1]) > 1e-3 * abs(found[1])
    assert abs(found[1] - found[2]) > 1e-3 * abs(found[2])


@pytest.mark.parametrize("kind", ["block", "disc"])
def test_pieces_without_eddy_currents_take_part(kind):
    """Their charge answers at once, to magnets and to what comes late from the bolt."""
    shapes = {
        "block": IronPiece("bar", Block((0.01, 0.01, 0.012)), (0, 0.055, -0.03), (0, 0, 1),
                           (1, 0, 0)),
        "disc": IronPiece("plate", Disc("50 mm", "3 mm"), (0, 0, 0.03), (0, 0, 1)),
    }  # fmt: skip
    both = eddies(replace(BOLTED, iron=(shapes[kind],)))
    found, alone = change(both, 60.0)[0, 2], change(eddies(), 60.0)[0, 2]
    assert 1e-4 * abs(alone) < abs(found - alone) < 0.3 * abs(alone)
    (rotor,), screened = both.iron.rotors, both.level.system.screened(120.0)
    normal = outward_series(rotor, both.level.system, 128)[2] / MU0
    drawn = screened.charges((normal[:, None] * screened.normals)[:, :, None])[:, 0]
    by_magnets = -MU0 * both.level.potentials[0] @ drawn
    by_coil = -both.potential(rotor)[2] @ screened.charges(both.level.fields)[:, 0]
    assert by_magnets == pytest.approx(by_coil, rel=5e-3)  # of the roughest nodes


def test_inductance_falls_and_gets_a_resistance(bolted):
    slow, fast = (bolted.inductance_change_H(omega)[0, 0] for omega in (1e-3, 1e3))
    assert abs(slow) < 1e-5 * abs(fast)
    assert fast.real < 0
    assert fast.imag < 0
    whole = bolted.iron.inductance(1e-4)[0][0, 0]
    none = bolted.inductance_change_H(1e15)[0, 0]
    assert whole + none.real < 0  # a coil on what lets no flux in has less than one without
    assert abs(none.imag) < 1e-3 * abs(none.real)


def test_how_much_goes_along_a_piece(bolted):
    (rotor,) = bolted.iron.rotors
    (bolt,) = bolted.iron.pieces
    assert bolted.share_along(rotor, bolt) > 0.9
    lying = IronPiece("piece", Rod("8 mm", "20 mm"), (0.03, 0, 0.0), (1, 0, 0))
    across = eddies(replace(BOLTED.changed({"coils.pickup.core": None}), iron=(lying,)))
    assert across.share_along(rotor, across.iron.pieces[0]) < 0.5


def test_the_outward_field_is_the_fall_of_the_potential(bolted):
    """On the flat end, by the potential a little further out."""
    (rotor,), system = bolted.iron.rotors, bolted.level.system
    outward = bolted.outward(rotor)[2]
    step = 1e-5
    further = SimpleNamespace(points=system.points + step * system.normals, normals=system.normals)
    there = potential_series(rotor, further, 128)[2]
    fall = (bolted.potential(rotor)[2] - there) / step
    assert np.abs(outward - fall).max() < 0.01 * np.abs(outward).max()
