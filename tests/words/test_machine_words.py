"""A machine's parts in words."""

from machines import shipped

from fieldsim.words.check_text import check_text
from fieldsim.words.machine_words import machine_words


def test_words_name_sizes_and_ratios():
    assert machine_words(shipped("two_facing_rotors")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn, against its angle",
        "Magnet bar: 20 × 10 × 5 mm, 1.2 T",
        "Coil pickup: opening 24 × 16 mm, length 12 mm, build 6 mm, 1800 turns",
    ]


def test_of_a_grade_its_range_is_told():
    machine = shipped("two_facing_rotors").changed({"magnets.bar.remanence": "N42"})
    assert machine_words(machine)[2] == "Magnet bar: 20 × 10 × 5 mm, N42: 1.3 T (1.28 to 1.32 T)"
    assert "  magnet bar: block 20 x 10 x 5 mm, N42: 1.3 T (1.28 to 1.32 T)\n" in check_text(
        machine, ()
    )
