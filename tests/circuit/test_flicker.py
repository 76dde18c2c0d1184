"""How often light swings, and what an eye sees of it."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.flicker import SEEN_S, flashes, flicker_Hz
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import anti_parallel
from fieldsim.machine.load.led_colours import generic_led

N = 2000


def even(function, period_s):
    """Return light at even points over a period, the points, and their weights."""
    time = np.arange(N) * (period_s / N)
    return function(time), time, np.full(N, period_s / N)


@pytest.mark.parametrize("amplitude", [0.09, 0.11])
def test_a_swing_counts_from_a_tenth_of_the_mean(amplitude):
    def wave(t):
        return 3.0 * (1 + amplitude * np.cos(2 * np.pi * 12 * t) + 0.8 * np.cos(2 * np.pi * 24 * t))

    light, time, _ = even(wave, 1 / 12)
    assert flicker_Hz(light, time, 1 / 12) == pytest.approx(12.0 if amplitude > 0.1 else 24.0)


def test_steady_or_absent_light_does_not_flicker():
    light, time, weight = even(lambda t: 1 + 0.09 * np.sin(2 * np.pi * 50 * t), 0.02)
    assert flicker_Hz(light, time, 0.02) == 0.0
    assert flicker_Hz(np.zeros(N), time, 0.02) == 0.0
    assert flashes(np.zeros(N), weight, 0.5).rate_Hz == 0.0


def test_unevenly_known_light_is_seen_the_same():
    time = np.sort(np.random.default_rng(5).uniform(0, 0.5, 4000))
    light = np.maximum(np.sin(2 * np.pi * 6 * time), 0.0)
    assert flicker_Hz(light, time, 0.5) == pytest.approx(6.0)


@pytest.mark.parametrize(("rate_Hz", "seen_Hz"), [(5, 5), (30, 30), (59, 0), (86, 0), (200, 0)])
def test_an_eye_follows_flashes_up_to_sixty_a_second(rate_Hz, seen_Hz):
    """Half the time bright: at 59 a second a sixtieth holds nearly all of both halves."""
    light, _, weight = even(lambda t: 2.0 * (t * rate_Hz % 1 < 0.5), 1 / rate_Hz)
    found = flashes(light, weight, visible=0.1)
    assert found.rate_Hz == pytest.approx(seen_Hz)


def test_a_brief_flash_is_as_bright_as_its_light_lasts_in_a_sixtieth_of_a_second():
    light, _, weight = even(lambda t: 6e-3 * (t < 2e-3), 0.1)
    found = flashes(light, weight, visible=0.5e-3)
    assert found.peak == pytest.approx(6e-3 * 2e-3 / SEEN_S, rel=0.07)  # and the window falls off
    assert found.rate_Hz == pytest.approx(10.0)


def test_every_flash_that_is_seen_counts():
    """A strong and a weak one in each fifth of a second; the weak one is seen or is not."""
    light, _, weight = even(lambda t: 8.0 * (t < 0.02) + 1.0 * ((t > 0.1) & (t < 0.12)), 0.2)
    assert flashes(light, weight, visible=0.5).rate_Hz == pytest.approx(10.0)
    assert flashes(light, weight, visible=2.0).rate_Hz == pytest.approx(5.0)


def lamp_at(period_s, peak_V):
    emf = PeriodicEmf(period_s, peak_V * np.sin(2 * np.pi * np.arange(64) / 64) ** 5)
    circuit = one_coil_circuit(400.0, anti_parallel(generic_led("red")))
    return periodic_steady_state(circuit, emf).lamps[0]


def test_a_lamp_too_dark_to_glow_may_flash():
    slow, dark, fast = lamp_at(0.4, 2.6), lamp_at(0.4, 1.6), lamp_at(0.01, 2.6)
    assert slow.average_current_A < slow.visible_current_A < slow.seen_peak_A
    assert not slow.lights
    assert slow.flashes
    assert slow.flash_Hz == pytest.approx(2.5)
    # hardly any current at all; and the same current a hundred times a second
    assert not dark.flashes
    assert fast.average_current_A == pytest.approx(slow.average_current_A, rel=1e-3)
    assert not fast.flashes
    assert fast.flash_Hz == 0.0


def test_a_lamp_that_glows_does_not_flash_in_place_of_it():
    lamp = lamp_at(0.4, 6.0)
    assert lamp.lights
    assert not lamp.flashes
    assert lamp.flash_Hz == pytest.approx(2.5)
