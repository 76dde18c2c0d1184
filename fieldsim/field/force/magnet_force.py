"""Force and torque between two uniformly magnetised bodies, over any number of relative poses.

One body's surface charge is cut into point charges by Gauss quadrature and put into the other's
closed-form field. With a gap between the bodies the integrand is smooth, so the error falls
exponentially with the order; orders are raised, pose by pose and face by face, until two agree,
and the last difference is the reported error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.charge_field import Body, outside_field_T
from fieldsim.field.force.charge_points import ChargedPiece, charged_pieces
from fieldsim.machine.magnets import Cuboid, Sphere

__all__ = ["MU0", "PairForce", "pair_force"]

Array = NDArray[np.float64]

MU0 = 4e-7 * math.pi
"""Vacuum permeability [T m/A]; the measured value differs by 1e-10 of it."""

_ORDERS = (6, 9, 13, 19, 28, 42, 63, 94, 141)
_ROUNDING = 1e-15  # of a closed-form field, as a part of the remanence
_POINTS_AT_ONCE = 20_000  # field points in one call, so that the temporaries stay in the cache


@dataclass(frozen=True, eq=False)
class PairForce:
    """Force and torque on the second of two bodies, in the first one's axes.

    Parameters
    ----------
    force_N
        On the second body, shape (poses, 3); the first feels the opposite.
    torque_Nm
        On the second body about its own centre, shape (poses, 3).
    error_N, error_Nm
        Estimated errors, shape (poses,).
    """

    force_N: Array = field(repr=False)
    torque_Nm: Array = field(repr=False)
    error_N: Array = field(repr=False)
    error_Nm: Array = field(repr=False)

    def torque_on_first_Nm(self, offset_m: Array) -> Array:
        """Return the torque on the first body about its own centre, shape (poses, 3).

        Parameters
        ----------
        offset_m
            The second body's centre from the first's [m], shape (poses, 3).
        """
        return -(self.torque_Nm + np.cross(offset_m, self.force_N))


def pair_force(
    first: Body,
    second: Body,
    offset_m: Array,
    rotation: Array,
    tolerance: float = 1e-8,
) -> PairForce:
    """Return the force and torque that the first body exerts on the second.

    Parameters
    ----------
    first
        At the origin, along the axes.
    second
        In its own axes.
    offset_m
        The second body's centre [m], shape (poses, 3).
    rotation
        From the second body's axes to the first's, shape (poses, 3, 3); one matrix serves all.
    tolerance
        Wanted difference between two orders, relative to the largest force over all poses.

    Returns
    -------
    PairForce
        Where the bodies touch or nearly do, the error may exceed the tolerance: see it there.

    Notes
    -----
    ``F = sum q H(p)``, ``T = sum (p - c) x q H(p)`` with ``q = J . n dA`` [Wb] and the field
    strength H [A/m] of the first body.

    Examples
    --------
    Two 10 mm cubes of 1 T in line, poles alike, 10 mm apart, attract with 2.251 N:

    >>> cube = Body(Cuboid((0.01, 0.01, 0.01)), (0, 0, 1.0))
    >>> result = pair_force(cube, cube, np.array([[0, 0, 0.02]]), np.eye(3))
    >>> round(float(result.force_N[0, 2]), 6)
    -2.251013
    """
    offset_m = np.asarray(offset_m, dtype=float).reshape(-1, 3)
    rotation = np.broadcast_to(np.asarray(rotation, dtype=float), (len(offset_m), 3, 3))
    if _rank(second) < _rank(first):
        return _exchanged(first, second, offset_m, rotation, tolerance)
    pieces = charged_pieces(second)
    if not pieces or not any(first.polarization_T):
        zero = np.zeros(len(offset_m))
        return PairForce(np.zeros_like(offset_m), np.zeros_like(offset_m), zero, zero)
    return _raised_until_steady(first, second, pieces, offset_m, rotation, tolerance)


def _rank(body: Body) -> int:
    """Order bodies by the cost of their field: the cheapest one is taken as the source."""
    return 0 if isinstance(body.shape, Cuboid) else 1 if isinstance(body.shape, Sphere) else 2


def _exchanged(
    first: Body, second: Body, offset_m: Array, rotation: Array, tolerance: float
) -> PairForce:
    """Compute with the roles exchanged, and turn the answer back by action and reaction."""
    back = np.swapaxes(rotation, 1, 2)
    offset_back = -np.einsum("pij,pj->pi", back, offset_m)
    on_first = pair_force(second, first, offset_back, back, tolerance)
    torque = on_first.torque_on_first_Nm(offset_back)
    arm = np.linalg.norm(offset_m, axis=1)
    return PairForce(
        -np.einsum("pij,pj->pi", rotation, on_first.force_N),
        np.einsum("pij,pj->pi", rotation, torque),
        on_first.error_N,
        on_first.error_Nm + arm * on_first.error_N,
    )


def _raised_until_steady(
    first: Body,
    second: Body,
    pieces: list[ChargedPiece],
    offset_m: Array,
    rotation: Array,
    tolerance: float,
) -> PairForce:
    poses = len(offset_m)
    lever = math.hypot(*second.shape.size)

    def integral(piece: int, order: int, chosen: NDArray[np.intp]) -> Array:
        points, charges = pieces[piece].nodes(order)
        return _on_charges(first, points, charges, offset_m[chosen], rotation[chosen])

    rounding = _rounding_N(first, pieces)
    everything = np.arange(poses)
    best = np.stack([integral(k, _ORDERS[0], everything) for k in range(len(pieces))])
    change = np.full((len(pieces), poses, 2), np.inf)  # of force [N] and of torque over lever [N]
    waiting = [everything] * len(pieces)
    for order in _ORDERS[1:]:
        for k in range(len(pieces)):
            if waiting[k].size:
                better = integral(k, order, waiting[k])
                moved = better - best[k][waiting[k]]
                change[k][waiting[k], 0] = np.linalg.norm(moved[:, :3], axis=1)
                change[k][waiting[k], 1] = np.linalg.norm(moved[:, 3:], axis=1) / lever
                best[k][waiting[k]] = better
        allowed = max(tolerance * _scale_N(best, lever), rounding)
        waiting = [np.flatnonzero((change[k] > allowed).any(axis=1)) for k in range(len(pieces))]
        if not any(w.size for w in waiting):
            break
    total = best.sum(axis=0)
    errors = change.sum(axis=0)
    return PairForce(total[:, :3], total[:, 3:], errors[:, 0], errors[:, 1] * lever)


def _scale_N(by_piece: Array, lever: float) -> float:
    """Return what an error is compared with: the largest force, or torque over lever, of a pose."""
    total = by_piece.sum(axis=0)
    force = np.linalg.norm(total[:, :3], axis=1).max(initial=0.0)
    torque = np.linalg.norm(total[:, 3:], axis=1).max(initial=0.0) / lever
    return float(max(force, torque))


def _rounding_N(source: Body, pieces: list[ChargedPiece]) -> float:
    """Return the force that rounding alone makes: far apart, no order makes the sum steadier."""
    charge = max(float(np.abs(piece.nodes(_ORDERS[0])[1]).sum()) for piece in pieces)
    return _ROUNDING * math.hypot(*source.polarization_T) * charge / MU0


def _on_charges(
    source: Body, points: Array, charges: Array, offset_m: Array, rotation: Array
) -> Array:
    """Return force [N] and torque about the offset [N m] on point charges, shape (poses, 6)."""
    result = np.empty((len(offset_m), 6))
    step = max(1, _POINTS_AT_ONCE // len(charges))
    for start in range(0, len(offset_m), step):
        chunk = slice(start, start + step)
        arms = np.einsum("pij,qj->pqi", rotation[chunk], points)
        where = arms + offset_m[chunk, None, :]
        field = outside_field_T(source, where.reshape(-1, 3)).reshape(where.shape)
        forces = field * (charges / MU0)[:, None]
        result[chunk, :3] = forces.sum(axis=1)
        result[chunk, 3:] = np.cross(arms, forces).sum(axis=1)
    return result
