"""Measured: the field beside a disc magnet, against the potential that linkages are made of.

Source: a Hall-probe scan in magpylib's documentation (`data/hall_scan.csv`, where it is described).
The magnet's centre, the turn of the chip and the polarisation are not known better than the scan
tells them: seven numbers are fitted to its 183 values. So the shape of the field is checked, not
its strength; what a builder would expect from the data sheet is compared without any fit.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from fieldsim.field.potential.round_potential import cylinder_axial_gradient

SCAN = Path(__file__).parent / "data" / "hall_scan.csv"
RADIUS, HALF = 4e-3, 1e-3
DISTANCE = 7e-3  # about, from the magnet's middle
STATED_T, LEAST_T = 1.22, 1.17
_STEP = 2e-6  # of the difference quotient: exact to 1e-8 of the field here, the probe to 1e-3


def scan():
    lines = [line for line in SCAN.read_text().splitlines() if not line.startswith("#")]
    values = np.genfromtxt(lines, delimiter=",", names=True)
    return values["x_mm"] * 1e-3, np.stack([values[f"B{c}_mT"] for c in "xyz"], axis=1) * 1e-3


X, MEASURED_T = scan()
PEAK_T = np.abs(MEASURED_T).max()


def field_T(points, polarisation_T, radius=RADIUS):
    """Outside the disc B = (J / 4 pi) grad d phi/dz, with phi the potential of its volume."""

    def slope(p):
        return cylinder_axial_gradient(np.hypot(p[:, 0], p[:, 1]), p[:, 2], radius, HALF)

    quotients = [(slope(points + e) - slope(points - e)) / (2 * _STEP) for e in _STEP * np.eye(3)]
    return polarisation_T / (4 * math.pi) * np.stack(quotients, axis=1)


def miss_T(v, radius=RADIUS):
    """Return what a chip sees beyond what was measured.

    ``v`` is its shift [mm], its turn about itself [degrees] and the disc's polarisation [T].
    """
    path = np.stack([X, 0 * X, 0 * X + DISTANCE], axis=1) + 1e-3 * np.asarray(v[:3])
    turned = Rotation.from_euler("xyz", v[3:6], degrees=True).inv()
    return (turned.apply(field_T(path, v[6], radius)) - MEASURED_T).ravel()


NOTHING_FITTED = [0, 0, 0, 0, 0, 0, STATED_T]


def fit(radius=RADIUS):
    return least_squares(miss_T, NOTHING_FITTED, x_scale=[1] * 6 + [0.1], args=(radius,))


def rms_T(miss):
    return math.sqrt((miss**2).mean())


@pytest.fixture(scope="module")
def fitted():
    return fit()


def test_the_scan_is_whole():
    assert MEASURED_T.shape == (61, 3)
    assert np.abs(MEASURED_T).max() == pytest.approx(39.6e-3, abs=0.01e-3)


def test_the_fitted_field_leaves_a_thousandth_of_the_peak(fitted):
    """Noise of the mean, and the play of the table that moved the magnet."""
    assert rms_T(fitted.fun) == pytest.approx(0.037e-3, abs=0.001e-3)
    assert np.abs(fitted.fun).max() == pytest.approx(0.105e-3, abs=0.002e-3)


def test_what_was_fitted_is_small_and_the_strength_is_known_to_a_thousandth(fitted):
    assert np.abs(fitted.x[:3]).max() < 0.75  # mm: the distance was "about" 7 mm
    assert np.abs(fitted.x[3:6]).max() < 1.2  # degrees
    variance = (fitted.fun**2).sum() / (fitted.fun.size - 7)
    spread = math.sqrt(variance * np.linalg.inv(fitted.jac.T @ fitted.jac)[6, 6])
    assert spread < 1.2e-3
    # Four percent below the least that the data sheet promises: that is how far to trust one.
    assert fitted.x[6] == pytest.approx(1.1256, abs=1e-4)
    assert fitted.x[6] / LEAST_T == pytest.approx(0.962, abs=0.001)


def test_a_builder_who_trusts_the_data_sheet_is_off_by_a_twentieth():
    """Nothing fitted: stated remanence, middle at 7 mm, chip straight."""
    miss = miss_T(NOTHING_FITTED)
    assert rms_T(miss) / PEAK_T == pytest.approx(0.053, abs=0.001)
    assert np.abs(miss).max() / PEAK_T == pytest.approx(0.138, abs=0.002)


@pytest.mark.parametrize("radius", [0.95 * RADIUS, 1.05 * RADIUS])
def test_a_disc_of_another_diameter_would_be_noticed(radius, fitted):
    """All seven numbers fitted anew cannot make up for 5 % of the diameter."""
    assert rms_T(fit(radius).fun) > 1.9 * rms_T(fitted.fun)
