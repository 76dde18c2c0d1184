"""Words of the lamps' screen."""

from __future__ import annotations

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import (
    Bridge,
    Capacitor,
    Parallel,
    anti_parallel,
    lamp_strings,
)
from fieldsim.machine.load.led_colours import generic_led
from fieldsim.tables.result_datasets import circuit_dataset
from fieldsim.words.light_text import LAMP_HEADER, lamp_cells, lamp_sentence, power_rows
from fieldsim.words.numbers import in_unit


def solved(load, peak_V=8.0, period_s=0.02):
    t = np.arange(64) / 64
    emf = PeriodicEmf(period_s, peak_V * np.sin(2 * np.pi * t))
    return periodic_steady_state(one_coil_circuit(100.0, load), emf)


def test_a_bright_lamp_in_words():
    result = solved(Bridge(Parallel((lamp_strings(generic_led("white")), Capacitor(100e-6)))))
    (lamp,) = result.lamps
    words = lamp_sentence(lamp)
    assert words.startswith(
        f"white LED lights: {in_unit(lamp.average_current_A, 'mA')} mA on average each"
    )
    assert words.endswith("% of the rated 20.0 mA.")


def test_a_dark_group_in_words():
    result = solved(Bridge(lamp_strings(generic_led("white"), 1, 4)), peak_V=2.0)
    words = lamp_sentence(result.lamps[0])
    assert words.startswith("4 x white LED stay dark: ")
    assert words.endswith("seen from 0.500 mA.")


def test_slow_flicker_is_said():
    result = solved(anti_parallel(generic_led("red")), period_s=0.05)
    assert "flickers visibly, 20.0 times a second" in lamp_sentence(result.lamps[0])
    assert [lamp.label for lamp in result.lamps] == ["red LED", "reversed red LED"]


def test_flashes_are_said_with_their_rate():
    """Red lamps behind 100 ohm: too dark to glow on average, 2.5 flashes a second each way."""
    result = solved(anti_parallel(generic_led("red")), peak_V=1.75, period_s=0.4)
    (lamp, _) = result.lamps
    words = lamp_sentence(lamp)
    assert lamp.average_current_A < lamp.visible_current_A < lamp.seen_peak_A
    assert words.startswith("red LED flashes 2.50 times a second: ")
    assert f"{in_unit(lamp.average_current_A, 'mA')} mA on average, too little to glow by" in words
    assert f"{in_unit(lamp.seen_peak_A, 'mA')} mA at its brightest to the eye." in words


def test_power_rows_add_up_to_the_whole():
    result = solved(Bridge(Parallel((lamp_strings(generic_led("white"), 1, 4), Capacitor(1e-4)))))
    rows = power_rows(result)
    assert [row[0] for row in rows] == [
        "from the magnets", "coil coil", "4 x bridge diode", "4 x white LED", "capacitor", "useful"
    ]  # fmt: skip
    shares = [float(row[2].removesuffix(" %")) for row in rows]
    assert sum(shares[1:-1]) == pytest.approx(100, abs=0.3)  # five numbers to a tenth
    assert shares[-1] == shares[3]


def test_dataset_holds_what_flows():
    result = solved(Bridge(lamp_strings(generic_led("white"), 1, 4)))
    dataset = circuit_dataset(result, "title")
    names, columns = dataset.columns()
    assert names == [
        "time_s", "emf_V[coil]", "current_A[coil]", "voltage_V[coil]", "load_voltage_V[coil]",
        "lamp_current_A[white LED]",
    ]  # fmt: skip
    assert len(columns[0]) == result.points_to_show >= 512
    lamps = np.array(columns[names.index("lamp_current_A[white LED]")])
    # even samples have the same average as the solver's points, to the parabolas between
    assert lamps.mean() == pytest.approx(result.lamps[0].average_current_A, rel=1e-3)


def test_a_row_tells_lamps_that_light_flash_or_stay_dark():
    """The screen's table and the report's are made of these cells."""
    lights = LAMP_HEADER.index("lights")
    wave = np.sin(2 * np.pi * np.arange(64) / 64) ** 5
    told = []
    for peak_V in (6.0, 2.6, 1.6):
        circuit = one_coil_circuit(400.0, anti_parallel(generic_led("red")))
        lamps = periodic_steady_state(circuit, PeriodicEmf(0.4, peak_V * wave)).lamps
        told.append(lamp_cells(lamps[0])[lights])
    assert told == ["yes", "flashes, 2.50 Hz", "no"]
