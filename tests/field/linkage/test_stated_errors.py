"""The error that a curve states: never below the true one, and as large as it was found to be.

The machines of the first test were picked out of some thousands for coming nearest to their stated
error, between an eighth and two thirds of it: there a statement ten times too small is a lie.
Elsewhere estimates are far from the truth on the safe side, so the second test holds them to what
they were when the first one and its kin were passed.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from machines import MM, ball, block, coil, disc, machine_of, mounted, rotor
from scipy.spatial.transform import Rotation

from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.field.linkage.track_curve import track_curve
from fieldsim.machine.magnets import ArmAxis, North
from fieldsim.waveform.flux_table import flux_table

SHAPES = {
    "block": block(12, 8, 6),
    "disc": disc(12, 5),
    "rod": disc(8, 14, ArmAxis.ARM),
    "roller": disc(8, 14, ArmAxis.FORWARD),
    "ball": ball(10),
}
# Shape, turn of the coil (rad), its centre (mm), height of the magnet (mm), poles, tolerance.
NEAR = [
    ("roller", (0, 0, 0), (3.4, 20.6), 12.2, ArmAxis.SHAFT, 1e-2),
    ("ball", (0, 0, 0), (1.4, 23.8), 12.4, ArmAxis.SHAFT, 1e-2),
    ("disc", (0, 0, 0), (-1.1, 18.1), 12.6, ArmAxis.SHAFT, 1e-4),
    ("block", (0, 0, 0), (-2.3, 16.9), 14.6, ArmAxis.SHAFT, 1e-4),
    ("block", (0, 0, 0), (0.7, 18.0), 12.1, ArmAxis.ARM, 1e-2),
    ("rod", (0, 0, 0), (0.9, 20.9), 12.9, ArmAxis.SHAFT, 1e-3),
    ("roller", (0, 0, 0), (-1.1, 23.3), 14.8, ArmAxis.SHAFT, 1e-4),
    ("ball", (0, 0, 0), (-1.1, 17.2), 19.1, ArmAxis.ARM, 1e-3),
    ("roller", (-0.29, -0.29, 0.19), (0.2, 24.3), 19.9, ArmAxis.SHAFT, 1e-3),
    ("rod", (-0.29, 0.21, -0.21), (4.4, 20.8), 16.4, ArmAxis.SHAFT, 1e-4),
    ("block", (0.29, 0.24, 0.29), (3.4, 16.0), 16.7, ArmAxis.SHAFT, 1e-4),
]


def values(curve):
    angles = np.linspace(0, 2 * math.pi, 360, endpoint=False)
    waves = np.exp(1j * np.outer(angles, np.arange(len(curve.harmonics_m2))))
    return 2 * (waves @ curve.harmonics_m2).real


@pytest.mark.parametrize(("shape", "turn", "centre", "height", "north", "relative"), NEAR)
def test_it_is_above_the_true_one_and_not_ten_times(shape, turn, centre, height, north, relative):
    winding = CoilInRotor(
        np.array([*centre, 0.0]) * MM,
        Rotation.from_rotvec(turn).as_matrix(),
        (12 * MM, 8 * MM),
        4 * MM,
        4 * MM,
    )
    track = Track(SHAPES[shape], 22 * MM, height * MM, north)
    curve = track_curve(track, winding, 0.0, relative)
    true = np.abs(values(curve) - values(track_curve(track, winding, 0.0, 1e-7))).max()
    assert true <= curve.error_m2 <= relative * curve.swing_m2
    assert true >= 0.1 * curve.error_m2


LEANING = coil((2, 22, -1), (0.2, -0.1, 1.0), (1, 0.3, 0), (24, 16), 8, 4)
STRAIGHT = coil((2, 22, -1), (0, 0, 1), (1, 0, 0), (24, 16), 8, 4)
# Relative error stated at a tolerance of 1e-4, for a coil that stands square and one that leans.
STATED = {
    "block": (1.6e-05, 1.2e-05),
    "disc": (2.1e-05, 4.0e-05),
    "rod": (4.6e-05, 4.1e-05),
    "roller": (3.8e-05, 3.8e-05),
    "ball": (1.5e-05, 2.7e-05),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("leaning", [False, True])
def test_it_is_as_large_as_it_was_found_to_be(shape, leaning):
    turning = rotor(mounted(SHAPES[shape], height=17, north=North.OUT))
    described = machine_of(turning, LEANING if leaning else STRAIGHT)
    (stated,) = flux_table(described, tolerance=1e-4).relative_error.ravel()
    # Other orders may be chosen one day, a factor of two; not of ten.
    assert 0.5 < stated / STATED[shape][leaning] < 2


@pytest.mark.parametrize(
    ("shape", "north", "tolerance", "found"),
    [
        ("disc", North.FORWARD, 1e-6, 4.4e-7),
        ("rod", North.FORWARD, 1e-5, 5.7e-6),
        ("ball", North.PLUS_SHAFT, 1e-6, 1.6e-7),
    ],
)
def test_the_share_of_the_quadrature_counts(shape, north, tolerance, found):
    """Round magnets beside a leaning coil, where it is nearly all of the error."""
    turning = rotor(mounted(SHAPES[shape], height=17, north=north))
    (stated,) = flux_table(machine_of(turning, LEANING), tolerance=tolerance).relative_error.ravel()
    assert 0.5 < stated / found < 2
