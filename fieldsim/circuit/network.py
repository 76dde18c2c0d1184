"""Coils, how they are joined, and the load on them, turned into one set of circuit equations.

A coil's EMF drives current positive along its axis: ``emf = R i + L di/dt + v`` with ``v`` the
terminal voltage, so ``v i`` is the power it delivers. Coils in series add (aiding) or subtract
(a reversed member, opposing); in parallel they share their terminal voltage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.machine.connections import CoilRef, Source, coil_refs
from fieldsim.machine.load.circuit_parts import Load, Open

__all__ = [
    "Circuit",
    "CoilSet",
    "Outlet",
    "one_coil_circuit",
]

Array = NDArray[np.float64]

_LEAST_H = 1e-12  # less than a millimetre of wire has; it counts as none


@dataclass(frozen=True)
class CoilSet:
    """The electrical side of some coils.

    Parameters
    ----------
    names
        One per coil.
    resistance_ohm
        Of each winding without current [ohm], above zero.
    inductance_H
        Rows of the symmetric inductance matrix [H], mutual inductances off the diagonal; zeros
        for coils whose inductance is neglected.
    warming_per_W
        By which share of itself each resistance grows for every watt that its winding loses
        lastingly [1/W], as from `fieldsim.wire.resistance.warming_per_W`; zeros for wire that is
        held at its temperature.
    iron_ohm
        What eddy currents in iron add to each resistance, in series [ohm]: its power is lost in the
        iron and does not warm the winding. None for no iron.
    """

    names: tuple[str, ...]
    resistance_ohm: tuple[float, ...]
    inductance_H: tuple[tuple[float, ...], ...]
    warming_per_W: tuple[float, ...]
    iron_ohm: tuple[float, ...] = ()

    @property
    def whole_ohm(self) -> tuple[float, ...]:
        """What each coil's current meets: its wire, and the loss in iron."""
        added = self.iron_ohm or (0.0,) * len(self.names)
        return tuple(wire + iron for wire, iron in zip(self.resistance_ohm, added, strict=True))

    @classmethod
    def from_arrays(
        cls,
        names: Sequence[str],
        resistance_ohm: ArrayLike,
        inductance_H: ArrayLike | None = None,
        warming_per_W: ArrayLike = 0.0,
        iron_ohm: ArrayLike = 0.0,
    ) -> CoilSet:
        """Return the set, checked.

        Parameters
        ----------
        resistance_ohm
            Shape (coils,).
        inductance_H
            Shape (coils, coils), or None for no inductance.
        warming_per_W
            Shape (coils,), or one number for all.
        iron_ohm
            Likewise.

        Raises
        ------
        ImpossibleError
            If a resistance is not above zero, or the inductance matrix is not symmetric or would
            make energy from nothing.

        Examples
        --------
        >>> CoilSet.from_arrays(["a"], [50.0], [[0.02]]).inductance_H
        ((0.02,),)
        """
        R = np.atleast_1d(np.asarray(resistance_ohm, dtype=float))
        n = len(names)
        L = np.zeros((n, n)) if inductance_H is None else np.asarray(inductance_H, dtype=float)
        if R.shape != (n,) or L.shape != (n, n):
            raise ValueError(
                f"{n} coils need {n} resistances and a {n} by {n} inductance matrix, "
                f"not {R.shape} and {L.shape}"
            )
        for name, r in zip(names, R, strict=True):
            if not (np.isfinite(r) and r > 0):
                raise ImpossibleError(f'coil "{name}" has {r:g} ohm; it must be above zero')
        if not np.isfinite(L).all() or np.abs(L - L.T).max(initial=0.0) > 1e-6 * np.abs(L).max():
            raise ImpossibleError("the inductance matrix is not symmetric: M12 must equal M21")
        L = np.where(np.abs(L) < _LEAST_H, 0.0, 0.5 * (L + L.T))
        if np.linalg.eigvalsh(L).min(initial=0.0) < -1e-9 * np.abs(L).max(initial=0.0):
            raise ImpossibleError(
                "the inductances are impossible: a mutual inductance exceeds sqrt(L1 L2)"
            )
        warming = np.broadcast_to(np.asarray(warming_per_W, dtype=float), R.shape)
        if not (np.isfinite(warming).all() and warming.min(initial=0.0) >= 0):
            raise ValueError("resistances can only grow as wire warms")
        iron = np.broadcast_to(np.asarray(iron_ohm, dtype=float), R.shape)
        if not (np.isfinite(iron).all() and iron.min(initial=0.0) >= 0):
            raise ValueError("iron can only take power")
        return cls(
            tuple(names),
            tuple(R.tolist()),
            tuple(tuple(row) for row in L.tolist()),
            tuple(warming.tolist()),
            tuple(iron.tolist()) if iron.any() else (),
        )

    def warmed(self, growth: ArrayLike) -> CoilSet:
        """Return the coils at resistances larger by some shares of themselves, and held there.

        Examples
        --------
        >>> CoilSet.from_arrays(["a"], [50.0]).warmed([0.1]).resistance_ohm
        (55.00000000000001,)
        """
        grown = np.array(self.resistance_ohm) * (1.0 + np.asarray(growth, dtype=float))
        still = (0.0,) * len(self.names)
        return CoilSet(self.names, tuple(grown.tolist()), self.inductance_H, still, self.iron_ohm)


