"""The magnet's vector potential on rings about the shaft, and its Fourier series there."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.quadrature import gauss_legendre, lagrange
from fieldsim.field.linkage.ring_nodes import FAR_RAD, Grid, Nodes
from fieldsim.field.linkage.ring_patches import Patch
from fieldsim.field.linkage.track import Track
from fieldsim.field.potential.shape_gradient import shape_gradient

__all__ = ["folded", "potentials", "spectra"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_AT_ONCE = 200_000  # points: their working arrays need tens of megabytes


def potentials(
    track: Track, patches: tuple[Patch, ...], asked: list[tuple[Grid, Array]]
) -> list[list[Array]]:
    """Return the two components of the potential's gradient that matter, on near nodes.

    Parameters
    ----------
    track
        Of the magnet.
    patches
        On which the grids' nodes lie.
    asked
        Grids, each with angles from the magnet's arm, rising from 0 to half a turn [rad],
        (angles,).

    Returns
    -------
    For each grid, one array (2, n_rho, n_z, angles) a patch; of an in-plane patch the mean over
    its heights, (2, n_rho, 1, angles).
    """
    jobs = []
    for grid, angles in asked:
        split = int(np.searchsorted(angles, FAR_RAD))
        for near, far in zip(grid.near, grid.far, strict=True):
            jobs += [(near, angles[:split]), (far, angles[split:])]
    found = iter(_gradients(track, jobs))
    return [
        [
            _joined(patch, near, next(found), far, next(found))
            for patch, near, far in zip(patches, grid.near, grid.far, strict=True)
        ]
        for grid, _ in asked
    ]


def _joined(patch: Patch, near: Nodes, near_values: Array, far: Nodes, far_values: Array) -> Array:
    """Return values at all angles on the near nodes, of those on the near and on the far ones."""
    if patch.in_plane:
        # Turns square to the shaft count all heights alike, so their mean is all it takes.
        near_values, far_values = (
            (gauss_legendre(g.shape[2])[1] / 2 @ g)[:, :, None] for g in (near_values, far_values)
        )
    else:
        far_values = lagrange(far.z_m, near.z_m) @ far_values
    flat = far_values.reshape(2, len(far.rho_m), -1)
    fine = lagrange(far.rho_m, near.rho_m) @ flat
    return np.concatenate([near_values, fine.reshape(*near_values.shape[:-1], -1)], axis=-1)


def _gradients(track: Track, jobs: list[tuple[Nodes, Array]]) -> list[Array]:
    """Return the components (2, n_rho, n_z, angles) of every job, computed in one stream."""
    shapes = [(len(n.rho_m), len(n.z_m), len(angles)) for n, angles in jobs]
    stops = np.cumsum([math.prod(shape) for shape in shapes]).tolist()
    arm = np.empty((3, stops[-1]))
    for (n, angles), shape, stop in zip(jobs, shapes, stops, strict=True):
        part = arm[:, stop - math.prod(shape) : stop].reshape(3, *shape)
        part[0] = (np.outer(n.rho_m, np.cos(angles)) - track.radius)[:, None, :]
        part[1] = np.outer(n.rho_m, np.sin(angles))[:, None, :]
        part[2] = (n.z_m - track.height)[:, None]
    g = np.empty((2, arm.shape[1]))
    for start in range(0, arm.shape[1], _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        g[:, some] = shape_gradient(track.shape, arm[:, some], track.north.value)
    return [
        g[:, stop - math.prod(shape) : stop].reshape(2, *shape)
        for shape, stop in zip(shapes, stops, strict=True)
    ]


def spectra(track: Track, patches: tuple[Patch, ...], values: list[Array]) -> list[Complex]:
    """Return Fourier coefficients of the components of A that act, on every patch.

    On sides along the shaft that is the one along it, on others the radial and angular ones.

    Parameters
    ----------
    track, patches
        As for `potentials`.
    values
        From `potentials`, at the K + 1 equal steps of angle from 0 to half a turn.

    Returns
    -------
    Coefficients of orders m = 0..K, (components, n_rho, n_z, K + 1), one array a patch.
    """
    return [_spectrum(track, p, g) for p, g in zip(patches, values, strict=True)]


def _spectrum(track: Track, patch: Patch, g: Array) -> Complex:
    half_turn = g.shape[-1]
    k = track.north.value
    a: list[Array | float] = [0.0, 0.0, 0.0]
    a[(k + 1) % 3], a[(k + 2) % 3] = g[1], -g[0]
    # The magnet is even about its arm; magnetisation along or across it fixes each parity.
    sign = 1.0 if k == 1 else -1.0
    if patch.along_shaft:
        acting = [(a[2], sign)]
    else:
        angles = np.linspace(0, math.pi, half_turn)
        c, s = np.cos(angles), np.sin(angles)
        acting = [(c * a[0] + s * a[1], sign), (c * a[1] - s * a[0], -sign)]
    full = np.empty((len(acting), *g.shape[1:-1], 2 * half_turn - 2))
    for turn, (component, parity) in zip(full, acting, strict=True):
        turn[..., :half_turn] = component
        turn[..., half_turn:] = parity * turn[..., half_turn - 2 : 0 : -1]
    return np.asarray(np.fft.rfft(full, axis=-1) / full.shape[-1])


def folded(spectra: list[Complex]) -> list[Complex]:
    """Return the Fourier coefficients that every second angle alone would give, m = 0..K / 2.

    Parameters
    ----------
    spectra
        m = 0..K for an even K.
    """
    half = (spectra[0].shape[-1] - 1) // 2
    # Half as many angles cannot tell order m from m - K, which is the conjugate of K - m.
    return [s[..., : half + 1] + np.conj(s[..., : half - 1 : -1]) for s in spectra]
