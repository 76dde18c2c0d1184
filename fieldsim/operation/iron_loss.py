"""What eddy currents in iron take from the hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from fieldsim.field.iron.eddy_loss import eddy_loss
from fieldsim.operation.coil_torques import coil_torques_Nm

if TYPE_CHECKING:
    from fieldsim.operation.electric_side import ElectricSide
    from fieldsim.operation.machine_at_speed import MachineAtSpeed

__all__ = ["NO_LOSS", "IronLoss", "iron_loss"]


@dataclass(frozen=True)
class IronLoss:
    """Average powers that eddy currents in iron turn into heat.

    Parameters
    ----------
    pieces_W
        In each piece of iron by the magnets alone, by name [W]; empty without eddy currents.
    magnets_W
        The same by the rotor that it is taken from [W].
    together_W
        What it makes that currents and magnets act together, taken from the rotors [W]: below zero
        where currents keep the magnets' flux out of the iron.
    currents_W
        By the coils' currents alone, which is part of the power of their EMFs [W].

    Notes
    -----
    Hysteresis is not modelled.
    """

    pieces_W: Mapping[str, float] = field(default_factory=dict)
    magnets_W: Mapping[str, float] = field(default_factory=dict)
    together_W: float = 0.0
    currents_W: float = 0.0

    def __bool__(self) -> bool:
        """Return whether eddy currents are reckoned with."""
        return bool(self.pieces_W)

    @property
    def from_rotors_W(self) -> float:
        """What the rotors give beside the power of the coils' EMFs [W]."""
        return sum(self.magnets_W.values()) + self.together_W

    @property
    def total_W(self) -> float:
        """All heat in the iron [W]."""
        return self.from_rotors_W + self.currents_W


NO_LOSS = IronLoss()
"""Of a machine whose iron has no eddy currents."""


def iron_loss(point: MachineAtSpeed, electric: ElectricSide) -> IronLoss:
    """Return what eddy currents in iron take at a speed.

    Parameters
    ----------
    point
        A machine at its speed.
    electric
        Its currents.

    Notes
    -----
    The iron answers late to currents and magnets alike. So a coil's EMF comes late after the
    magnets, and the pull of its current on them late after the current: between what that costs the
    rotors and what the EMF gives lies the loss that both make together.
    """
    if not point.eddies:
        return NO_LOSS
    rotors, speed = point.machine.placed_rotors, electric.speed
    by_magnets = eddy_loss(point.eddies, rotors, speed.ratios, speed.base_rad_per_s)
    sense = 1 if speed.base_rad_per_s > 0 else -1
    whole = [sense * int(ratio * electric.turns) for ratio in speed.ratios]
    taken_W, given_W = (
        -sum(
            float(torque.mean()) * turning
            for torque, turning in zip(
                coil_torques_Nm(table, rotors, whole, electric.current_A).values(),
                speed.rotors_rad_per_s,
                strict=True,
            )
        )
        for table in (point.braking_flux_table, point.moving_flux_table)
    )
    names = (rotor.name for rotor in rotors)
    return IronLoss(
        dict(zip(by_magnets.pieces, by_magnets.lost_W.tolist(), strict=True)),
        dict(zip(names, by_magnets.drawn_W.tolist(), strict=True)),
        taken_W - given_W,
        electric.iron_W,
    )
