"""Iron as a builder describes it: shapes, materials, places, and what cannot be."""

from __future__ import annotations

from dataclasses import replace

import pytest
import yaml
from machines import shipped
from sections import complaint, section

from fieldsim.machine.coils import Coil
from fieldsim.machine.iron import Ball, Block, Core, Disc, IronPiece, Rod, Tube
from fieldsim.machine.machine import Machine
from fieldsim.machine.materials import MATERIALS, Material, material
from fieldsim.machine.part import PartError, tree_of
from fieldsim.machine_file.reader import read
from fieldsim.machine_file.writer import machine_text

ROD = "{shape: rod, diameter: 10 mm, length: 60 mm, material: mild steel}"
STILL = "centre: [1 mm, 2 mm, 3 mm], axis: [0, 0, 1]"


def with_core(text: str):
    """Return a machine whose coil has a core."""
    machine = shipped("one_rotor")
    (coil,) = machine.coils
    return replace(machine, coils=(replace(coil, core=section(Core, text)),))


def test_a_core_lies_in_its_coil_and_moves_and_turns_with_it():
    machine = with_core("{diameter: 10 mm, length: 60 mm, offset: 4 mm}")
    (core,) = machine.placed_iron
    coil = machine.placed_coils[0]
    assert (core.name, core.coil, core.rotor) == ("core of pickup", "pickup", "")
    assert core.shape == Rod(0.010, 0.060)
    assert core.centre == pytest.approx((0, 0.022, 0.004))
    moved = machine.changed({"coils.pickup.centre[0]": "5 mm", "coils.pickup.axis[0]": 1.0})
    (core,) = moved.placed_iron
    assert core.axis == moved.placed_coils[0].axis
    assert core.centre == pytest.approx((0.005 + 0.004 / 2**0.5, 0.022, 0.004 / 2**0.5))
    assert coil.axis == (0, 0, 1)


def test_a_coil_without_a_core_has_an_empty_one():
    machine = shipped("one_rotor")
    assert not machine.coils[0].core
    assert machine.placed_iron == ()
    assert with_core(ROD).changed({"coils.pickup.core": "none"}) == machine


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("{diameter: 10 mm, length: 60 mm}", Rod(0.01, 0.06)),
        ("{shape: tube, outer: 10 mm, inner: 6 mm, length: 60 mm}", Tube(0.01, 0.006, 0.06)),
        ("{shape: block, size: [12 mm, 8 mm, 40 mm]}", Block((0.012, 0.008, 0.04))),
    ],
)
def test_shapes_of_cores(text, shape):
    core = section(Core, text)
    assert core.shape == shape
    assert section(Core, yaml.safe_dump(tree_of(core, written))) == core


def written(key, value):
    return value if key.kind is None else key.kind.written(value)


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        (f"{{shape: rod, diameter: 10 mm, length: 60 mm, {STILL}}}", Rod(0.01, 0.06)),
        (f"{{shape: disc, diameter: 80 mm, thickness: 3 mm, {STILL}}}", Disc(0.08, 0.003)),
        (f"{{shape: tube, outer: 10 mm, inner: 8 mm, length: 1 in, {STILL}}}",
         Tube(0.01, 0.008, 0.0254)),
        ("{shape: ball, diameter: 12 mm, centre: [1 mm, 2 mm, 3 mm]}", Ball(0.012)),
        (f"{{shape: block, size: [1 mm, 2 mm, 3 mm], side: [1, 1, 0], {STILL}}}",
         Block((0.001, 0.002, 0.003))),
    ],
)  # fmt: skip
def test_shapes_of_other_pieces(text, shape):
    machine = shipped("one_rotor")
    content = yaml.safe_load(machine_text(machine)) | {"iron": {"piece": yaml.safe_load(text)}}
    made = section(Machine, yaml.safe_dump(content))
    (piece,) = made.iron
    assert piece.shape == shape
    assert section(Machine, machine_text(made)) == replace(made, file="")
    (placed,) = made.placed_iron
    assert placed.centre == (0.001, 0.002, 0.003)
    assert (placed.rotor, placed.coil) == ("", "")
    assert placed.frame.T @ placed.frame == pytest.approx(placed.frame @ placed.frame.T)
    if isinstance(shape, Block):
        assert placed.frame[:, 0] == pytest.approx([0.5**0.5, 0.5**0.5, 0])
    assert placed.frame[:, 2] == pytest.approx([0, 0, 1])


