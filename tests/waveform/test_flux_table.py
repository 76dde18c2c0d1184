"""The flux-versus-angle table: its shape, derivative and checks, and its freedom from `angles`."""

from __future__ import annotations

import numpy as np
import pytest
from machines import coil, described, mounted, rotor

from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import North
from fieldsim.waveform.flux_table import FluxTable, flux_table


def machine() -> Machine:
    """Two coils and two rotors, so that nothing can be mixed up unseen."""
    near = mounted(radius=22, angle=0.3, height=14)
    far = mounted(radius=20, angle=-0.8, height=-18, north=North.OUT)
    rotors = (rotor(near, name="upper"), rotor(far, name="lower"))
    coils = (
        coil(centre=(0, 22, 0), turns=1000, name="first"),
        coil(centre=(23, 1, 0), turns=700, name="second"),
    )
    return described("four pairs", rotors, coils)


@pytest.fixture(scope="module")
def table() -> FluxTable:
    return flux_table(machine(), tolerance=1e-5)


def test_names_and_shapes(table):
    assert table.coils == ("first", "second")
    assert table.rotors == ("upper", "lower")
    assert table.linkage_Wb.shape == (2, 2, table.angles)
    assert table.relative_error.shape == (2, 2)
    assert table.angles >= 360
    assert table.title == "four pairs"


def test_every_pair_is_where_its_names_say(table):
    """Computed alone, each pair gives the same numbers."""
    whole = machine()
    for i, winding in enumerate(whole.placed_coils):
        for j, turning in enumerate(whole.placed_rotors):
            alone = described("", (turning,), (winding,))
            one = flux_table(alone, angles=table.angles, tolerance=1e-5)
            # The same operations on the same numbers.
            assert np.array_equal(one.linkage_Wb[0, 0], table.linkage_Wb[i, j])


def test_angles_run_from_zero_over_one_turn(table):
    assert table.rotor_angle_deg[0] == 0.0
    assert table.rotor_angle_deg[-1] == pytest.approx(360 - 360 / table.angles, rel=1e-15)
    assert np.array_equal(
        np.rad2deg(table.rotor_angle_rad).round(9), table.rotor_angle_deg.round(9)
    )


