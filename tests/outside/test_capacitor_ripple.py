"""Smoothing capacitor behind a full-wave bridge of ideal diodes, against the exact solution.

Source: sine until the diode turns off at pi - atan(w R C), exponential decay until the next half
wave meets it; solved to 12 digits independently. The engineer's Vp/(2 f R C) is an upper bound.
"""

import numpy as np
import pytest

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import one_coil_circuit
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.load.circuit_parts import Bridge, Capacitor, Diode, Parallel, Resistor
from fieldsim.machine.load.diode_law import JunctionLaw

IDEAL = Diode(JunctionLaw(1e-9, 1e-5, leakage_S=0.0))


@pytest.mark.parametrize(
    ("peak_V", "hertz", "ohm", "farad", "lowest_V", "ripple_V", "mean_V"),
    [
        (10.0, 50.0, 1000.0, 100e-6, 9.17183446531, 0.828165534692, 9.60065727650),
        (10.0, 50.0, 100.0, 100e-6, 5.33060568650, 4.66939431350, 7.85692640047),
        (5.0, 20.0, 1000.0, 47e-6, 3.42169217711, 1.57830782289, 4.26150368588),
    ],
)
def test_ripple(peak_V, hertz, ohm, farad, lowest_V, ripple_V, mean_V):
    emf = PeriodicEmf(1 / hertz, peak_V * np.sin(2 * np.pi * np.arange(128) / 128))
    load = Bridge(Parallel((Capacitor(farad), Resistor(ohm))), IDEAL)
    result = periodic_steady_state(one_coil_circuit(1e-3, load), emf, tolerance=1e-7)
    v = result.outlets["coil"].dc_voltage_V
    # Two drops of 0.2 mV, and 1 milliohm at the 0.3 A of the charging: below 1 mV in all.
    assert v.min() == pytest.approx(lowest_V, abs=1e-3)
    assert v.max() - v.min() == pytest.approx(ripple_V, abs=1e-3)
    assert result.average(v) == pytest.approx(mean_V, abs=1e-3)
    assert v.max() - v.min() < peak_V / (2 * hertz * ohm * farad)
