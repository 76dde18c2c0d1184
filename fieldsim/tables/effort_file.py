"""Torque against crank angle, as a dataset for CSV and HDF5."""

from __future__ import annotations

import numpy as np

from fieldsim.operation.effort import Effort
from fieldsim.tables.dataset import Dataset, Dimension, Variable

__all__ = ["effort_dataset"]


def effort_dataset(effort: Effort) -> Dataset:
    """Return the torques through one repeat with named dimensions: crank angle, rotor.

    Angles and crank torques are taken the way the crank turns, rotor torques about ``along``.
    """
    rows, rotors = "crank_angle_deg", tuple(effort.magnet_torque_Nm)
    seen = {
        "crank_torque_Nm": (effort.crank.torque_Nm, "given by the hand at the speed"),
        "slow_crank_torque_Nm": (effort.slow_Nm, "given by the hand when turning slowly"),
        "crank_torque_for_coils_Nm": (effort.coils_at_crank_Nm, "before gears and friction"),
        "crank_torque_for_magnets_Nm": (effort.magnets_at_crank_Nm, "before gears and friction"),
    }
    felt = {
        "coil_torque_Nm": (effort.coil_torque_Nm, "of the coils on the rotor"),
        "magnet_torque_Nm": (effort.magnet_torque_Nm, "of the other rotors' magnets"),
    }
    return Dataset(
        dimensions=(
            Dimension(rows, np.degrees(effort.crank_angle_rad), "degree"),
            Dimension("rotor", rotors),
        ),
        variables=(
            *(Variable(n, "N m", (rows,), v, words) for n, (v, words) in seen.items()),
            *(
                Variable(n, "N m", ("rotor", rows), np.array([v[r] for r in rotors]), words)
                for n, (v, words) in felt.items()
            ),
        ),
        attributes={
            "title": effort.title,
            "crank_speed_rad_per_s": effort.speed.base_rad_per_s,
            "period_turns": float(effort.turns),
        },
    )
