"""A machine's parts in words."""

import pytest
from machines import shipped

from fieldsim.words.machine_words import machine_words, packing_words


def test_words_name_sizes_and_ratios():
    assert machine_words(shipped("two_facing_rotors")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn",
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
