"""Linkage of a rectangular winding with a turning cuboid magnet, by its vector potential.

One function, vectorised over angles: every pair of panel and angle gets the quadrature orders that
its distance asks for, pairs that share orders are laid out together, and all points go through the
closed-form potential in one stream of blocks.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.cuboid import newtonian_gradient_xy
from fieldsim.field.quadrature import LADDER
from fieldsim.field.track import CoilInRotor, Track
from fieldsim.field.winding_quadrature import Panels, orders_for, panel_points, panels_for

__all__ = ["block_linkage_m2", "block_panels", "edge_distance_m"]

Array = NDArray[np.float64]

_STREAM = 300_000  # points laid out at once, to bound memory
_LONGEST_PANEL = 3.0  # half lengths, in units of the distance to the magnet's nearest edge


def _edge_points(size: tuple[float, float, float]) -> Array:
    """Return corners and middles of the edges of a block, (20, 3)."""
    grid = np.stack(np.meshgrid(*[[-0.5, 0.0, 0.5]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    return np.asarray(grid[np.count_nonzero(grid, axis=1) >= 2] * size)


def _turned(points: Array, angles: Array) -> Array:
    """Return points (n, 3) turned about z by each angle, (angles, n, 3)."""
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x, y, z = points.T
    return np.stack([c * x - s * y, s * x + c * y, np.broadcast_to(z, (len(angles), len(x)))], -1)


def _edges_in_rotor(track: Track, angles: Array) -> Array:
    offset = np.array([track.radius, 0.0, track.height])
    return _turned(_edge_points(track.shape.size) + offset, angles)


def _panel_distances(panels: Panels, edges: Array) -> Array:
    """Return distances (points, panels) of edge points (points, 3) from the panels' middle lines."""
    local = np.einsum("pca,qpc->qpa", panels.frame, edges[:, None, :] - panels.centre)
    beyond = np.maximum(np.abs(local[..., 0]) - panels.half_length, 0.0)
    return np.asarray(np.sqrt(beyond**2 + local[..., 1] ** 2 + local[..., 2] ** 2))


def edge_distance_m(track: Track, panels: Panels, angles: Array) -> Array:
    """Return how near the magnet's edges come to the winding's middle line, shape (angles,)."""
    edges = _edges_in_rotor(track, angles)
    nearest = _panel_distances(panels, edges.reshape(-1, 3)).min(axis=1)
    return np.asarray(nearest.reshape(len(angles), -1).min(axis=1))


def block_panels(track: Track, coil: CoilInRotor, angles: Array) -> Panels:
    """Return panels short enough for the closest approach of the magnet to each."""
    cuts = [np.array([-1.0, 1.0])] * 4
    edges = _edges_in_rotor(track, angles).reshape(-1, 3)
    for _ in range(6):
        panels = panels_for(coil, cuts)
        nearest = _panel_distances(panels, edges).min(axis=0)
        split = panels.half_length > _LONGEST_PANEL * nearest
        if not split.any():
            break
        middles = (panels.low + panels.high) / 2
        cuts = [
            np.sort(np.append(cuts[side], middles[split & (panels.side == side)]))
            for side in range(4)
        ]
    return panels_for(coil, cuts)


def _tangents(panels: Panels, angles: Array) -> Array:
    """Return the turn direction of each panel in arm axes at each angle, (3, panels, angles)."""
    c, s = np.cos(angles), np.sin(angles)
    x, y, z = panels.frame[:, :, 0].T[..., None]
    return np.stack([c * x + s * y, c * y - s * x, np.broadcast_to(z, (len(x), len(angles)))])


