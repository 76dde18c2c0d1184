"""A machine's parts in words."""

import pytest
from machines import shipped

from fieldsim.words.check_text import check_text
from fieldsim.words.machine_words import corner_words, machine_words, model_words, packing_words


def test_words_name_sizes_and_ratios():
    assert machine_words(shipped("two_facing_rotors")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn, against its angle",
        "Magnet bar: 20 × 10 × 5 mm, 1.2 T",
        "Coil pickup: opening 24 × 16 mm, length 12 mm, build 6 mm, 1800 turns",
    ]


@pytest.mark.parametrize(
    ("packing", "words"),
    [
        ("square layers", "square layers: 77 % of the section wire; at random 60 %, 1060 turns"),
        (
            "hexagonal layers",
            "hexagonal layers: 89 % of the section wire; at random 60 %, 1070 turns",
        ),
        ("random", "random: 60 % of the section wire"),
        ({"wire_fill": "50 %"}, "spread evenly: 50 % of the section wire"),
        ({"copper_fill": "45 %"}, "copper fill 45 %: 55 % of the section wire"),
    ],
)
def test_packing_words_say_what_is_assumed_and_what_care_it_takes(packing, words):
    machine = shipped("lamp_ring").changed({"coils.pickup.wire.packing": packing})
    assert packing_words(machine.coils[0].winding) == words


def test_corner_words():
    ring, two = shipped("lamp_ring"), shipped("two_coils")
    assert corner_words(ring) == "sharp corners"
    assert corner_words(ring.changed({"coils.pickup.corners": "round"})) == "round corners"
    assert "as stated" in corner_words(two.changed({"coils.left.corners": "round"}))


def test_of_a_grade_its_range_is_told():
    machine = shipped("two_facing_rotors").changed({"magnets.bar.remanence": "N42"})
    assert machine_words(machine)[2] == "Magnet bar: 20 × 10 × 5 mm, N42: 1.3 T (1.28 to 1.32 T)"
    assert "  magnet bar: block 20 x 10 x 5 mm, N42: 1.3 T (1.28 to 1.32 T)\n" in check_text(
        machine, ()
    )


def test_what_a_machine_is_taken_for():
    ring = shipped("lamp_ring")
    assert model_words(ring) == (
        "The model: magnets of uniform, rigid magnetisation (recoil permeability 1) in free space, "
        "no iron; windings of evenly spread turns with sharp corners."
    )
    changes = {"magnets.bar.recoil_permeability": 1.05, "coils.pickup.corners": "round"}
    words = model_words(ring.changed(changes))
    assert "(recoil permeability as stated)" in words
    assert words.endswith("turns with round corners.")
    assert "in free space, and iron of constant permeability;" in model_words(
        shipped("bolt_beside_magnets")
    )
