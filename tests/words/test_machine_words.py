"""A machine's parts in words."""

from machines import shipped

from fieldsim.words.machine_words import machine_words


def test_words_name_sizes_and_ratios():
    assert machine_words(shipped("two_facing_rotors")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn, against its angle",
        "Magnet bar: 20 × 10 × 5 mm, 1.2 T",
        "Coil pickup: opening 24 × 16 mm, length 12 mm, build 6 mm, 1800 turns",
    ]
