"""Cells of iron in fields that are applied to them: linear, and as their material saturates.

The polarisation is where the energy of the cells, their own field's and the material's less what
the applied field does, is least. Both are convex, so there is one such place, and Newton's steps
lead there from anywhere if none goes farther than downhill.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import ImpossibleError
from fieldsim.field.iron.cell_field import demagnetising_matrix
from fieldsim.field.iron.iron_cells import IronCells
from fieldsim.field.iron.saturating_law import field_stiffness, left_share

__all__ = ["MagnetisedCells"]

Array = NDArray[np.float64]

_SHIFTS = (0.0, *(1e-3 * 2.0**i for i in range(8)))
_STEPS = 60  # of Newton
_SAME = 1e-10  # of the energy, by which a further step would lower it
_INNER_STEPS = 200  # of conjugate gradients
_ROUGH, _CLOSE = 0.02, 1e-3  # of the residual that they may leave
_HALVINGS = 40
_DOWN = 0.3  # of the slope at its start, that there may be uphill at the end of a step
_NOTHING_LEFT = 1e-12  # of the susceptibility: past its saturation iron asks for fields without end


@dataclass(frozen=True, eq=False)
class MagnetisedCells:
    """Cells of iron, and what they do to each other.

    Parameters
    ----------
    cells
        The iron.
    own
        Their demagnetising matrix, made positive beside what their susceptibility adds, and
        its inverse with that, (3 cells, 3 cells) each.
    """

    cells: IronCells
    own: Array = field(repr=False)
    linear: Array = field(repr=False)

    @classmethod
    def of(cls, cells: IronCells) -> MagnetisedCells:
        """Return cells with their field in each other.

        Notes
        -----
        Where the quadrature leaves some mode of very permeable iron less than nothing to work
        against, all cells get up to some thousandths more of a demagnetising factor.
        """
        from scipy.linalg import LinAlgError, cho_factor, cho_solve

        own = demagnetising_matrix(cells)
        material = np.repeat(1.0 / cells.susceptibility, 3)
        for shift in _SHIFTS:
            added = own + shift * np.eye(len(own))
            try:
                factor = cho_factor(added + np.diag(material))
            except LinAlgError:
                continue
            return cls(cells, added, cho_solve(factor, np.eye(len(own))))
        raise ImpossibleError(
            "the cells of the iron lie so that their field in each other cannot be told"
        )

    def linear_T(self, applied_T: Array) -> Array:
        """Return the polarisation without saturation.

        Parameters
        ----------
        applied_T
            Mean of mu0 H over each cell, (cells, 3, angles).

        Returns
        -------
        ndarray
            Of the same shape [T].
        """
        return self._polarization_T(self.linear @ self._weighted(applied_T))

    def saturated_T(
        self, applied_T: Array, start_T: Array, step: Callable[[], object] = lambda: None
    ) -> Array:
        """Return the polarisation of iron that saturates.

        Parameters
        ----------
        applied_T
            As for `linear_T`.
        start_T
            Whereabouts it is, below the saturation [T].
        step
            Called after each step.

        Raises
        ------
        ImpossibleError
            If it is not found in 60 steps of Newton.

        Notes
        -----
        The steps are those of conjugate gradients, with each cell's own three by three numbers
        solved at once, and end where the energy along them is least or nearly so.
        """
        applied = self._weighted(applied_T)
        x = self._weighted(start_T)
        own = self.own @ x
        scale = max(float((x * own).sum(axis=0).max(initial=0.0)), 1e-300)
        moving = np.arange(x.shape[1])
        for _ in range(_STEPS):
            if not len(moving):
                return self._polarization_T(x)
            here, own_here = x[:, moving], own[:, moving]
            left = own_here + self._material(here) - applied[:, moving]
            along = self._direction(here, left, _ROUGH)
            own_along = self.own @ along
            length, gained = self._length(here, own_here - applied[:, moving], along, own_along)
            x[:, moving] += length * along
            own[:, moving] += length * own_along
            step()
            moving = moving[gained > _SAME * scale]
        raise ImpossibleError(
            "how far the iron saturates was not found; magnets farther from it saturate it less"
        )

    def linear_growth_T(self, linear_T: Array) -> Array:
        """Return by how much linear polarisation grows as cells demagnetise themselves less.

        Parameters
        ----------
        linear_T
            From `linear_T`, (cells, 3, angles).

        Returns
        -------
        ndarray
            Of the same shape [T], for each one of its own field that is left out.
        """
        return self._polarization_T(self.linear @ (self.own @ self._weighted(linear_T)))

    def saturated_growth_T(self, saturated_T: Array) -> Array:
        """Return the same of polarisation that saturates, from `saturated_T`."""
        x = self._weighted(saturated_T)
        return self._polarization_T(self._direction(x, -(self.own @ x), _CLOSE))

    def _weighted(self, values: Array) -> Array:
        """Return values by the roots of volumes, flat, (3 cells, angles)."""
        root = np.sqrt(self.cells.volume_m3)[:, None, None]
        return np.asarray((root * values).reshape(3 * len(self.cells), -1))

    def _polarization_T(self, x: Array) -> Array:
        root = np.sqrt(self.cells.volume_m3)[:, None, None]
        return np.asarray(x.reshape(len(self.cells), 3, -1) / root)

    @cached_property
    def _rough_own(self) -> NDArray[np.float32]:
        return self.own.astype(np.float32)

    def _law(self) -> tuple[Array, Array]:
        return self.cells.susceptibility[:, None], self.cells.saturation_T[:, None]

    def _material(self, x: Array) -> Array:
        """Return the field that the material asks for, weighted; infinite past saturation."""
        size = np.linalg.norm(self._polarization_T(x), axis=1)
        susceptibility, saturation_T = self._law()
        left = np.maximum(left_share(size, saturation_T), _NOTHING_LEFT)
        return x / np.repeat(susceptibility * left, 3, axis=0)

    def _direction(self, x: Array, left: Array, accuracy: float) -> Array:
        """Return a step of Newton, (3 cells, angles), but for a part of what is left."""
        polarization = self._polarization_T(x)
        count, _, angles = polarization.shape
        size = np.linalg.norm(polarization, axis=1)
        across, along = field_stiffness(size, *self._law())
        unit = polarization / np.maximum(size, 1e-300)[:, None]
        more = along - across

        def stiff(p: Array) -> Array:
            each = p.reshape(count, 3, angles)
            inward = (unit * each).sum(axis=1) * more
            return np.asarray((across[:, None] * each + inward[:, None] * unit).reshape(p.shape))

        cells = np.arange(count)
        block = self.own.reshape(count, 3, count, 3)[cells, :, cells][:, None]
        block = block + (across[:, :, None, None] * np.eye(3))
        turned = unit.transpose(0, 2, 1)
        block = block + more[:, :, None, None] * turned[..., :, None] * turned[..., None, :]
        inverse = np.linalg.inv(block)

        def eased(p: Array) -> Array:
            each = p.reshape(count, 3, angles).transpose(0, 2, 1)[..., None]
            return np.asarray((inverse @ each)[..., 0].transpose(0, 2, 1).reshape(p.shape))

        step = np.zeros_like(x)
        rest = -left
        easier = eased(rest)
        towards = easier
        now = (rest * easier).sum(axis=0)
        enough = accuracy**2 * now
        for _ in range(_INNER_STEPS):
            # Single precision is plenty for what is no closer.
            pushed = self._rough_own @ towards.astype(np.float32) + stiff(towards)
            resisted = (towards * pushed).sum(axis=0)
            far = np.divide(now, resisted, out=np.zeros_like(now), where=resisted > 0)
            step += far * towards
            rest = rest - far * pushed
            easier = eased(rest)
            before, now = now, (rest * easier).sum(axis=0)
            if (now <= enough).all():
                break
            towards = easier + np.divide(now, before, out=np.zeros_like(now), where=before > 0) * (
                towards
            )
        return step

    def _length(
        self, x: Array, outer: Array, along: Array, own_along: Array
    ) -> tuple[Array, Array]:
        """Return how far to go along a step, and by how much that lowers the energy, (angles,).

        ``outer`` is the cells' own field and less the applied one.
        """

        def slope(length: Array) -> Array:
            asked = self._material(x + length * along)
            return np.asarray((along * (outer + length * own_along + asked)).sum(axis=0))

        start = slope(np.zeros(x.shape[1]))
        low, high = np.zeros_like(start), np.ones_like(start)
        length = high
        for _ in range(_HALVINGS):
            found = slope(length)
            good = found <= _DOWN * np.abs(start)
            low = np.where(good, length, low)
            high = np.where(good, high, length)
            if ((low > 0) | (start >= 0)).all():
                break
            length = np.where(low > 0, low, (low + high) / 2)
        return low, -start * low
