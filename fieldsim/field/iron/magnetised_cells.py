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
from fieldsim.field.iron.saturating_law import (
    field_energy,
    field_stiffness,
    left_share,
    taken_up_share,
)

__all__ = ["MagnetisedCells"]

Array = NDArray[np.float64]

_SHIFTS = (0.0, *(1e-3 * 2.0**i for i in range(8)))
_STEPS = 60  # of Newton
_SAME = 1e-10  # of the energy, by which a further step would lower it
_INNER_STEPS = 200  # of conjugate gradients
_ROUGH, _CLOSE = 0.02, 1e-3  # of the residual that they may leave
_HALVINGS = 40
_LEAST_FALL = 1e-3  # of what the slope at the start of a step promises
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
        solved at once. Along a step a cell that takes up more does so by its field, which has no
        end as its polarisation has; one that takes up less, by its polarisation. The step is
        halved until the energy falls.
        """
        applied = self._weighted(applied_T)
        x = self._weighted(start_T)
        own = self.own @ x
        moving = np.arange(x.shape[1])
        for _ in range(_STEPS):
            here, own_here, applied_here = x[:, moving], own[:, moving], applied[:, moving]
            left = own_here + self._material(here) - applied_here
            along = self._direction(here, left, _ROUGH)
            downhill = -(along * left).sum(axis=0)
            x[:, moving], own[:, moving] = self._downhill(
                here, own_here, applied_here, along, downhill
            )
            step()
            energy = float((x * own).sum(axis=0).max(initial=0.0))
            moving = moving[downhill > _SAME * energy]
            if not len(moving):
                return self._polarization_T(x)
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

    def _downhill(
        self, x: Array, own: Array, applied: Array, along: Array, downhill: Array
    ) -> tuple[Array, Array]:
        """Return where a step leads that lowers the energy, and the cells' own field there."""
        now = self._energy(x, own, applied)
        found, own_found = x.copy(), own.copy()
        waiting, length = np.arange(x.shape[1]), 1.0
        for _ in range(_HALVINGS):
            there = self._moved(x[:, waiting], length * along[:, waiting])
            own_there = self.own @ there
            energy = self._energy(there, own_there, applied[:, waiting])
            good = energy <= now[waiting] - _LEAST_FALL * length * downhill[waiting]
            found[:, waiting[good]], own_found[:, waiting[good]] = (
                there[:, good],
                own_there[:, good],
            )
            waiting, length = waiting[~good], length / 2
            if not len(waiting):
                break
        return found, own_found

    def _energy(self, x: Array, own: Array, applied: Array) -> Array:
        """Return the energy of all cells, but for a factor, (angles,)."""
        size = np.linalg.norm(self._polarization_T(x), axis=1)
        material = self.cells.volume_m3 @ field_energy(size, *self._law())
        return np.asarray((x * (own / 2 - applied)).sum(axis=0) + material)

    def _moved(self, x: Array, step: Array) -> Array:
        """Return where a step leads: by the field of cells that take up more."""
        here, by = self._polarization_T(x), self._polarization_T(step)
        size = np.linalg.norm(here, axis=1)[:, None]
        susceptibility, saturation_T = (part[:, None] for part in self._law())
        across, along = field_stiffness(size, susceptibility, saturation_T)
        unit = here / np.maximum(size, 1e-300)
        outward = (unit * by).sum(axis=1, keepdims=True)
        field = across * (here + by) + (along - across) * outward * unit
        strength = np.linalg.norm(field, axis=1, keepdims=True)
        more = susceptibility * taken_up_share(strength, susceptibility, saturation_T) * field
        less = here + by
        inward = np.linalg.norm(less, axis=1, keepdims=True) < size
        return self._weighted(np.where(inward, less, more))