def test_materials_have_names_or_numbers():
    steel = section(IronPiece, f"{{name: rod, diameter: 1 mm, length: 2 mm, {STILL}}}")
    assert steel.material == "mild steel"
    assert MATERIALS["mild steel"].permeability == 500
    numbers = "{permeability: 200, saturation: 1.6 T, resistivity: 0.15 uohm*m}"
    own = section(Core, f"{{diameter: 1 mm, length: 2 mm, material: {numbers}}}")
    assert own.material == Material(200, 1.6, 0.15e-6)
    assert material(own.material) is own.material
    assert Material(3).saturation is Material(3).resistivity is None
    assert Material(3).susceptibility == 2


def test_each_named_material_holds_more_flux_than_a_weak_field_gives():
    for name, each in MATERIALS.items():
        assert material(name) is each
        assert each.saturation is not None
        assert each.permeability > 100


@pytest.mark.parametrize(
    ("numbers", "path", "text"),
    [
        ("{permeability: 0.5}", "permeability", "0.5 is out of range; allowed: 1 to 1000000"),
        ("{permeability: 2000000}", "permeability",
         "2000000 is out of range; allowed: 1 to 1000000"),
        ("{permeability: 9, saturation: 0 T}", "saturation",
         '"0 T" is out of range; allowed: 0.01 T to 3 T'),
        ("{permeability: 9, resistivity: 3 ohm}", "resistivity",
         '"3 ohm" is not a resistivity; write it like "0.15 uohm*m"'),
        ("{saturation: 1.6 T}", "permeability", "this key is missing"),
        ("{permeability: 200 mm}", "permeability", '"200 mm" is not a plain number'),
    ],
)  # fmt: skip
def test_numbers_that_no_material_has(numbers, path, text):
    found = complaint(Core, f"{{diameter: 1 mm, length: 2 mm, material: {numbers}}}")
    assert (found.path, found.text) == (("material", path), text)


def test_an_unknown_material_is_told_the_known_ones():
    found = complaint(Core, "{diameter: 1 mm, length: 2 mm, material: stone}")
    assert found.text == (
        '"stone" is not a material; allowed: mild steel, soft iron, ferrite rod, laminated steel, '
        "or numbers like {permeability: 200, saturation: 1.6 T}"
    )


@pytest.mark.parametrize("most", [1, 1_000_000])
def test_any_permeability_from_one_to_a_million_is_allowed(most):
    assert Material(most).permeability == most


@pytest.mark.parametrize(
    ("text", "path", "problem"),
    [
        ("{shape: rod, diameter: 1 mm}", ("length",), 'a rod core needs "length"'),
        ("{}", ("diameter",), 'a rod core needs "diameter"'),
        ("{shape: disc, diameter: 1 mm}", ("shape",), '"disc" is not one of: rod, tube, block'),
        ("{shape: tube, outer: 8 mm, inner: 8 mm, length: 9 mm}", ("inner",),
         "a tube's inner diameter must be smaller than its outer one"),
        ("{diameter: 1 mm, length: 2 mm, thickness: 1 mm}", ("thickness",),
         "unknown key. Allowed here: shape, diameter, length, outer, inner, slit, size, material, "
         "offset"),
    ],
)  # fmt: skip
def test_cores_that_cannot_be(text, path, problem):
    found = complaint(Core, text)
    assert (found.path, found.text) == (path, problem)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("{diameter: 17 mm, length: 9 mm}",
         "is 17 mm wide where the second opening of the coil is 16 mm; it must fit inside"),
        ("{shape: block, size: [25 mm, 8 mm, 9 mm]}",
         "is 25 mm wide where the first opening of the coil is 24 mm; it must fit inside"),
    ],
)  # fmt: skip
def test_a_core_wider_than_the_opening_is_refused(text, problem):
    with pytest.raises(PartError) as caught:
        with_core(text)
    assert caught.value.path == ("core",)
    assert caught.value.problem == problem
    assert str(caught.value) == f'coil "pickup": core: {problem}'
    assert with_core("{diameter: 16 mm, length: 9 mm}").placed_iron


