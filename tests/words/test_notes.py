"""Every kind of note has its sentence, with its number in it."""

from __future__ import annotations

import pytest

from fieldsim.cautions import Doubt, Note
from fieldsim.words.notes import note_lines, note_text

FACTS = {
    "turns": 3.0,
    "first": "upper",
    "sections": "friction gears",
    "second": "lower",
    "rotor": "upper",
}
PARTS = {
    Doubt.SHIFTED_SPEEDS: (0.0123, None, "solved for 3 turns, with rotor speeds shifted by up to "
                           "1.2 %"),
    Doubt.NOT_CONVERGED: (0.0321, None, "the last step still changed a voltage by 0.032 V"),
    Doubt.COARSE_STEPS: (0.004, 5e-4, "averages are good to about 0.4 % only"),
    Doubt.CHARGE_BALANCE: (3e-4, 1e-4, "charge balance: off by 0.03 %, more than 0.01 %"),
    Doubt.ENERGY_BALANCE: (2.5e-4, 1e-4, "energy balance: off by 0.025 %, more than 0.01 %"),
    Doubt.WARM_WIRE: (0.02, 0.001, "warm wire are good to about 2 % only"),
    Doubt.LEFT_OUT: (2.0, None, 'the file has no "friction" and no "gears"; losses of friction and '
                     "of gear meshes are left out"),
    Doubt.NEAR_MAGNETS: (0.0123, 1e-3, "rotors upper and lower come so near that their torque is "
                         "good to some 1 % only"),
    Doubt.NEAR_IRON: (0.0123, 3e-3, "iron on the magnets of rotor upper is good to some 1 % only"),
    Doubt.HYSTERESIS: (0.01, None, "its hysteresis, which is not modelled, takes more"),
    Doubt.STILL_IRON: (1.0, None, "eddy currents in it, which at speed take some of the voltage, "
                       "are left out"),
}  # fmt: skip


@pytest.mark.parametrize("kind", Doubt)
def test_every_doubt_has_its_sentence(kind):
    value, limit, part = PARTS[kind]
    text = note_text(Note(kind, value, limit, FACTS))
    assert part in text
    assert not text.endswith(".")


def test_a_screen_says_each_once():
    coarse = Note(Doubt.COARSE_STEPS, 0.01)
    assert note_lines([coarse, coarse]) == [
        "Note: coarse steps: averages are good to about 1 % only"
    ]
