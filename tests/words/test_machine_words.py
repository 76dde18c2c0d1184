"""A machine's parts in words."""

from pathlib import Path

from fieldsim.machine_file.reader import read_geometry
from fieldsim.words.machine_words import machine_words

GEOMETRIES = Path(__file__).parents[2] / "geometries"


def test_words_name_sizes_and_ratios():
    assert machine_words(read_geometry(GEOMETRIES / "two_facing_rotors.yaml")) == [
        "Rotor upper: 2 × bar; 9 turns per crank turn",
        "Rotor lower: 2 × bar; −9 turns per crank turn",
        "Magnet bar: 20 × 10 × 5 mm, 1.2 T",
        "Coil pickup: opening 24 × 16 mm, length 12 mm, build 6 mm, 1800 turns",
    ]
