"""Charge on iron as rings about a shaft, which is all that a magnet turning about it can tell.

A magnet's potential at (rho, z), distance from the shaft and height along it, repeats every turn;
its Fourier series there meets the series of the charge. Away from the magnet it is smooth in rho
and z, so the charge of many points, each with its angle about the shaft, is put on few (rho, z) by
polynomials: what interpolation does to a potential, turned round.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.point_charges import order_seen
from fieldsim.field.iron.round_body import RoundBody
from fieldsim.field.linkage.quadrature import chebyshev, lagrange
from fieldsim.machine.placed import PlacedRotor

__all__ = ["ChargedPoints", "OwnRings", "PatchRings", "own_rings", "patch_rings"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Distance = Callable[[Array, Array], Array]
"""From (rho, z) [m] to how far that is from what the magnets sweep [m]."""

_MOST_ORDER = 9  # along an edge of a patch; beyond, it is divided
_LOOKS = 9  # along each edge, by which distances to it are judged
_SMALLEST_M = 1e-5  # edge of a patch


@dataclass(frozen=True, eq=False)
class ChargedPoints:
    """Charges at points, in a rotor's coordinates at angle zero.

    Parameters
    ----------
    radius, angle, height
        About the shaft [m, rad, m], (points,).
    charge
        From fine nodes, and from the rough ones that tell their error [A m], (points, 2): each
        point is one of the two.
    """

    radius: Array = field(repr=False)
    angle: Array = field(repr=False)
    height: Array = field(repr=False)
    charge: Array = field(repr=False)

    @classmethod
    def both(cls, fine: tuple[Array, Array], rough: tuple[Array, Array]) -> ChargedPoints:
        """Return charges (n,) [A m] at points (n, 3) [m], from fine and from rough nodes."""
        x, y, z = np.concatenate([fine[0], rough[0]]).T
        charge = np.zeros((len(x), 2))
        charge[: len(fine[1]), 0], charge[len(fine[1]) :, 1] = fine[1], rough[1]
        return cls(np.hypot(x, y), np.arctan2(y, x), z, charge)

    @classmethod
    def at(cls, points: Array, charge: Array) -> ChargedPoints:
        """Return charges (n,) [A m] at points (n, 3) [m], from fine nodes alone."""
        return cls.both((points, charge), (np.empty((0, 3)), np.empty(0)))

    def where(self, chosen: NDArray[np.bool_]) -> ChargedPoints:
        """Return some of them."""
        parts = (self.radius, self.angle, self.height, self.charge)
        return ChargedPoints(*(part[chosen] for part in parts))


@dataclass(frozen=True, eq=False)
class PatchRings:
    """Rings that stand for charges at points within a rectangle of (rho, z).

    Parameters
    ----------
    radius, height
        Of the rings [m], (rings,).
    points
        The charges.
    basis
        What each point gives to each ring, (points, rings).
    """

    radius: Array = field(repr=False)
    height: Array = field(repr=False)
    points: ChargedPoints = field(repr=False)
    basis: Array = field(repr=False)
    _known: dict[int, Complex] = field(default_factory=dict, repr=False)

    def spectrum(self, orders: int, which: int) -> Complex:
        """Return the sum of charge times exp(-i k angle) on each ring, (rings, orders).

        Parameters
        ----------
        orders
            How many, from 0.
        which
            Of the fine nodes (0) or the rough ones (1).
        """
        known = self._known.get(which)
        if known is None or known.shape[1] < orders:
            known = self._known[which] = self._spectrum(orders, which)
        return known[:, :orders]

    def _spectrum(self, orders: int, which: int) -> Complex:
        own = self.points.charge[:, which] != 0.0
        waves = np.empty((orders, int(own.sum())), dtype=np.complex128)
        waves[0] = self.points.charge[own, which]
        waves[1:] = np.exp(-1j * self.points.angle[own])
        powers, basis = np.cumprod(waves, axis=0), self.basis[own]
        return np.asarray((powers.real @ basis + 1j * (powers.imag @ basis)).T)


@dataclass(frozen=True, eq=False)
class OwnRings:
    """Rings of iron that is round about the shaft itself.

    Parameters
    ----------
    radius, height
        Of the rings [m], (rings,).
    spectrum
        Sum of charge times exp(-i k angle) on each [A m], (rings, K).
    """

    radius: Array = field(repr=False)
    height: Array = field(repr=False)
    spectrum: Complex = field(repr=False)


def patch_rings(points: ChargedPoints, distance: Distance, digits: float) -> Iterator[PatchRings]:
    """Yield rings that stand for charges at points.

    Parameters
    ----------
    points
        One or more.
    distance
        Of (rho, z) from what the magnets sweep.
    digits
        Natural logarithm of one over the error aimed at.
    """
    spread = (points.radius, points.height)
    middle = [(float(v.min()) + float(v.max())) / 2 for v in spread]
    half = [max(float(np.ptp(v)) / 2, _SMALLEST_M / 2) for v in spread]
    place = np.linspace(-1.0, 1.0, _LOOKS)
    rho = np.maximum(middle[0] + half[0] * place, 0.0)
    grid = np.meshgrid(rho, middle[1] + half[1] * place, indexing="ij")
    far = distance(grid[0].ravel(), grid[1].ravel()).reshape(_LOOKS, _LOOKS)
    orders = [order_seen(place, far.min(axis=1 - d) / half[d], digits) for d in (0, 1)]
    if len(points.charge) <= orders[0] * orders[1] or max(half) < _SMALLEST_M:
        yield PatchRings(points.radius, points.height, points, np.eye(len(points.charge)))
        return
    longest = int(orders[1] > orders[0])
    if orders[longest] > _MOST_ORDER:
        low = spread[longest] <= middle[longest]
        for part in (low, ~low):
            yield from patch_rings(points.where(part), distance, digits)
        return
    # Charge sits at the rims of a patch, where Chebyshev's nodes are the better ones.
    rules = [chebyshev(order) for order in orders]
    nodes = [m + h * x for m, h, (x, _) in zip(middle, half, rules, strict=True)]
    across, along = (lagrange(n, v, w) for n, v, (_, w) in zip(nodes, spread, rules, strict=True))
    basis = (across[:, :, None] * along[:, None]).reshape(len(across), -1)
    radius, height = np.meshgrid(*nodes, indexing="ij")
    yield PatchRings(radius.ravel(), height.ravel(), points, basis)


def own_rings(body: RoundBody, charge: Array, rotor: PlacedRotor, swept: Distance) -> OwnRings:
    """Return the charge of a body that is round about a rotor's shaft.

    Parameters
    ----------
    body
        Round about the shaft.
    charge
        At its points [A m], (points,).
    rotor
        Whose magnets turn about that shaft.
    swept
        Distance of (rho, z) from what they sweep.
    """
    frame = rotor.frame.T @ body.frame
    origin = rotor.frame.T @ (body.origin - np.array(rotor.shaft.through))
    sense = frame[2, 2]  # one way along the shaft or the other
    # Under an edge of a magnet that touches it the potential has a kink.
    radii, heights = set(), set()
    for mounted in rotor.magnets:
        half = [edge / 2 for edge in mounted.magnet.size]
        near, far = abs(mounted.radius - half[0]), mounted.radius + half[0]
        radii |= {near, far, math.hypot(near, half[1]), math.hypot(far, half[1])}
        heights |= {sense * (mounted.height + s * half[2] - origin[2]) for s in (1, -1)}

    def distance(r: Array, z: Array) -> Array:
        return swept(r, origin[2] + sense * z)

    r, z, rings = body.rings(charge, radii, heights, distance)
    spectrum = np.fft.rfft(rings, axis=1)[:, : body.harmonics + 1]
    if sense < 0:  # its angles run the other way
        spectrum = np.conj(spectrum)
    start = math.atan2(frame[1, 0], frame[0, 0])
    spectrum = spectrum * np.exp(-1j * start * np.arange(spectrum.shape[1]))
    return OwnRings(r, origin[2] + z * sense, spectrum)
