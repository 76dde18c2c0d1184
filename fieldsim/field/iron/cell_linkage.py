"""What cells of iron add to the linkage of coils while magnets turn past, saturated and not."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.force.turning_field import turning_field_T
from fieldsim.field.iron.iron_cells import IronCells
from fieldsim.field.iron.magnetised_cells import MagnetisedCells
from fieldsim.field.iron.saturating_law import taken_up_share
from fieldsim.field.potential.winding_field import winding_field
from fieldsim.machine.placed import PlacedCoil, PlacedRotor

__all__ = ["CellLinkage"]

Array = NDArray[np.float64]

_AT_ONCE = 64  # angles, to bound memory
_LAYERS = 8  # quadrature through the build of a coil


@dataclass(frozen=True, eq=False)
class CellLinkage:
    """Iron in cells between coils and rotors.

    Parameters
    ----------
    system
        The iron.
    rotors
        With the magnets.
    linked_A_per_m
        The field of one ampere in each coil, mean over each cell, (coils, cells, 3).
    """

    system: MagnetisedCells
    rotors: tuple[PlacedRotor, ...]
    linked_A_per_m: Array = field(repr=False)

    @classmethod
    def of(
        cls, cells: IronCells, coils: Sequence[PlacedCoil], rotors: Sequence[PlacedRotor]
    ) -> CellLinkage:
        """Return cells among coils and rotors, with their field in each other."""
        points = cells.points.reshape(-1, 3)
        linked = [
            cells.averaged(winding_field(coil, points, _LAYERS).reshape(-1, 8, 3)) for coil in coils
        ]
        return cls(MagnetisedCells.of(cells), tuple(rotors), np.stack(linked))

    def at(self, angles_rad: Array, step: Callable[[], object] = lambda: None) -> Array:
        """Return what the iron adds to linkages.

        Parameters
        ----------
        angles_rad
            Of each rotor, side by side [rad], (rotors, angles).
        step
            Called after each step of the work.

        Returns
        -------
        ndarray
            Linear, saturated, and by how much each grows for each one of the cells' own field that
            is left out [Wb], (4, coils, angles).

        Notes
        -----
        By reciprocity the linkage of a magnetised cell is the integral of its polarisation times
        the field of one ampere in the coil.
        """
        parts = [
            self._some(angles_rad[:, first : first + _AT_ONCE], step)
            for first in range(0, angles_rad.shape[1], _AT_ONCE)
        ]
        return np.concatenate(parts, axis=2)

    def _some(self, angles_rad: Array, step: Callable[[], object]) -> Array:
        system, cells = self.system, self.system.cells
        points, count = cells.points.reshape(-1, 3), angles_rad.shape[1]
        applied = np.zeros((count, len(cells), 3))
        for rotor, angles in zip(self.rotors, angles_rad, strict=True):
            field_T = turning_field_T(rotor, angles, points)
            applied += cells.averaged(field_T.reshape(count, -1, 8, 3))
        applied = np.moveaxis(applied, 0, -1)
        linear = system.linear_T(applied)
        # What the law takes up in the field of linear iron: near enough to begin with.
        chi, most_T = (each[:, None, None] for each in (cells.susceptibility, cells.saturation_T))
        size = np.linalg.norm(linear, axis=1, keepdims=True)
        begun = linear * taken_up_share(size / chi, chi, most_T)
        saturated = system.saturated_T(applied, begun, step)
        grown = system.linear_growth_T(linear), system.saturated_growth_T(saturated)
        moment = cells.volume_m3[:, None, None] * np.stack([linear, saturated, *grown])
        return np.asarray(np.einsum("cki,nkia->nca", self.linked_A_per_m, moment))
