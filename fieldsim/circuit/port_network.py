"""Circuits of one topology as networks of waves between their junctions, coils and capacitors.

At each junction, coil and capacitor the circuit is cut, which leaves resistors and sources alone.
With ``a = v + R i`` and ``b = v - R i`` of the voltage ``v`` across such a port and the current
``i`` through it, they are a scattering matrix: ``a = S b + Q emf``. It exists, and its elements are
of order one, for any circuit, however its ports block or short each other (A. Fettweis, "Wave
digital filters", Proc. IEEE 74 (1986) 270-327, section II). It depends on no time step, so that it
is worked out once, and what is left to solve at each time has no nodes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.circuit.equations import Equations

__all__ = ["SAME_PORTS", "JunctionWaves", "PortNetworks", "same_topology", "waves_by"]

Array = NDArray[np.float64]

SAME_PORTS = 1e-6
"""Ports that see less than this apart are alike: insulation to ground favours one side."""


class JunctionWaves(NamedTuple):
    """Waves at junctions and their slopes by the junctions' unknown, each (junctions, ..., points).

    ``out`` is ``v + R i`` and ``back`` ``v - R i``.
    """

    out_V: Array
    back_V: Array
    out_slope: Array
    back_slope: Array


@dataclass(frozen=True, eq=False)
class PortNetworks:
    """Circuits that differ in numbers alone.

    Parameters
    ----------
    equations
        Of each, in the order of the leading axis of all arrays.
    wave_ohm
        Resistance typical of each [ohm], (circuits,).
    alike
        Junctions that all carry the same, those together in a tuple, which count as one; empty for
        each by itself.

    Notes
    -----
    Ports are the junctions, then the coils, then the capacitors, each in the order of the
    equations. A coil's current counts the way of its unknown, its voltage is that of its
    inductance.
    """

    equations: tuple[Equations, ...]
    wave_ohm: Array = field(repr=False)
    alike: tuple[tuple[int, ...], ...] = ()

    @property
    def junctions(self) -> int:
        """How many junctions each has, alike ones counted once."""
        return len(self.alike or self.equations[0].laws)

    @cached_property
    def place_of(self) -> NDArray[np.intp]:
        """Where each junction of the equations stands among those counted here."""
        places = np.arange(len(self.equations[0].laws))
        for place, members in enumerate(self.alike):
            places[list(members)] = place
        return places

    def with_alike_together(self) -> PortNetworks:
        """Return the networks with junctions that carry the same taken as one.

        Two opposite diodes of a bridge are such. Junctions of one law are parted by what they see
        of coils, capacitors and EMFs, and of all junctions in each part, until parting ends: a
        state in which each part carries the same then solves the equations, and they have but one
        solution.
        """
        d = self.junctions
        S = self.scattering[:, :d]
        outside = np.concatenate([S[:, :, d:], self.sources[:, :d]], axis=2)
        parts: list[tuple[int, ...]] = []
        finer = [tuple(range(d))] if d else []
        while len(finer) > len(parts):
            parts, finer = finer, []
            of_parts = [S[:, :, part].sum(axis=2, keepdims=True) for part in parts]
            seen = np.concatenate([outside, *of_parts], axis=2)
            for rest in parts:
                while rest:
                    same = [j for j in rest if self._same(seen, rest[0], j)]
                    finer.append(tuple(same))
                    rest = tuple(j for j in rest if j not in same)
        made = PortNetworks(self.equations, self.wave_ohm, tuple(sorted(parts)))
        made.__dict__["_answers"] = self._answers
        return made

    def _same(self, seen: Array, first: int, second: int) -> bool:
        laws = self.laws
        return bool(
            np.abs(seen[:, first] - seen[:, second]).max() < SAME_PORTS
            and np.allclose(laws[:, :, first], laws[:, :, second], rtol=1e-12, atol=0.0)
        )

    @property
    def coils(self) -> int:
        """How many coils each has."""
        return len(self.equations[0].coil_branches)

    @property
    def capacitors(self) -> int:
        """How many capacitors each has."""
        eq = self.equations[0]
        return eq.size - eq.offsets["charging"]

    @cached_property
    def _answers(self) -> tuple[Array, Array]:
        """Unknowns of the equations for unit waves into the ports and unit EMFs.

        Shapes (circuits, unknowns, ports) and (circuits, unknowns, coils); in the columns of the
        junctions stand their currents.
        """
        eq = self.equations[0]
        d, c, k = len(eq.laws), self.coils, self.capacitors
        K = np.stack([each.linear for each in self.equations])
        R = self.wave_ohm
        waves = eq.columns("wave", d)
        coils = eq.columns("coil", c)
        caps, charging = eq.columns("capacitor", k), eq.columns("charging", k)
        # junctions: v - R i = b, their currents meeting the nodes
        K[:, : eq.nodes, waves] = np.stack([each.junction_nodes for each in self.equations])
        at = np.arange(d) + waves.start
        K[:, at, at] = -R[:, None]
        # coils: the inductance's voltage is R i + b
        at = np.arange(c) + coils.start
        K[:, at, at] += R[:, None]
        # capacitors: v - R i = b
        K[:, caps] = 0.0
        at = np.arange(k)
        K[:, at + caps.start, at + caps.start] = 1.0
        K[:, at + caps.start, at + charging.start] = -R[:, None]
        right = np.zeros((len(K), eq.size, d + c + k + c))
        right[:, waves, :d] = np.eye(d)
        right[:, coils, d : d + c] = -np.eye(c)
        right[:, caps, d + c : d + c + k] = np.eye(k)
        right[:, eq.emf_rows, d + c + k + np.arange(c)] = 1.0
        answer = np.asarray(np.linalg.solve(K, right), dtype=np.float64)
        return answer[:, :, : d + c + k], answer[:, :, d + c + k :]

    @cached_property
    def scattering(self) -> Array:
        """``S``, (circuits, ports, ports)."""
        currents = self._port_currents(self._answers[0])
        whole = np.eye(currents.shape[1]) + 2 * self.wave_ohm[:, None, None] * currents
        if not self.alike:
            return whole
        rest = np.arange(len(self.place_of), whole.shape[2])
        columns = [whole[:, :, part].sum(axis=2, keepdims=True) for part in self.alike]
        return self._together(np.concatenate([*columns, whole[:, :, rest]], axis=2))

    @cached_property
    def sources(self) -> Array:
        """``Q``, (circuits, ports, coils)."""
        whole = 2 * self.wave_ohm[:, None, None] * self._port_currents(self._answers[1])
        return self._together(whole)

    def _together(self, rows: Array) -> Array:
        """Return rows of ports with those of alike junctions as one, their mean."""
        if not self.alike:
            return rows
        means = [rows[:, part].mean(axis=1, keepdims=True) for part in self.alike]
        return np.concatenate([*means, rows[:, len(self.place_of) :]], axis=1)

    def _port_currents(self, unknowns: Array) -> Array:
        eq = self.equations[0]
        parts = (("wave", len(eq.laws)), ("coil", self.coils), ("charging", self.capacitors))
        return np.concatenate([unknowns[:, eq.columns(*part)] for part in parts], axis=1)

    @cached_property
    def inductance_H(self) -> Array:
        """Of the coils in the order of their ports, (circuits, coils, coils)."""
        at = self.equations[0].columns("coil", self.coils)
        return np.stack([each.mass[at, at] for each in self.equations])

    @cached_property
    def capacitance_F(self) -> Array:
        """Of the capacitors, (circuits, capacitors)."""
        at = self.equations[0].columns("capacitor", self.capacitors)
        return np.stack([np.diagonal(each.mass)[at] for each in self.equations])

    @cached_property
    def coil_ohm(self) -> Array:
        """Resistance of the coils in the order of their ports, (circuits, coils)."""
        at = self.equations[0].columns("coil", self.coils)
        return np.stack([np.diagonal(each.linear)[at] for each in self.equations])

    @cached_property
    def laws(self) -> Array:
        """Saturation current, slope voltage, series resistance, leakage: (4, circuits, d)."""
        known = {id(each.laws): each.laws for each in self.equations}
        numbers = {
            key: [(j.saturation_A, j.slope_V, j.series_ohm, j.leakage_S) for j in laws]
            for key, laws in known.items()
        }
        laws = [numbers[id(each.laws)] for each in self.equations]
        of_all = np.moveaxis(np.array(laws, dtype=float).reshape(len(laws), -1, 4), 2, 0)
        return of_all[:, :, [part[0] for part in self.alike]] if self.alike else of_all

    def chosen(self, which: Sequence[int] | NDArray[np.intp]) -> PortNetworks:
        """Return some of the circuits, with all that is worked out of them."""
        equations = tuple(map(self.equations.__getitem__, which))
        some = PortNetworks(equations, self.wave_ohm[which], self.alike)
        for name in ("scattering", "sources", "inductance_H", "capacitance_F", "coil_ohm"):
            some.__dict__[name] = getattr(self, name)[which]
        some.__dict__["laws"] = self.laws[:, which]
        for name in self.__dict__:
            if name.startswith("wave_sums"):
                some.__dict__[name] = self.__dict__[name].take(which, 2)
        return some

    def junction_waves(self, t: Array, softening: float = 1.0) -> JunctionWaves:
        """Return the waves at the junctions.

        Parameters
        ----------
        t
            The junctions' unknown, (junctions, circuits, ...). With ``w = R (j + Is) / s`` of
            the junction's current ``j`` it is ``ln w`` where that is below zero and ``w - 1``
            above: smooth, and of both voltage and current a plain function.
        softening
            By how much the knees are widened, staying at their place.
        """
        sums = self.wave_sums(softening)
        return waves_by(sums.reshape(sums.shape + (1,) * (t.ndim - 2)), t)

    def wave_sums(self, softening: float) -> Array:
        """Return ``ln w`` and ``w`` at rest, and waves as sums of what is beyond.

        Shape (6, junctions, circuits). The current through the junction itself is ``s`` times what
        is beyond of ``w`` through the wave resistance, the voltage across it ``s`` times that of
        ``ln w``; a resistance in series and a leakage across both leave sums of the two.
        """
        key = f"wave_sums {softening}"
        if key not in self.__dict__:
            saturation, slope, knee = self._softened(softening)
            R = self.wave_ohm[:, None]
            series, leakage = self.laws[2] / R, self.laws[3] * R
            sums = [knee, saturation * R / slope]
            for sign in (1.0, -1.0):  # v + R i and v - R i
                of_v = 1.0 + sign * leakage
                sums += [of_v * slope, (series * of_v + sign) * slope]
            self.__dict__[key] = np.stack([each.T for each in sums])
        found: Array = self.__dict__[key]
        return found

    def at_rest(self, softening: float) -> Array:
        """Return the junctions' unknown without voltage and current, (junctions, circuits)."""
        knee = self._softened(softening)[2].T
        w = np.exp(knee)
        return np.asarray(np.where(knee < 0.0, knee, w - 1.0))

    def sharpened(self, t: Array, before: float, after: float) -> Array:
        """Return the junctions' unknown of the same waves for other knees.

        Parameters
        ----------
        t
            Shape (junctions, circuits, 2, steps).
        before, after
            Softening that it is of, and that is asked for.
        """
        from scipy.special import wrightomega

        if before == after:
            return t
        slope, offset = self._wave_scale(after)
        x = (self.wave_V(t, before) + offset) / slope
        w = wrightomega(x)
        return np.asarray(np.where(w < 1.0, x - w, w - 1.0))

    def wave_V(self, t: Array, softening: float = 1.0) -> Array:
        """Return the variables of `fieldsim.circuit.wave_laws` from the junctions' unknown.

        Parameters
        ----------
        t
            Shape (junctions, circuits, 2, steps), and so the result.
        """
        slope, offset = self._wave_scale(softening)
        below = np.minimum(t, 0.0)
        above = t - below
        return np.asarray((below + np.log1p(above) + np.exp(below) + above) * slope - offset)

    def _wave_scale(self, softening: float) -> tuple[Array, Array]:
        saturation, slope, knee = self._softened(softening)
        offset = self.wave_ohm[:, None] * saturation + slope * knee
        return slope.T[..., None, None], offset.T[..., None, None]

    def _softened(self, softening: float) -> tuple[Array, Array, Array]:
        """Return saturation currents, slopes and the logarithm of R Is/s, (circuits, junctions)."""
        saturation, slope = self.laws[:2]
        R = self.wave_ohm[:, None]
        knee = np.log(saturation * R / slope)
        if softening != 1.0:
            # the knee stands where ln(Is R/s) + u/s = 0
            slope, knee = slope * softening, knee / softening
            saturation = slope / R * np.exp(knee)
        return saturation, slope, knee

    @cached_property
    def unknown_maps(self) -> Array:
        """Unknowns of the equations from waves and EMFs, (circuits, unknowns, ports + coils).

        EMFs are in the order of the circuit's coils; in the rows of the junctions stand their
        currents.
        """
        return np.concatenate(self._answers, axis=2)

    def unknowns(self, member: int, back_V: Array, emf_V: Array) -> Array:
        """Return one circuit's unknowns without its wave variables, (points, unknowns).

        Parameters
        ----------
        back_V
            Waves into the network, (ports, points).
        emf_V
            Of the coils in their own order, (coils, points).
        """
        of_waves, of_emfs = self._answers
        return np.asarray((of_waves[member] @ back_V + of_emfs[member] @ emf_V).T)