@pytest.mark.parametrize(
    ("text", "path", "problem"),
    [
        (f"{{shape: block, size: [1 mm, 1 mm, 1 mm], \"on\": upper, {STILL}}}", ("on",),
         "a block cannot turn with a rotor, for its magnetisation would change with the angle; "
         "allowed: rod, tube, disc and ball, round about the shaft"),
        ("{diameter: 1 mm, length: 2 mm, centre: [1 mm, 2 mm, 3 mm]}", ("axis",),
         "this key is missing"),
        (f"{{shape: block, size: [1 mm, 1 mm, 1 mm], {STILL}}}", ("side",),
         "this key is missing"),
        (f"{{shape: block, size: [1 mm, 1 mm, 1 mm], side: [0, 0, 2], {STILL}}}", ("side",),
         "is parallel to the axis; it must stand off from it"),
        (f"{{diameter: 1 mm, length: 2 mm, side: [1, 0, 0], {STILL}}}", ("side",),
         "only a block has a side"),
    ],
)  # fmt: skip
def test_pieces_that_cannot_be(text, path, problem):
    found = complaint(IronPiece, text.replace("{", "{name: plate, ", 1))
    assert (found.path, found.text) == (path, problem)


def on_upper(centre, axis=None, on="upper"):
    """Return the machine with a disc on its rotor, whose shaft is the z axis."""
    plate = IronPiece("plate", Disc(0.03, 0.002), centre, axis, on=on)
    return replace(shipped("one_rotor"), iron=(plate,))


def test_a_disc_about_the_shaft_turns_with_its_rotor():
    (placed,) = on_upper((0, 0, 0.02)).placed_iron
    assert (placed.rotor, placed.axis) == ("upper", (0, 0, 1))
    (placed,) = on_upper((0, 0, 0.02), (0, 0, -1)).placed_iron  # either way along the shaft
    assert placed.rotor == "upper"


@pytest.mark.parametrize(
    ("centre", "axis", "on", "problem"),
    [
        ((0.002, 0, 0.02), None, "upper",
         "iron.plate.centre: is 2 mm beside the shaft of the rotor that it turns with; it must "
         "be on that line, or the magnetisation would change with the angle"),
        ((0, 0, 0.02), (0, 0.1, 1), "upper",
         "iron.plate.axis: is not along the shaft of the rotor that it turns with, so that its "
         "magnetisation would change with the angle"),
        ((0, 0, 0.02), None, "under",
         'iron.plate.on: no rotor is called "under"; there are: upper'),
    ],
)  # fmt: skip
def test_what_is_not_round_about_the_shaft_cannot_turn(centre, axis, on, problem):
    with pytest.raises(PartError) as caught:
        on_upper(centre, axis, on)
    assert problem in str(caught.value)


def test_iron_is_among_the_parameters():
    machine = replace(on_upper((0, 0, 0.02)), coils=with_core(ROD).coils)
    found = {p.path: p for p in machine_parameters(machine)}
    assert found["coils.pickup.core.length"].text == "60 mm"
    assert found["coils.pickup.core.length"].step == pytest.approx(0.006)
    assert found["coils.pickup.core.material"].choices == tuple(MATERIALS)
    assert found["iron.plate.thickness"].text == "2 mm"
    changed = machine.changed(
        {"coils.pickup.core.length": "70 mm", "iron.plate.material.permeability": 300}
    )
    assert changed.coils[0].core.shape == Rod(0.010, 0.070)
    assert changed.iron[0].material == Material(300)
    found = {p.path: p for p in machine_parameters(changed)}
    permeability = found["iron.plate.material.permeability"]
    assert (permeability.value, permeability.text) == (300.0, "300")
    assert (permeability.least, permeability.most, permeability.step) == (1, 1_000_000, 150)
    block = changed.changed(
        {"coils.pickup.core.shape": "block", "coils.pickup.core.size": ["4 mm"] * 3}
    )
    assert block.coils[0].core.shape == Block((0.004, 0.004, 0.004))


def machine_parameters(machine):
    from fieldsim.machine.parameters import parameters

    return parameters(machine)


def test_the_place_of_a_wrong_value_is_named(tmp_path):
    path = tmp_path / "machine.yaml"
    text = machine_text(with_core(ROD)) + "iron:\n  plate:\n    shape: blok\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Exception, match=r"iron\.plate\.shape.*rod, tube, disc, block, ball"):
        read(path)


def test_a_coil_in_python_takes_a_core():
    coil = Coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (0.02, 0.02), 0.01, 0.005, 100,
                core=Core(Rod("10 mm", "60 mm"), offset="1 mm"))  # fmt: skip
    assert replace(coil, turns=5).core == coil.core
    assert hash(coil) != hash(replace(coil, core=Core()))
