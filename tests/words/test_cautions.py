"""Every kind of caution has its sentence, with its number in it."""

from __future__ import annotations

import pytest
from machines import coil, described, rotor

from fieldsim.cautions import Caution, Hazard
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.placed import PlacedMagnet
from fieldsim.operation.cautions import strong_magnets_caution
from fieldsim.words.cautions import caution_lines, caution_text

FACTS = {
    "saturation_T": 2.0,
    "frequency_Hz": 50.0,
    "too_high": 0.12,
    "rated_A": 0.02,
    "enamel_K": 378.15,
    "count": 8.0,
    "first_m": 0.02,
    "second_m": 0.01,
    "third_m": 0.005,
    "speed_rad_per_s": 314.159265,
    "magnet": "bar",
    "number": 3.0,
    "magnetic_N": 150.0,
    "centrifugal_N": 40.0,
    "leaves_at_rad_per_s": 523.598776,
    "arm_m": 0.1,
    "now_V": 0.93,
    "after_V": 26.7,
    "joining": "series",
    "member": "left",
    "comfortable_from_rad_per_s": 6.283185,
    "unit": "m",
    "rotors": "bar",
    "less_A": 0.0054,
    "mean_A": 0.0073,
    "spread_V": 0.1,
    "series": 1.0,
    "up_to_Hz": 30.0,
    "heat_W": 1.34,
    "least": -0.2507,
    "most": 0.2345,
}
PARTS = {
    Hazard.LED_CURRENT: (0.0312, 0.02, "31.2 mA on average, above its rated 20 mA"),
    Hazard.LED_PEAK: (0.16, 0.1, "peaks at 160 mA, above its momentary 100 mA"),
    Hazard.LED_PULSES: (0.068, 0.06, "peaks at 68 mA, 3.4 times its rated current"),
    Hazard.UNEVEN_LAMPS: (0.0093, 0.00876, "of two lamps whose forward voltages are 0.1 V apart "
                          "one takes 9.3 mA and one 5.4 mA on average, where 7.3 mA each are "
                          "reckoned"),
    Hazard.FLASHING: (16.0, 3.0, "its light flashes 16 times a second. Between about 3 and 30, "
                      "flashing can set off seizures in people with photosensitive epilepsy"),
    Hazard.CIRCULATING: (1.3, 0.067, "1.30 W, 97 % of its coils' heat, come from current that runs "
                         "round through those in parallel"),
    Hazard.UNEVEN_SPEED: (0.2507, 0.1, "at 3000 rpm an even pull leaves it swinging by -25 to "
                          "+23 % with no more mass than the magnets' own"),
    Hazard.LED_REVERSE: (7.5, 5.0, "7.5 V backwards on each LED, above its 5 V"),
    Hazard.CAPACITOR_VOLTAGE: (11.3, 10.0, "11.3 V, above its rated 10 V"),
    Hazard.CAPACITOR_POLARITY: (2.0, 0.5, "2 V backwards on a polarised capacitor"),
    Hazard.RESISTOR_POWER: (0.5, 0.25, "0.5 W, above its rated 0.25 W"),
    Hazard.OPEN_VOLTAGE: (48.2, 30.0, "the open coil peaks at 48.2 V, above 30 V"),
    Hazard.COIL_CURRENT: (0.2, 0.096, "200 mA RMS, above the 96 mA that its wire carries"),
    Hazard.COIL_HEAT: (343.15, 333.15, "may reach about 70 °C: hot enough to burn"),
    Hazard.OPPOSED_COILS: (26.7, 0.98, "0.93 V RMS as joined, nothing connected; 26.7 V with the "
                           "ends of \"left\" swapped"),
    Hazard.FULL_SECTION: (0.82, 0.785, "fills 82 % of the section; hand winding seldom"),
    Hazard.SHAFT_IN_WINDING: (0.005, None, "Coil x: the shaft of rotor bar has to pass through 5 mm"
                              " of its winding. Part the turns there"),
    Hazard.STRONG_MAGNETS: (1.2, None, "8 magnets, the strongest 20 x 10 x 5 mm at 1.2 T"),
    Hazard.FAST_MAGNETS: (12.3, 5.0, "turns at 3000 rpm, its magnets at 12.3 m/s"),
    Hazard.FLYING_MAGNETS: (0.36, 0.25, "at 3000 rpm the glue under magnet 3 (bar) of rotor x "
                            "bears 36 % of what breaks it (centrifugal pull 40 N); it leaves at "
                            "about 5000 rpm"),
    Hazard.LOOSE_MAGNETS: (1.5, 0.25, "even at rest, with 150 N, 150 % of what breaks the joint"),
    Hazard.PINCH: (65.0, 20.0, "up to 65 N (the weight of 6.6 kg)"),
    Hazard.BALANCE: (4.32, 1.0, "sideways with 4.32 N, round with the rotor, at 3000 rpm"),
    Hazard.HAND_FORCE: (120.0, 60.0, "120 N on a crank arm of 100 mm; the hand gives 60 N"),
    Hazard.CRANK_SPEED: (20.0, 12.56637, "191 rpm is above the 60 to 120 rpm that a hand"),
    Hazard.IMPROBABLE_SIZE: (3.647, 0.5, "x is 3.65 m, more than the 500 mm of a machine on a "
                             "table: is that meant?"),
    Hazard.SATURATED_IRON: (1.8, 1.5, "x carries up to 1.8 T on average over a section, and its "
                            "material saturates at 2 T; here iron counts as far from that, so that "
                            "the voltage may be too high by up to 12 % (`emf --saturation` "
                            "solves it)"),
    Hazard.SOLID_IRON: (0.0009, 0.004, "at 50 Hz flux keeps to a skin of 0.9 mm, less than the "
                        "4 mm that it would have to go in"),
}  # fmt: skip