@pytest.mark.parametrize("angles", [4, 7, 36, 720, 1001])
def test_values_do_not_depend_on_the_number_of_angles(table, angles):
    """They are read off one series; only Fourier sums of other lengths round differently."""
    other = flux_table(machine(), angles=angles, tolerance=1e-5)
    assert other.angles == angles
    assert np.array_equal(other.relative_error, table.relative_error)
    common = np.gcd(angles, table.angles)
    a = other.linkage_Wb[:, :, :: angles // common]
    b = table.linkage_Wb[:, :, :: table.angles // common]
    # A few hundred terms, each below the peak-to-peak, rounded to 1e-16.
    assert np.abs(a - b).max() < 1e-14 * table.peak_to_peak_Wb.max()


def test_looser_tolerance_agrees_within_it(table):
    rough = flux_table(machine(), angles=table.angles, tolerance=1e-3)
    error = np.abs(rough.linkage_Wb - table.linkage_Wb).max(axis=2) / table.peak_to_peak_Wb
    assert (error <= 1e-3).all()  # what was asked
    assert (error <= rough.relative_error + table.relative_error).all()  # what was promised
    assert (rough.relative_error <= 1e-3).all()
    assert error.max() > 0.0


def test_derivative_is_the_slope(table):
    """Against a central difference of fourth order between the table's own angles."""
    fine = flux_table(machine(), angles=3600, tolerance=1e-5)
    y, h = fine.linkage_Wb, 2 * np.pi / 3600
    slope = (8 * (np.roll(y, -1, 2) - np.roll(y, 1, 2)) - np.roll(y, -2, 2) + np.roll(y, 2, 2)) / (
        12 * h
    )
    # Truncation: (harmonic order 60 times the step 1.7e-3)^4 / 30 = 4e-6 of the small harmonics.
    assert np.abs(fine.derivative_Wb_per_rad() - slope).max() < 1e-6 * np.abs(slope).max()


@pytest.mark.parametrize("angles", [15, 16])
def test_derivative_of_a_polynomial_of_sines_is_exact(angles):
    angle = 2 * np.pi * np.arange(angles) / angles
    y = 0.7 + np.sin(angle) - 0.3 * np.cos(3 * angle + 0.2) + 0.1 * np.sin(7 * angle)
    slope = np.cos(angle) + 0.9 * np.sin(3 * angle + 0.2) + 0.7 * np.cos(7 * angle)
    table = FluxTable(("c",), ("r",), y[None, None], np.zeros((1, 1)))
    # Orders up to 7 are told apart by 15 angles; rounding of 15 terms is left.
    assert table.derivative_Wb_per_rad()[0, 0] == pytest.approx(slope, abs=1e-13)


def test_harmonics_give_the_values_back():
    generator = np.random.default_rng(3)
    y = generator.normal(size=(2, 3, 15))
    table = FluxTable(("a", "b"), ("x", "y", "z"), y, np.zeros((2, 3)))
    c = table.harmonics_Wb()
    assert c.shape == (2, 3, 8)
    k = np.arange(1, 8)
    wave = np.exp(1j * np.outer(k, table.rotor_angle_rad))
    again = c[:, :, :1].real + 2 * (c[:, :, 1:] @ wave).real
    assert again == pytest.approx(y, abs=1e-14)  # an odd number of angles loses nothing


def test_resolution_tells_too_few_angles():
    fine = flux_table(machine(), tolerance=1e-5)
    coarse = flux_table(machine(), angles=12, tolerance=1e-5)
    assert fine.resolution() < 1e-4
    assert coarse.resolution() > 1e-3


def test_resolution_of_extremes():
    nothing = FluxTable(("c",), ("r",), np.zeros((1, 1, 64)), np.zeros((1, 1)))
    assert nothing.resolution() == 0.0
    few = FluxTable(("c",), ("r",), np.ones((1, 1, 6)), np.zeros((1, 1)))
    assert few.resolution() == 1.0
    noise = np.random.default_rng(0).normal(size=(1, 1, 200))
    assert FluxTable(("c",), ("r",), noise, np.zeros((1, 1))).resolution() > 0.3


def test_progress_is_called_for_every_pair():
    calls = []
    flux_table(machine(), tolerance=1e-2, progress=lambda done, of: calls.append((done, of)))
    assert calls == [(1, 4), (2, 4), (3, 4), (4, 4)]


@pytest.mark.parametrize("angles", [-1, 0, 3, 1_000_001])
def test_impossible_angles(angles):
    with pytest.raises(ImpossibleError, match=f"{angles} angles is out of range; allowed: 4 to"):
        flux_table(machine(), angles=angles)


@pytest.mark.parametrize("tolerance", [0.0, -1e-6, 1e-12, 0.02, float("nan"), float("inf")])
def test_impossible_tolerance(tolerance):
    with pytest.raises(ImpossibleError, match=r"is out of range; allowed: 1e-11 to 0\.01"):
        flux_table(machine(), tolerance=tolerance)


def test_wrong_shape_is_refused():
    with pytest.raises(ValueError, match=r"needs \(coils, rotors, angles\) with 1 coils"):
        FluxTable(("c",), ("r",), np.zeros((2, 1, 8)), np.zeros((1, 1)))


def test_arrays_cannot_be_written(table):
    with pytest.raises(ValueError, match="read-only"):
        table.linkage_Wb[0, 0, 0] = 1.0
    with pytest.raises(ValueError, match="read-only"):
        table.relative_error[0, 0] = 1.0


def test_equality():
    y = np.arange(8.0)[None, None]
    first = FluxTable(("c",), ("r",), y.copy(), np.array([[np.nan]]), "one")
    same = FluxTable(("c",), ("r",), y.copy(), np.array([[np.nan]]), "another title")
    other = FluxTable(("c",), ("r",), y + 1e-16 * (y == 1) + (y == 2) * 1e-9, np.zeros((1, 1)))
    assert first == same
    assert first != other
    assert first != "a table"
