"""The raw differential equations of a bridge, lamps and a capacitor, by scipy's stiff integrator.

Source: scipy.integrate.solve_ivp (Radau) on the loop current and the capacitor voltage, with
the diodes' laws by scipy.special.lambertw and the bridge reduced by its symmetry.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import lambertw

from fieldsim.circuit.emf_source import CrankStart, PeriodicEmf, emf_while_turning
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.solver import periodic_steady_state, start_up
from fieldsim.machine.connections import CoilRef, InSeries
from fieldsim.machine.load.circuit_parts import SILICON, Bridge, Capacitor, Parallel, lamp_strings
from fieldsim.machine.load.led_colours import generic_led

FARAD, ESR, LAMPS = 33e-6, 0.5, 24
OHM, HENRY = np.array([60.0, 50.0]), np.array([[0.05, 0.01], [0.01, 0.04]])
WHITE = generic_led("white")
LOAD = Bridge(Parallel((lamp_strings(WHITE, 1, LAMPS), Capacitor(FARAD, ESR))))
CIRCUIT = Circuit(
    CoilSet.from_arrays(["left", "right"], OHM, HENRY),
    (Outlet("pair", InSeries((CoilRef("left"), CoilRef("right"))), LOAD),),
)
PERIOD = 1 / 40


def law(v, part, count=1):
    """Current and conductance of ``count`` equal junctions in parallel."""
    p = part.law
    s, R, Is = p.slope_V, p.series_ohm, p.saturation_A
    w = float(lambertw(Is * R / s * math.exp((v + Is * R) / s)).real)
    i = s / R * w - Is + p.leakage_S * v
    return count * i, count * (w / (1 + w) / R + p.leakage_S)


class Bridged:
    """Terminal voltage and capacitor current from the coil current, by a small Newton iteration."""

    def __init__(self):
        self.guess = np.array([0.3, 2.0])  # a conducting diode's voltage, and the DC side's

    def solve(self, i, vc):
        x = self.guess.copy()
        for _ in range(200):
            a, ga = law(x[0], SILICON)
            b, gb = law(-x[0] - x[1], SILICON)
            lamp, gl = law(x[1], WHITE, LAMPS)
            miss = np.array([a - b - i, a + b - lamp - (x[1] - vc) / ESR])
            self.J = np.array([[ga + gb, gb], [ga - gb, -gb - gl - 1 / ESR]])
            step = np.linalg.solve(self.J, miss)
            largest = np.abs(step).max()
            x -= step if largest < 0.2 else step * (0.2 / largest)
            if largest < 1e-12:
                break
        self.guess = x
        return 2 * x[0] + x[1], (x[1] - vc) / ESR, law(x[1], WHITE)[0]

    def slopes(self):
        """Change of both voltages with the coil current, and with the capacitor voltage."""
        return np.linalg.solve(self.J, [1.0, 0.0]), np.linalg.solve(self.J, [0.0, -1 / ESR])


def run_raw(emf, end, start):
    """Current, capacitor voltage and the charge through one lamp at ``end``, from ``start``."""
    bridge = Bridged()
    L, R = HENRY.sum(), OHM.sum()

    def rhs(t, y):
        terminal, charging, lamp = bridge.solve(y[0], y[1])
        return [(emf(t) - R * y[0] - terminal) / L, charging / FARAD, lamp]

    def jacobian(_, y):
        bridge.solve(y[0], y[1])
        by_i, by_vc = bridge.slopes()
        lamp = law(bridge.guess[1], WHITE)[1]
        return [
            [(-R - 2 * by_i[0] - by_i[1]) / L, (-2 * by_vc[0] - by_vc[1]) / L, 0],
            [by_i[1] / ESR / FARAD, (by_vc[1] - 1) / ESR / FARAD, 0],
            [lamp * by_i[1], lamp * by_vc[1], 0],
        ]

    return solve_ivp(
        rhs,
        (0, end),
        start,
        method="Radau",
        jac=jacobian,
        rtol=1e-6,
        atol=[1e-9, 1e-8, 1e-12],
        max_step=5e-4,
    ).y[:, -1]


def test_steady_state_repeats_under_the_raw_equations():
    t = np.arange(128) / 128
    wave = 6 * np.sin(2 * np.pi * t) + 1.5 * np.sin(6 * np.pi * t + 0.3)
    emf = PeriodicEmf(PERIOD, np.array([wave, 0.9 * wave]))
    result = periodic_steady_state(CIRCUIT, emf)
    assert result.warnings == ()
    start = [result.coils["left"].current_A[-1], _capacitor_V(result)[-1], 0.0]
    current, volt, charge = run_raw(lambda x: float(emf([x]).sum()), PERIOD, start)
    lamp = result.lamps[0]
    # the solver's own aim is 5e-5 of the source power and of the average coil current
    assert charge / PERIOD == pytest.approx(lamp.average_current_A, rel=1e-4)
    assert volt == pytest.approx(start[1], rel=2e-5)
    assert current == pytest.approx(start[0], abs=1e-4 * result.coils["left"].current_A.max())


def _capacitor_V(result):
    trace = result.part("capacitor")
    return trace.voltage_V - ESR * trace.current_A


def test_start_up_from_an_empty_capacitor_under_an_uneven_crank():
    crank = CrankStart(14.0, ramp_s=0.03, wobble=0.3, wobble_Hz=9.0)

    def slope(angle):  # two magnets on a rotor geared nine to one
        return -np.array([0.045 * np.cos(18 * angle), 0.04 * np.cos(18 * angle)])

    emf = emf_while_turning(slope, crank.angle_rad, crank.speed_at_rad_per_s)
    end = 0.06
    result = start_up(CIRCUIT, lambda t: 9 * emf(t), end, 2e-4)
    assert result.warnings == ()
    current, volt, charge = run_raw(lambda x: 9 * float(emf(np.array([x])).sum()), end, [0, 0, 0])
    assert volt > 2.0  # the lamps have come on
    assert _capacitor_V(result)[-1] == pytest.approx(volt, rel=1e-4)
    assert result.lamps[0].average_current_A * end == pytest.approx(charge, rel=2e-4)
    peak = result.coils["left"].current_A.max()
    assert result.coils["left"].current_A[-1] == pytest.approx(current, abs=3e-4 * peak)
