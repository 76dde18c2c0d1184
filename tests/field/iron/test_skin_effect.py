"""The effective permeability of solid bars and plates, against other formulas and a grid."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from fieldsim.field.iron.skin_effect import (
    plate_permeability,
    rectangle_permeability,
    rod_permeability,
    skin_depth_m,
)
from fieldsim.machine.materials import MATERIALS, Material

MU0 = 4e-7 * math.pi
STEEL = Material(500, None, 1 / 7e6)
RADIUS, PLATE, SECTION = 0.004, 0.003, (0.008, 0.012)
WAYS = {
    "rod": lambda of, omega: rod_permeability(of, RADIUS, omega),
    "plate": lambda of, omega: plate_permeability(of, PLATE, omega),
    "rectangle": lambda of, omega: rectangle_permeability(of, SECTION, omega),
}


def wave_number(omega, of=STEEL):
    return mpmath.sqrt(1j * omega * MU0 * of.permeability / of.resistivity)


def test_the_skin_of_steel_at_100_Hz_is_085_mm():
    assert float(skin_depth_m(STEEL, 2 * math.pi * 100)) == pytest.approx(0.85e-3, rel=2e-3)


@pytest.mark.parametrize("omega", [1e-3, 3.0, 200.0, 1e4, 1e8, 1e12])
def test_a_rod_is_the_ratio_of_bessel_functions(omega):
    ka = RADIUS * wave_number(omega) / 1j  # k^2 = -i omega mu sigma
    with mpmath.workdps(40):
        expected = 500 * complex(2 * mpmath.besselj(1, ka) / (ka * mpmath.besselj(0, ka)))
    assert complex(rod_permeability(STEEL, RADIUS, omega)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("omega", [1e-3, 3.0, 200.0, 1e4, 1e8])
def test_a_plate_is_the_average_of_the_field_across_it(omega):
    k = wave_number(omega)
    half = PLATE / 2
    places = mpmath.linspace(0, half, 9)
    average = mpmath.quad(lambda x: mpmath.cosh(k * x) / mpmath.cosh(k * half), places) / half
    found = complex(plate_permeability(STEEL, PLATE, omega))
    assert found == pytest.approx(500 * complex(average), rel=1e-7)


def test_a_rectangle_is_the_average_of_a_field_on_a_grid():
    """Five-point differences, extrapolated from two grids."""
    from scipy.sparse import diags, identity, kron
    from scipy.sparse.linalg import spsolve

    omega, (a, b) = 100.0, SECTION
    square = complex(wave_number(omega)) ** 2

    def average(n):
        def second(edge):
            h = edge / n
            return diags([1.0, -2.0, 1.0], [-1, 0, 1], shape=(n - 1, n - 1)) / h**2

        one = identity(n - 1)
        matrix = kron(second(a), one) + kron(one, second(b)) - square * identity((n - 1) ** 2)
        # what is one on the sides, less one: nothing on the sides
        inside = spsolve(matrix.tocsc(), np.full((n - 1) ** 2, square))
        return 1.0 + inside.sum() / n**2

    expected = (4 * average(48) - average(24)) / 3
    found = complex(rectangle_permeability(STEEL, SECTION, omega)) / 500
    assert abs(found - expected) < 1e-4  # of the extrapolated grid


def test_a_wide_rectangle_is_a_plate():
    wide = rectangle_permeability(STEEL, (100 * PLATE, PLATE), [10.0, 1e3])
    plate = plate_permeability(STEEL, PLATE, [10.0, 1e3])
    assert wide == pytest.approx(plate, rel=0.01)


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_slow_fields_find_all_of_it_and_fast_ones_nothing(way):
    found = way(STEEL, [0.0, 1e-6, 1e14])
    assert found[0] == 500.0
    assert abs(found[1] - 500.0) < 1e-4
    assert abs(found[2]) < 1e-3
    rising = np.abs(way(STEEL, np.logspace(-3, 12, 60)))
    assert np.all(np.diff(rising) < 0)


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_flux_lags_behind_and_never_gives_power(way):
    assert np.all(way(STEEL, np.logspace(-3, 12, 60)).imag < 0)


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
@pytest.mark.parametrize("name", ["ferrite rod", "laminated steel"])
def test_without_resistivity_there_are_no_eddy_currents(way, name):
    of = MATERIALS[name]
    assert way(of, 1e9) == of.permeability
    assert skin_depth_m(of, 1e9) == math.inf


def test_a_slow_rod_loses_what_its_eddies_cost():
    """P/V = omega^2 B^2 a^2 sigma / 16: rings that an even flux density drives current round."""
    omega, peak_T = 0.05, 1.0
    mu = MU0 * complex(rod_permeability(STEEL, RADIUS, omega))
    lost = omega / 2 * -mu.imag * (peak_T / abs(mu)) ** 2
    assert lost == pytest.approx((omega * peak_T * RADIUS) ** 2 / STEEL.resistivity / 16, rel=1e-3)