@pytest.mark.parametrize("kind", Hazard)
def test_every_hazard_has_its_sentence(kind):
    value, limit, part = PARTS[kind]
    text = caution_text(Caution(kind, "x", value, limit, FACTS))
    assert part in text
    assert "\n" not in text


def test_what_changes_a_sentence():
    hot = Caution(Hazard.COIL_HEAT, "x", 380.0, 378.15, FACTS)
    assert "about 107 °C, above the 105 °C of common enamel" in caution_text(hot)
    off = Caution(Hazard.CAPACITOR_VOLTAGE, "x", 11.0, 10.0, {"lamps_off": 1.0})
    assert caution_text(off).endswith("if its lamps come off")
    whole = Caution(Hazard.OPEN_VOLTAGE, "", 48.2, 30.0)
    assert caution_text(whole).startswith("An open coil reaches 48.2 V at its peak")


@pytest.mark.parametrize(
    ("shape", "size"),
    [
        (Cuboid((0.02, 0.01, 0.005)), "20 x 10 x 5 mm at 1.2 T"),
        (Cylinder(0.012, 0.004), "12 mm in diameter and 4 mm thick at 1.2 T"),
        (Cylinder(0.008, 0.016, ArmAxis.FORWARD), "8 mm in diameter and 16 mm thick at 1.2 T"),
        (Sphere(0.012), "12 mm in diameter at 1.2 T"),
    ],
)
def test_round_magnets_are_told_by_their_diameter(shape, size):
    magnet = Magnet("big", shape, 1.2)
    machine = described("x", (rotor(PlacedMagnet(magnet, 0.03, 0.0, 0.02, North.OUT)),), (coil(),))
    text = caution_text(strong_magnets_caution(machine))
    assert text.startswith(f"A magnet of {size}: it snaps")


def test_lamps_that_share_badly_may_get_too_much():
    facts = {**FACTS, "series": 2.0, "spread_V": 0.1414}
    text = caution_text(Caution(Hazard.UNEVEN_LAMPS, "x", 0.0213, 0.02, facts))
    assert "of two strings whose forward voltages are 0.14 V apart" in text
    assert "one takes 21.3 mA, above the rated 20 mA, and one 5.4 mA" in text


def test_a_crank_that_its_magnets_stop_is_not_told_by_a_swing():
    facts = {**FACTS, "least": -0.98, "most": 4.9}
    text = caution_text(Caution(Hazard.UNEVEN_SPEED, "crank", 4.9, 0.1, facts))
    assert "at 3000 rpm the mass of the magnets alone does not carry it past" in text
    assert "490" not in text


def test_a_screen_says_each_once():
    one = Caution(Hazard.RESISTOR_POWER, "x", 0.5, 0.25)
    assert caution_lines([one, None, one]) == ["Caution: x: 0.5 W, above its rated 0.25 W"]


def test_coils_in_parallel_that_differ():
    facts = {**FACTS, "now_V": 4.16, "after_V": 1e-6, "joining": "parallel"}
    text = caution_text(Caution(Hazard.OPPOSED_COILS, "pair", 4.16, 0.0, facts))
    assert text.startswith("pair: its coils differ and heat each other")
    assert '4.16 V RMS drive current round through them; 0 V with the ends of "left"' in text