def _groups(
    orders: NDArray[np.intp], wanted: NDArray[np.bool_]
) -> list[tuple[NDArray[np.intp], NDArray[np.intp], tuple[int, int, int]]]:
    """Return (panel indices, angle indices, orders) for each set of orders that occurs."""
    base = len(LADDER)
    code = np.where(wanted, (orders[0] * base + orders[1]) * base + orders[2], -1).ravel()
    order = np.argsort(code, kind="stable")
    values, starts = np.unique(code[order], return_index=True)
    result = []
    for value, members in zip(values, np.split(order, starts[1:]), strict=True):
        if value >= 0:
            panel, angle = np.divmod(members, orders.shape[2])
            t, u, w = int(value) // base**2, int(value) // base % base, int(value) % base
            result.append((panel, angle, (int(LADDER[t]), int(LADDER[u]), int(LADDER[w]))))
    return result


def block_linkage_m2(
    track: Track, coil: CoilInRotor, panels: Panels, angles: Array, digits: float
) -> tuple[Array, int]:
    """Return the linkage per turn and tesla with a block magnet at each arm angle.

    Parameters
    ----------
    track
        Of a cuboid magnet.
    coil, panels
        The winding in the rotor's coordinates, and its pieces from `block_panels`.
    angles
        Arm angles [rad], shape (angles,).
    digits
        Natural logarithm of one over the relative quadrature error aimed at.

    Returns
    -------
    linkage_m2
        Flux linkage over turns and remanence [Wb/T = m2], shape (angles,).
    points
        How many times the potential was evaluated.
    """
    if len(angles) == 0:
        return np.zeros(0), 0
    middle = _turned(np.array([[track.radius, 0.0, track.height]]), angles)[:, 0]
    distance = np.sqrt(((middle - panels.centre[:, None, :]) ** 2).sum(axis=2))
    # The potential falls with the square of distance, and so does the error worth caring for.
    log_error = np.maximum(digits + 2.0 * np.log(distance.min() / distance), 1.0)
    crowding = min(max(0.03 * (digits - 9.0), 0.0), 1.0)
    orders = orders_for(coil, panels, _edges_in_rotor(track, angles), log_error, crowding)

    tangent = _tangents(panels, angles)
    k = track.north.value
    i, j = (k + 1) % 3, (k + 2) % 3
    linking = tangent[i] ** 2 + tangent[j] ** 2 > 1e-28  # sides along the magnetisation link none
    c, s = np.cos(angles), np.sin(angles)
    half = [edge / 2 for edge in track.shape.size]
    half_ijk = (half[i], half[j], half[k])

    result = np.zeros(len(angles))
    total = 0
    batch: list[tuple[NDArray[np.intp], NDArray[np.intp], Array]] = []
    local: list[list[Array]] = [[], [], []]
    waiting = 0

    def flush() -> None:
        x, y, z = (np.concatenate(part) for part in (local[i], local[j], local[k]))
        gi, gj = newtonian_gradient_xy(x, y, z, half_ijk)
        start = 0
        for panel, angle, weight in batch:
            part = slice(start, start + weight.size)
            sum_i = np.einsum("jp,jp->j", gi[part].reshape(weight.shape), weight)
            sum_j = np.einsum("jp,jp->j", gj[part].reshape(weight.shape), weight)
            pair = sum_j * tangent[i, panel, angle] - sum_i * tangent[j, panel, angle]
            result[:] += np.bincount(angle, pair, len(angles))
            start = part.stop

    for panel, angle, order in _groups(orders, linking):
        points, weights = panel_points(coil, panels, order)
        step = max(1, _STREAM // weights.shape[1])
        for first in range(0, len(panel), step):
            p, a = panel[first : first + step], angle[first : first + step]
            x, y, z = points[:, p]
            ca, sa = c[a][:, None], s[a][:, None]
            local[0].append((ca * x + sa * y - track.radius).ravel())
            local[1].append((ca * y - sa * x).ravel())
            local[2].append((z - track.height).ravel())
            batch.append((p, a, weights[p]))
            waiting += x.size
            total += x.size
            if waiting >= _STREAM:
                flush()
                batch, local, waiting = [], [[], [], []], 0
    if batch:
        flush()
    return result / (4 * math.pi), total
