"""Averages, energy balance and bends of many circuits' steady states, in arrays."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.collocation import STAGES
from fieldsim.circuit.port_collocation import PortState, PortSystem
from fieldsim.circuit.steady_waves import WaveMoments

__all__ = ["Measures"]

Array = NDArray[np.float64]

_COARSER = 0.5  # as many steps, where nothing bends
_FINER = 8.0


class Measures:
    """What is measured of solved circuits; see `fieldsim.circuit.solver` for what it is for.

    Parameters
    ----------
    system, state
        Equations and what solves them.
    scale_V
        Peak EMF of each circuit, (circuits,).
    """

    def __init__(self, system: PortSystem, state: PortState, scale_V: Array) -> None:
        self.system, self.state, self.scale_V = system, state, scale_V
        networks = system.networks
        self.ohm = networks.wave_ohm[:, None, None]
        c = networks.coils
        waves = state.waves
        self.junction_V = (waves.out_V + waves.back_V) / 2
        self.junction_A = (waves.out_V - waves.back_V) / (2 * self.ohm)
        self.port_V = (state.out_V + state.back_V) / 2
        self.port_A = (state.out_V - state.back_V) / (2 * self.ohm)
        self.coil_A = self.port_A[:c]
        eq = networks.equations[0]
        order = np.argsort(eq.emf_rows)  # coils in the order of their ports
        self.emf_V = system.emf_V[order]

    @property
    def period_s(self) -> Array:
        """Of each circuit, (circuits,)."""
        return np.asarray(self.system.h.sum(axis=1) * self.system.turn.stretches)

    def mean(self, values: Array) -> Array:
        """Return averages over the period, (circuits, rows), of values (rows, circuits, 2, n)."""
        return np.asarray(np.einsum("rbsn,bsn->br", values, self.system.weights))

    @cached_property
    def source_W(self) -> Array:
        """Average power of each EMF, (circuits, coils)."""
        return self.mean(self.emf_V * self.coil_A)

    @cached_property
    def averages(self) -> Array:
        """Powers and junction currents over those of source and coil, (circuits, quantities)."""
        # where only leakage flows, a millionth of what the coils can give is small enough
        small_A = 1e-5 * self.scale_V / self.system.networks.wave_ohm
        source_W = self.mean(np.abs(self.emf_V * self.coil_A)).sum(axis=1)
        coil_A = np.abs(self.coil_A).max(axis=0, initial=0.0)[None]
        power_W = np.maximum(source_W, small_A * self.scale_V)[:, None]
        current_A = np.maximum(self.mean(coil_A)[:, 0], small_A)[:, None]
        powers = [
            self.source_W,
            self.mean(self.junction_V * self.junction_A),
            self.mean(self.coil_A**2) * self.system.networks.coil_ohm,
        ]
        return np.concatenate(
            [np.concatenate(powers, axis=1) / power_W, self.mean(self.junction_A) / current_A],
            axis=1,
        )

    @cached_property
    def energy(self) -> Array:
        """Average power into coils' fields and capacitors, which is none, over the source's."""
        kept_W = np.abs(self.mean(self.port_V * self.port_A).sum(axis=1))
        source_W = np.abs(self.source_W.sum(axis=1))
        heat_W = (self.mean(self.coil_A**2) * self.system.networks.coil_ohm).sum(axis=1)
        scale_W = np.maximum(np.maximum(source_W, heat_W), 1e-18)
        return np.asarray(kept_W / scale_W)

    def moments(self) -> list[WaveMoments]:
        """Return the moments of each circuit over the whole period."""
        system, state = self.system, self.state
        d, c = system.d, system.networks.coils
        b, n = system.h.shape
        waves = np.concatenate([state.waves.back_V, state.back_V, system.emf_V])
        flat = waves.reshape(-1, b, 2 * n).transpose(1, 0, 2)
        weighed = flat * system.weights.reshape(b, 1, 2 * n)
        mean = weighed.sum(axis=2)
        square = weighed @ flat.transpose(0, 2, 1)
        forward = self.mean(np.maximum(self.junction_A, 0.0))
        peak = np.abs(self.junction_A).max(axis=(2, 3), initial=0.0).T
        turn = system.turn
        if turn.signs:
            # the other half of what repeats has the ports at other places and the signs turned
            places = np.array([*turn.junctions, *range(d, d + system.r + c)])
            signs = np.array([*[1.0] * d, *turn.signs, *[-1.0] * c])
            mean = 0.5 * (mean + signs * mean[:, places])
            turned = square[:, places][:, :, places] * signs[:, None] * signs
            square = 0.5 * (square + turned)
            forward = 0.5 * (forward + forward[:, turn.junctions])
            peak = np.maximum(peak, peak[:, turn.junctions])
        # each junction for itself again
        of_all = system.networks.place_of
        places = np.concatenate([of_all, np.arange(d, d + system.r + c)])
        mean, square = mean[:, places], square[:, places][:, :, places]
        forward, peak = forward[:, of_all], peak[:, of_all]
        return [WaveMoments(*each) for each in zip(mean, square, forward, peak, strict=True)]

    def density(self, tolerance: float) -> Array:
        """Return how many steps a second are wanted, (circuits, steps)."""
        h = self.system.h
        length = self.period_s[:, None]
        excess = self._bends() * h / length / tolerance
        # a kink's share of the error falls with the square of its step
        return np.asarray(np.clip(np.sqrt(2.0 * excess), _COARSER, _FINER) / h)

    def _bends(self) -> Array:
        """Return how far each step departs from the parabola through the one before.

        Relative to the greatest current or voltage, (circuits, steps).
        """
        ohm = self.system.networks.wave_ohm
        # leakage alone is no current worth following
        largest_A = np.abs(self.coil_A).max(axis=(0, 2, 3), initial=0.0)
        largest_A = np.maximum(largest_A, 1e-6 * self.scale_V / ohm)
        driven_A = np.maximum(largest_A, 1e-3 * self.scale_V / ohm)
        values = np.concatenate(
            [
                self.coil_A / largest_A[:, None, None],
                self.junction_A / largest_A[:, None, None],
                self.emf_V / self.scale_V[:, None, None],
                self._driving_A() / driven_A[:, None, None],
            ]
        )
        h = self.system.h
        # parabola through the start, the stage and the end of step k - 1, continued into step k
        start, middle, end = values[:, :, 1, :-2], values[:, :, 0, 1:-1], values[:, :, 1, 1:-1]
        ratio = h[:, 2:] / h[:, 1:-1]
        found = np.zeros_like(ratio)
        for stage, s in enumerate(STAGES):
            p = 1.0 + s * ratio
            a, b, c = (p - 1 / 3) * (p - 1) * 3, p * (p - 1) * -4.5, p * (p - 1 / 3) * 1.5
            miss = np.abs(values[:, :, stage, 2:] - a * start - b * middle - c * end).max(axis=0)
            # a long step after a short one is judged by what the short one can foresee
            found = np.maximum(found, miss / np.maximum(p * p, 1.0))
        # it counts for the step and for the one before
        departure = np.zeros_like(h)
        departure[:, 2:] = found
        departure[:, 1:-1] = np.maximum(departure[:, 1:-1], found)
        departure[:, 0] = departure[:, 1]
        return departure

    def _driving_A(self) -> Array:
        """Return the coils' voltages as the currents they drive; see the solver."""
        networks = self.system.networks
        henry = np.diagonal(networks.inductance_H, axis1=1, axis2=2)
        coil_ohm = self.system.networks.coil_ohm.T[..., None, None]
        terminal_V = self.emf_V - coil_ohm * self.coil_A - self.port_V[: networks.coils]
        share = (henry > 0) / np.maximum(
            self.system.networks.coil_ohm, henry / self.period_s[:, None]
        )
        return np.asarray(terminal_V * share.T[..., None, None])