@dataclass(frozen=True)
class Outlet:
    """A pair of terminals: what feeds them and what hangs on them."""

    name: str
    source: Source
    load: Load


@dataclass(frozen=True)
class Circuit:
    """All coils of a machine and what is connected to them.

    Coils that no outlet names stand open; they still feel the others through mutual inductance.
    """

    coils: CoilSet
    outlets: tuple[Outlet, ...]

    def __post_init__(self) -> None:
        known = self.coils.names
        used: list[str] = []
        for outlet in self.outlets:
            for ref in coil_refs(outlet.source):
                if ref.coil not in known:
                    raise ImpossibleError(
                        f'no coil is called "{ref.coil}"; there are: {", ".join(known)}'
                    )
                if ref.coil in used:
                    raise ImpossibleError(f'coil "{ref.coil}" is connected twice')
                used.append(ref.coil)
        names = [outlet.name for outlet in self.outlets]
        if len(set(names)) != len(names):
            raise ImpossibleError("two outlets have the same name")

    def with_load(self, outlet_name: str, load: Load) -> Circuit:
        """Return the circuit with another load on one outlet.

        Raises
        ------
        KeyError
            If there is no such outlet.
        """
        if outlet_name not in {o.name for o in self.outlets}:
            raise KeyError(outlet_name)
        outlets = tuple(
            Outlet(o.name, o.source, load) if o.name == outlet_name else o for o in self.outlets
        )
        return Circuit(self.coils, outlets)

    def with_coils(self, coils: CoilSet) -> Circuit:
        """Return the circuit with other windings."""
        return Circuit(coils, self.outlets)

    def opened(self) -> Circuit:
        """Return the circuit with nothing connected to any outlet."""
        return Circuit(self.coils, tuple(Outlet(o.name, o.source, Open()) for o in self.outlets))

    def complete_outlets(self) -> tuple[Outlet, ...]:
        """Return the outlets, and an open one for each coil that none of them names."""
        used = {ref.coil for outlet in self.outlets for ref in coil_refs(outlet.source)}
        rest = [name for name in self.coils.names if name not in used]
        return self.outlets + tuple(Outlet(name, CoilRef(name), Open()) for name in rest)


def one_coil_circuit(
    resistance_ohm: float, load: Load, inductance_H: float = 0.0, name: str = "coil"
) -> Circuit:
    """Return one coil with a load across it.

    Examples
    --------
    >>> one_coil_circuit(50.0, Open()).outlets[0].name
    'coil'
    """
    coils = CoilSet.from_arrays([name], [resistance_ohm], [[inductance_H]])
    return Circuit(coils, (Outlet(name, CoilRef(name), load),))
