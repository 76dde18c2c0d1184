"""Time the circuit solver, and a plain stiff ODE solution of the same circuit beside it.

Run it from the top of the repository: ``python benchmarks/circuit.py``. Two coils in series, a
silicon bridge, 24 white LEDs in parallel and a capacitor; then a table of 17 gauges. The stiff
solution integrates the raw equations with scipy's Radau from an empty capacitor until a period's
lamp current repeats, at the loosest tolerance that is as accurate as the solver's result. For that
comparison ten kilohms lie across the coils in both: without them the current of a blocking bridge
is set by nanoamperes, and the plain integration does not get through a period in minutes.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.emf_source import PeriodicEmf
from fieldsim.circuit.network import Circuit, CoilSet, Outlet
from fieldsim.circuit.solver import periodic_steady_state
from fieldsim.machine.connections import CoilRef, InSeries
from fieldsim.machine.load.circuit_parts import (
    SILICON,
    Bridge,
    Capacitor,
    Diode,
    Led,
    Parallel,
    Resistor,
    lamp_strings,
)
from fieldsim.machine.load.led_colours import generic_led

Array = NDArray[np.float64]

FARAD, ESR, LAMPS, PERIOD_S = 470e-6, 0.2, 24, 1 / 36
OHM, HENRY = np.array([60.0, 55.0]), np.array([[0.05, 0.01], [0.01, 0.045]])
ACROSS_OHM = 10e3
WHITE = generic_led("white")
LOAD = Bridge(Parallel((lamp_strings(WHITE, 1, LAMPS), Capacitor(FARAD, ESR))))


def pulses() -> PeriodicEmf:
    """Return an EMF of pulses such as magnets passing a coil make, in both coils."""
    turn = np.arange(256) / 256
    north, south = (np.exp(4 * np.cos(2 * np.pi * (turn - at))) for at in (0.25, 0.75))
    flux = north - south
    orders = 2j * np.pi * np.fft.rfftfreq(256, 1 / 256)
    emf = -np.fft.irfft(orders * np.fft.rfft(flux), 256)
    return PeriodicEmf(PERIOD_S, np.array([emf, 0.95 * emf]) * (8.0 / np.abs(emf).max()))


def circuit(ohm: Array = OHM, henry: Array = HENRY) -> Circuit:
    """Return the two coils in series on their load."""
    coils = CoilSet.from_arrays(["left", "right"], ohm, henry)
    return Circuit(coils, (Outlet("pair", InSeries((CoilRef("left"), CoilRef("right"))), LOAD),))


def damped_circuit() -> Circuit:
    """Return the circuit with a resistor across the coils, which the plain integration needs."""
    return circuit().with_load("pair", Parallel((LOAD, Resistor(ACROSS_OHM))))


class RawEquations:
    """The loop current, the capacitor voltage and one lamp's charge, as a plain ODE.

    The bridge is reduced by its symmetry; what is left of it is two unknown voltages, found by a
    small Newton iteration at every call.
    """

    def __init__(self, emf: Callable[[float], float]) -> None:
        self.emf = emf
        self.L, self.R = float(HENRY.sum()), float(OHM.sum())
        self.v, self.dc = 0.3, 2.0
        self.slopes = (0.0, 0.0, 0.0, 0.0)

    @staticmethod
    def junction(v: float, part: Diode | Led, count: int) -> tuple[float, float]:
        """Return current and conductance of equal junctions in parallel."""
        from scipy.special import wrightomega

        p = part.law
        w = float(
            wrightomega(
                (v + p.saturation_A * p.series_ohm) / p.slope_V
                + math.log(p.saturation_A * p.series_ohm / p.slope_V)
            )
        )
        current = p.slope_V / p.series_ohm * w - p.saturation_A + p.leakage_S * v
        return count * current, count * (w / (1 + w) / p.series_ohm + p.leakage_S)

    def bridge(self, i: float, vc: float) -> None:
        """Find a conducting diode's voltage and the DC side's, and their slopes."""
        v, dc = self.v, self.dc
        for _ in range(200):
            a, ga = self.junction(v, SILICON, 1)
            b, gb = self.junction(-v - dc, SILICON, 1)
            lamp, gl = self.junction(dc, WHITE, LAMPS)
            f = a - b + (2 * v + dc) / ACROSS_OHM - i
            g = a + b - lamp - (dc - vc) / ESR
            fv, fd = ga + gb + 2 / ACROSS_OHM, gb + 1 / ACROSS_OHM
            gv, gd = ga - gb, -gb - gl - 1 / ESR
            det = fv * gd - fd * gv
            sv, sd = (gd * f - fd * g) / det, (fv * g - gv * f) / det
            size = max(abs(sv), abs(sd))
            shrink = min(1.0, 0.3 / size) if size > 0 else 1.0
            v, dc = v - shrink * sv, dc - shrink * sd
            if size < 1e-10:
                break
        self.v, self.dc = v, dc
        self.slopes = (gd / det, -gv / det, fd / ESR / det, -fv / ESR / det)

    def __call__(self, t: float, y: Array) -> list[float]:
        """Return the derivatives."""
        self.bridge(y[0], y[1])
        terminal = 2 * self.v + self.dc
        lamp, _ = self.junction(self.dc, WHITE, 1)
        charging = (self.dc - y[1]) / ESR
        return [(self.emf(t) - self.R * y[0] - terminal) / self.L, charging / FARAD, lamp]

    def jacobian(self, _: float, y: Array) -> list[list[float]]:
        """Return the derivatives' slopes."""
        self.bridge(y[0], y[1])
        v_i, d_i, v_c, d_c = self.slopes
        _, g = self.junction(self.dc, WHITE, 1)
        return [
            [(-self.R - 2 * v_i - d_i) / self.L, (-2 * v_c - d_c) / self.L, 0.0],
            [d_i / ESR / FARAD, (d_c - 1) / ESR / FARAD, 0.0],
            [g * d_i, g * d_c, 0.0],
        ]


