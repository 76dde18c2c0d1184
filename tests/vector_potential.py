"""The vector potential of a block in its own axes, as what is compared with other sources."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.potential.cuboid import newtonian_gradient_xy

Array = NDArray[np.float64]


def vector_potential_Wb_per_m(
    points: Array, size: tuple[float, float, float], polarization_T: tuple[float, float, float]
) -> Array:
    """Return the vector potential of a uniformly magnetised cuboid.

    Parameters
    ----------
    points
        Points relative to the centre, along the edges [m], shape (..., 3).
    size
        Edges [m].
    polarization_T
        Remanence vector along the edges [T].

    Returns
    -------
    A [Wb/m], shape (..., 3), in the Coulomb gauge (zero divergence, zero at infinity).

    Examples
    --------
    >>> import numpy as np
    >>> A = vector_potential_Wb_per_m(np.array([0.0, 0.02, 0.0]), (0.02, 0.01, 0.005), (0, 0, 1.2))
    >>> bool(A[0] < 0 and abs(A[1]) < 1e-18)
    True
    """
    points = np.asarray(points, dtype=np.float64)
    result = np.zeros(points.shape)
    half = tuple(s / 2 for s in size)
    for axis, br in enumerate(polarization_T):
        if br:
            i, j = (axis + 1) % 3, (axis + 2) % 3
            gi, gj = newtonian_gradient_xy(
                points[..., i], points[..., j], points[..., axis], (half[i], half[j], half[axis])
            )
            result[..., i] += br / (4 * math.pi) * gj
            result[..., j] -= br / (4 * math.pi) * gi
    return result
