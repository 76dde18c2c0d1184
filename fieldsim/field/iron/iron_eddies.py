"""What eddy currents in solid iron change, frequency by frequency.

Magnets that turn past iron change its field with every order of their series at that many times
their rotor's speed; a coil's current at the frequency of the current. At each frequency the iron is
solved for again, with what its eddy currents leave of it (`fieldsim.field.iron.screened_bodies`);
reciprocity holds for each. A round piece that turns about its axis is not aware of that, and what
its rotor's own magnets do to it does not change.

The roughest nodes tell what changes to a part in some thousands where magnets are millimetres off,
to some per cent where they nearly touch the iron: no worse than the permeability of long bars.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.coil_iron import CoilIron, IronLevel
from fieldsim.field.iron.iron_energy import outward_series, resolved_potential, within_harmonics
from fieldsim.field.iron.screened_bodies import has_eddies, of_complex
from fieldsim.field.linkage.quadrature import chebyshev, lagrange
from fieldsim.machine.placed import PlacedIron, PlacedRotor

__all__ = ["IronEddies", "few_frequencies", "orders_that_count"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_LEVEL = 0  # of nodes: the roughest do
_FAST_RAD_PER_S = 1e20  # no flux is left inside
_DIGITS = 9.2  # natural: a part in ten thousand, by interpolation between frequencies
_FEW = 6  # frequencies, which are not worth interpolation


@dataclass(frozen=True, eq=False)
class IronEddies:
    """The iron of a machine in changing fields.

    False where no piece has eddy currents.

    Parameters
    ----------
    iron
        Of the machine, in fields that stand still.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> from fieldsim.waveform.flux_table import coil_iron
    >>> bool(IronEddies(coil_iron(read("geometries/one_rotor.yaml"))))
    False
    """

    iron: CoilIron
    _potentials: dict[str, Complex] = field(default_factory=dict, repr=False)
    _outwards: dict[str, Complex] = field(default_factory=dict, repr=False)

    def __bool__(self) -> bool:
        """Return whether any piece has eddy currents."""
        return any(has_eddies(piece) for piece in self.iron.pieces)

    @property
    def level(self) -> IronLevel:
        """The nodes that are solved for."""
        return self.iron.levels[_LEVEL]

    def linkage_changes_Wb(
        self,
        rotors: Sequence[PlacedRotor],
        speeds_rad_per_s: Sequence[float],
        slopes_Wb: Array,
        relative: float,
    ) -> tuple[Complex, Complex]:
        """Return by how much the linkage of each coil with each rotor differs from that at rest.

        Parameters
        ----------
        rotors, speeds_rad_per_s
            Of the machine, and how each turns, signed.
        slopes_Wb
            Sum of the sizes of all orders of each slope at rest, (coils, rotors) [Wb/rad].
        relative
            Orders are left out whose slopes together are less than this beside those.

        Returns
        -------
        acting, braking
            c_k for orders from zero, (coils, rotors, orders): the linkage changes by
            2 Re sum c_k exp(i k angle). First as the magnets act on the coil, late; then as a
            current acts on the magnets, late as well, which is what turning back would give.
        """
        at_rest, fields = self.level.charges, self.level.fields
        fast = self.level.system.screened(_FAST_RAD_PER_S).charges(fields) - at_rest
        kept = []
        for j, rotor in enumerate(rotors):
            potential = self.potential(rotor)
            most = 2 * np.arange(len(potential))[:, None] * np.abs(potential @ fast)
            most /= np.maximum(slopes_Wb[:, j], 1e-300)
            kept.append(orders_that_count(most.max(axis=1), relative))
        orders = max(len(self.potential(rotor)) for rotor in rotors)
        found = np.zeros((2, fields.shape[2], len(rotors), orders), dtype=np.complex128)
        omega = [np.abs(k * speed) for k, speed in zip(kept, speeds_rad_per_s, strict=True)]
        nodes, shares = few_frequencies(np.concatenate(omega))
        of_rotor = np.split(shares, np.cumsum([len(each) for each in omega])[:-1])
        for i, node in enumerate(nodes.tolist()):
            late = self.level.system.screened(node).charges(fields) - at_rest
            for j, (rotor, k) in enumerate(zip(rotors, kept, strict=True)):
                backward = int(speeds_rad_per_s[j] < 0)
                for way, change in enumerate((late, np.conj(late))):
                    part = of_rotor[j][:, i, None] * (self.potential(rotor)[k] @ change)
                    found[way ^ backward, :, j, k] -= part
        return found[0], found[1]

    def inductance_change_H(self, omega_rad_per_s: float) -> Complex:
        """Return by how much inductances differ from those without eddy currents, (coils, coils).

        The real part [H]; the imaginary one times minus the frequency is a resistance.
        """
        system = self.level.system.screened(abs(omega_rad_per_s))
        change = system.charges(self.level.fields) - self.level.charges
        return np.asarray(self.level.inductance_of_H(change))

    def share_along(self, rotor: PlacedRotor, piece: PlacedIron) -> float:
        """Return how much of the charge that a rotor draws to a piece eddy currents keep out.

        That of its strongest order, in the fastest fields: about one where the piece is magnetised
        along itself, zero where only across.
        """
        system = self.level.system
        outward = self.outward(rotor)
        strength = np.arange(len(outward)) * np.abs(outward).max(axis=1, initial=0.0)
        normal = outward[int(strength.argmax())]
        applied = (normal[:, None] * system.normals)[:, :, None]
        still = of_complex(system.charges, applied)[:, 0]
        fast = system.screened(_FAST_RAD_PER_S).charges(applied)[:, 0]
        own = system.points_of(piece)
        size = float(np.linalg.norm(still[own]))
        return float(np.linalg.norm((fast - still)[own])) / size if size else 0.0

    def potential(self, rotor: PlacedRotor) -> Complex:
        """Return mu0 times the potential of a rotor's magnets at the iron's points [T m].

        Orders from zero of its Fourier series in the rotor's angle, (orders, points).
        """
        if rotor.name not in self._potentials:
            found, _, _ = resolved_potential(rotor, self.level.system)
            self._potentials[rotor.name] = within_harmonics(rotor, self.level.system, found)
        return self._potentials[rotor.name]

    def outward(self, rotor: PlacedRotor) -> Complex:
        """Return the outward field of a rotor's magnets at the iron's points [T], likewise."""
        if rotor.name not in self._outwards:
            steps = 2 * len(self.potential(rotor))
            found = outward_series(rotor, self.level.system, steps)
            self._outwards[rotor.name] = within_harmonics(rotor, self.level.system, found)
        return self._outwards[rotor.name]


def few_frequencies(omega_rad_per_s: Array) -> tuple[Array, Array]:
    """Return frequencies to solve at, and what each tells of those that are asked for.

    Parameters
    ----------
    omega_rad_per_s
        Above zero, in any order, (n,).

    Returns
    -------
    nodes, shares
        Few frequencies (m,), and (n, m): what is asked for is the shares' sum of what is found.

    Notes
    -----
    Chebyshev's nodes of the logarithm, in which effective permeabilities have their poles a quarter
    turn off the real axis; as many as hold a part in ten thousand by that distance (L. N.
    Trefethen, Approximation Theory and Approximation Practice, theorem 8.2). Where there are no
    more frequencies than that, they themselves.

    Examples
    --------
    >>> asked = np.arange(1.0, 51.0)
    >>> nodes, shares = few_frequencies(asked)
    >>> len(nodes), bool(abs(shares @ (1 / (7 + 1j * nodes)) - 1 / (7 + 1j * asked)).max() < 1e-4)
    (13, True)
    """
    different, where = np.unique(omega_rad_per_s, return_inverse=True)
    if len(different) < _FEW:
        return different, np.eye(len(different))[where]
    place = np.log(different)
    middle, half = (place[0] + place[-1]) / 2, (place[-1] - place[0]) / 2
    pole = math.pi / 2 / half
    count = math.ceil(_DIGITS / math.log(pole + math.hypot(pole, 1.0)))
    if count >= len(different):
        return different, np.eye(len(different))[where]
    nodes, weights = chebyshev(count)
    shares = lagrange(nodes, (place - middle) / half, weights)
    return np.exp(middle + half * nodes), shares[where]


def orders_that_count(size: Array, left_out: float) -> NDArray[np.intp]:
    """Return the places of the largest of some sizes, rising; the others add up to so little.

    Examples
    --------
    >>> orders_that_count(np.array([0.0, 3.0, 0.1, 1.0, 0.2]), 0.4).tolist()
    [1, 3]
    """
    rising = np.argsort(size, kind="stable")
    few = np.cumsum(size[rising]) <= left_out
    return np.sort(rising[~few])