def integrated(emf: PeriodicEmf, rtol: float, start: Array, periods: int) -> tuple[float, Array]:
    """Return the lamp current averaged over the last period, and the final state."""
    from scipy.integrate import solve_ivp

    both = PeriodicEmf(emf.period_s, emf.emf_V.sum(axis=0))
    raw = RawEquations(lambda t: float(both(t)[0]))
    state, before, average = start, math.inf, 0.0
    for _ in range(periods):
        run: Any = solve_ivp(
            raw,
            (0.0, PERIOD_S),
            [state[0], state[1], 0.0],
            method="Radau",
            jac=raw.jacobian,
            rtol=rtol,
            atol=[1e-3 * rtol, rtol, 1e-4 * rtol],
            max_step=PERIOD_S / 40,
        )
        state = run.y[:, -1]
        average = float(state[2]) / PERIOD_S
        if abs(average / before - 1) < 5e-6:
            break
        before = average
    return average, state


def best_of(count: int, work: Callable[[], Any]) -> tuple[float, Any]:
    """Return the shortest of some run times [s], and the last answer."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        answer = work()
        times.append(time.perf_counter() - start)
    return min(times), answer


def main() -> None:
    """Print the timings."""
    emf = pulses()
    whole = circuit()
    periodic_steady_state(whole, emf)
    own_s, result = best_of(7, lambda: periodic_steady_state(whole, emf))
    print("two coils, bridge, 24 LEDs, capacitor: periodic steady state")
    print(f"  {1e3 * own_s:8.1f} ms  {result.steps} steps, {result.iterations} Newton iterations")
    lamp_mA = 1e3 * result.lamps[0].average_current_A
    print(f"            energy balance {result.balance.energy:.1e}, lamp {lamp_mA:.5f} mA")

    print("the same with 10 kilohms across the coils, and by plain integration")
    damped = damped_circuit()
    own_s, result = best_of(7, lambda: periodic_steady_state(damped, emf))
    average = result.lamps[0].average_current_A
    capacitor = result.part("capacitor")
    charged_V = capacitor.voltage_V[-1] - ESR * capacitor.current_A[-1]
    steady = np.array([result.coils["left"].current_A[-1], charged_V])
    exact, _ = integrated(emf, 1e-7, steady, 2)
    error = abs(average / exact - 1)
    print(f"  {1e3 * own_s:8.1f} ms  lamp current off by {error:.1e} (against Radau at 1e-7)")
    for rtol in (1e-3, 1e-4, 1e-5, 1e-6):
        start = time.perf_counter()
        stiff, _ = integrated(emf, rtol, np.zeros(2), 100)
        stiff_s = time.perf_counter() - start
        off = abs(stiff / exact - 1)
        print(
            f"  {1e3 * stiff_s:8.1f} ms  stiff ODE from empty, rtol {rtol:.0e}: "
            f"off by {off:.1e}, {stiff_s / own_s:.0f} times as long"
        )
        if off <= max(error, 2e-5):
            break

    print("17 gauges in the same section: 17 steady states")
    # bare copper's area falls by the square of this a gauge, and as many more turns fit
    more_turns = (92.0 ** (1 / 39)) ** (2.0 * np.arange(-8, 9))

    def table() -> list[float]:
        powers = []
        for ratio in more_turns:
            coils = circuit(OHM * ratio**2, HENRY * ratio**2)
            powers.append(periodic_steady_state(coils, emf.scaled(ratio)).useful_power_W)
        return powers

    table_s, useful_W = best_of(3, table)
    print(f"  {table_s:8.2f} s   from {1e3 * min(useful_W):.2g} to {1e3 * max(useful_W):.3g} mW")


if __name__ == "__main__":
    main()
