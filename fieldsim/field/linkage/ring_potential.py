"""The magnet's vector potential on rings about the shaft, and its Fourier series there.

All arrays have a row for each magnet and winding that are worked out together.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, lagrange_of_gauss
from fieldsim.field.linkage.ring_nodes import FAR_RAD, Grid, Nodes
from fieldsim.field.linkage.ring_patches import Patch
from fieldsim.field.linkage.rings import Rings
from fieldsim.field.potential.shape_gradient import cuboid_gradient, shape_gradient
from fieldsim.machine.magnets import ArmAxis

__all__ = ["folded", "potentials", "spectrum"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_AT_ONCE = 200_000  # points: their working arrays need tens of megabytes


def potentials(rings: Rings, asked: list[tuple[Grid, Array]]) -> list[list[Array]]:
    """Return the two components of the potential's gradient that matter, on near nodes.

    Parameters
    ----------
    rings
        The magnets, and the patches on which the grids' nodes lie.
    asked
        Grids, each with angles from the magnet's arm, rising from 0 to half a turn [rad],
        (angles,).

    Returns
    -------
    For each grid, one array (rows, 2, n_rho, n_z, angles) a patch; of an in-plane patch the mean
    over its heights, (rows, 2, n_rho, 1, angles).
    """
    jobs = []
    for grid, angles in asked:
        split = int(np.searchsorted(angles, FAR_RAD))
        for near, far in zip(grid.near, grid.far, strict=True):
            jobs += [(near, angles[:split]), (far, angles[split:])]
    found = iter(_gradients(rings, jobs))
    return [
        [
            _joined(patch, near, next(found), far, next(found))
            for patch, near, far in zip(rings.first_patches, grid.near, grid.far, strict=True)
        ]
        for grid, _ in asked
    ]


def _joined(patch: Patch, near: Nodes, near_values: Array, far: Nodes, far_values: Array) -> Array:
    """Return values at all angles on the near nodes, of those on the near and on the far ones."""
    (n_rho, n_z), (far_rho, far_z) = near.counts, far.counts
    if patch.in_plane:
        # Turns square to the shaft count all heights alike, so their mean is all it takes.
        near_values, far_values = (
            (gauss_legendre(g.shape[-2])[1] / 2 @ g)[..., None, :]
            for g in (near_values, far_values)
        )
    else:
        far_values = lagrange_of_gauss(far_z, n_z) @ far_values
    flat = far_values.reshape(*far_values.shape[:2], far_rho, -1)
    fine = lagrange_of_gauss(far_rho, n_rho) @ flat
    return np.concatenate([near_values, fine.reshape(*near_values.shape[:-1], -1)], axis=-1)


def _gradients(rings: Rings, jobs: list[tuple[Nodes, Array]]) -> list[Array]:
    """Return the components (rows, 2, n_rho, n_z, angles) of every job, computed in one stream."""
    rows = len(rings)
    radius, height = (
        np.array([getattr(track, k) for track in rings.tracks]) for k in ("radius", "height")
    )
    shapes = [(rows, *n.counts, len(angles)) for n, angles in jobs]
    stops = np.cumsum([math.prod(shape) for shape in shapes]).tolist()
    arm = np.empty((3, stops[-1]))
    magnets, north = {track.shape for track in rings.tracks}, rings.tracks[0].north.value
    half = np.empty(arm.shape if len(magnets) > 1 else 0)
    for (n, angles), shape, stop in zip(jobs, shapes, stops, strict=True):
        own = slice(stop - math.prod(shape), stop)
        part = arm[:, own].reshape(3, *shape)
        out = np.multiply.outer(n.rho_m, np.cos(angles)) - radius[:, None, None]
        part[0] = out[:, :, None, :]
        part[1] = np.multiply.outer(n.rho_m, np.sin(angles))[:, :, None, :]
        part[2] = (n.z_m - height[:, None])[:, None, :, None]
        if half.size:  # other cuboids in other rows
            sizes = np.array([track.shape.size for track in rings.tracks])
            half[:, own].reshape(3, rows, -1)[:] = sizes.T[:, :, None] / 2
    g = np.empty((2, arm.shape[1]))
    for start in range(0, arm.shape[1], _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        if half.size:
            g[:, some] = cuboid_gradient(half[:, some], arm[:, some], north)
        else:
            g[:, some] = shape_gradient(rings.tracks[0].shape, arm[:, some], north)
    return [
        g[:, stop - math.prod(shape) : stop].reshape(2, *shape).swapaxes(0, 1)
        for shape, stop in zip(shapes, stops, strict=True)
    ]


def spectrum(north: ArmAxis, patch: Patch, g: Array) -> Complex:
    """Return Fourier coefficients of the components of A that act on a patch.

    On sides along the shaft that is the one along it, on others the radial and angular ones.

    Parameters
    ----------
    north
        Arm axis that the magnetisation lies along.
    patch
        What kind of patch it is.
    g
        From `potentials`, at the K + 1 equal steps of angle from 0 to half a turn,
        (rows, 2, n_rho, n_z, K + 1).

    Returns
    -------
    Coefficients of orders m = 0..K, (rows, components, n_rho, n_z, K + 1).
    """
    half_turn, k = g.shape[-1], north.value
    a: list[Array | float] = [0.0, 0.0, 0.0]
    a[(k + 1) % 3], a[(k + 2) % 3] = g[:, 1], -g[:, 0]
    # The magnet is even about its arm; magnetisation along or across it fixes each parity.
    sign = 1.0 if k == 1 else -1.0
    if patch.along_shaft:
        acting = [(a[2], sign)]
    else:
        c, s = _directions(half_turn)
        acting = [(c * a[0] + s * a[1], sign), (c * a[1] - s * a[0], -sign)]
    full = np.empty((len(g), len(acting), *g.shape[2:-1], 2 * half_turn - 2))
    for i, (component, parity) in enumerate(acting):
        turn = full[:, i]
        turn[..., :half_turn] = component
        turn[..., half_turn:] = parity * turn[..., half_turn - 2 : 0 : -1]
    return np.asarray(np.fft.rfft(full, axis=-1) / full.shape[-1])


@lru_cache(maxsize=64)
def _directions(angles: int) -> tuple[Array, Array]:
    """Return cosine and sine of equal steps over half a turn."""
    turn = np.linspace(0, math.pi, angles)
    cosine, sine = np.cos(turn), np.sin(turn)
    cosine.flags.writeable = sine.flags.writeable = False
    return cosine, sine


def folded(spectrum: Complex) -> Complex:
    """Return the Fourier coefficients that every second angle alone would give, m = 0..K / 2.

    Parameters
    ----------
    spectrum
        m = 0..K for an even K, along the last axis.
    """
    half = (spectrum.shape[-1] - 1) // 2
    # Half as many angles cannot tell order m from m - K, which is the conjugate of K - m.
    return np.asarray(spectrum[..., : half + 1] + np.conj(spectrum[..., : half - 1 : -1]))