def waves_by(sums: Array, t: Array) -> JunctionWaves:
    """Return the waves at junctions; see `PortNetworks`, whose ``wave_sums`` these are."""
    log_0, w_0, out_log, out_w, back_log, back_w = sums
    below = np.minimum(t, 0.0)
    w_slope = np.exp(below)
    w = t - below
    log = np.log1p(w)
    log += below
    log_slope = np.reciprocal(np.add(w, 1.0, out=below), out=below)
    w += w_slope
    # at rest nothing but rounding is left of these, which counts between blocking junctions
    log -= log_0
    w -= w_0
    out_V, back_V = out_log * log, back_log * log
    out_V += out_w * w
    back_V += np.multiply(back_w, w, out=w)
    out_slope, back_slope = out_w * w_slope, np.multiply(back_w, w_slope, out=w_slope)
    out_slope += np.multiply(out_log, log_slope, out=log)
    back_slope += np.multiply(back_log, log_slope, out=log_slope)
    return JunctionWaves(out_V, back_V, out_slope, back_slope)


def same_topology(first: Equations, second: Equations) -> bool:
    """Return whether two circuits differ in numbers alone."""
    return first.branches is second.branches or (
        first.offsets == second.offsets
        and first.size == second.size
        and np.array_equal(first.junction_nodes, second.junction_nodes)
        and np.array_equal(first.emf_rows, second.emf_rows)
        and np.array_equal(first.linear != 0, second.linear != 0)
        and [(b.start, b.end, b.coil) for b in first.coil_branches]
        == [(b.start, b.end, b.coil) for b in second.coil_branches]
    )
