import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

from fieldsim.waveform.cubics import joined_by_cubics


def test_it_is_the_curve_of_an_interpolation_library():
    random = np.random.default_rng(3)
    knots = np.cumsum(random.uniform(0.1, 2.0, 12))
    values, slopes = random.normal(size=(2, 3, 12))
    places = np.concatenate([knots, random.uniform(knots[0] - 1, knots[-1] + 1, 200)])
    theirs = CubicHermiteSpline(knots, values, slopes, axis=1)(places)
    assert joined_by_cubics(knots, values, slopes)(places) == pytest.approx(theirs, abs=1e-11)


def test_its_error_falls_with_the_fourth_power_of_the_step():
    places = np.linspace(0.0, 1.0, 1001)

    def error(pieces):
        knots = np.linspace(0.0, 1.0, pieces + 1)
        curve = joined_by_cubics(knots, np.sin(6 * knots)[None], 6 * np.cos(6 * knots)[None])
        return np.abs(curve(places)[0] - np.sin(6 * places)).max()

    assert error(20) / error(40) == pytest.approx(16.0, rel=0.05)
    assert error(20) == pytest.approx((6 / 20) ** 4 / 384, rel=0.05)
