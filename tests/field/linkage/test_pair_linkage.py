"""One coil with one whole rotor: shared tracks, signs, cancelling magnets, sampling of series."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from machines import block, coil, magnet, mounted, rotor, si_coil, si_magnet

from fieldsim.field.linkage.pair_linkage import pair_linkage, sample_series
from fieldsim.machine.magnets import Cylinder, North

MM = 1e-3
BAR = magnet(block(20, 10, 5))
WEAK = magnet(block(20, 10, 5), 0.3, "weak")
CUBE = magnet(block(8, 8, 8), 1.1, "cube")
COIL = coil()


def curve(*magnets, count=360, tolerance=1e-6, winding=COIL):
    return sample_series(pair_linkage(winding, rotor(*magnets), tolerance).harmonics_Wb, count)


def test_sampling_a_series():
    c = np.array([[0.5, 0.1 - 0.2j, 0.0, 0.03j], [0.0, 1.0, 2.0, 3.0]])
    angle = 2 * np.pi * np.arange(10) / 10
    k = np.arange(4)
    expected = 2 * (c @ np.exp(1j * np.outer(k, angle))).real - c[:, :1].real
    assert sample_series(c, 10) == pytest.approx(expected, abs=1e-14)  # rounding


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 12), st.integers(1, 30), st.integers(0, 1000))
def test_sampling_is_exact_with_few_and_many(orders, count, seed):
    """Also with fewer samples than would tell the orders apart."""
    parts = np.random.default_rng(seed).normal(size=(2, orders))
    c = parts[0] + 1j * parts[1]
    c[0] = c[0].real
    angle = 2 * np.pi * np.arange(count) / count
    expected = 2 * (np.exp(1j * np.outer(angle, np.arange(orders))) @ c).real - c[0].real
    assert sample_series(c, count) == pytest.approx(expected, abs=1e-12)  # rounding of 12 terms


def test_a_magnet_further_on_is_the_same_curve_earlier():
    """A magnet 90 degrees on along the rotor reaches the coil a quarter of a turn before."""
    first, second = curve(mounted()), curve(mounted(angle=math.pi / 2))
    assert np.argmax(first) == 90  # arm at 0 points along x, the coil lies along y
    assert np.argmax(second) == 0
    # The same series, shifted: rounding only.
    assert second == pytest.approx(np.roll(first, -90), abs=1e-13 * np.ptp(first))


def test_facing_north_links_positively():
    """Beyond either pole of a magnet the field points the way its north does."""
    above = curve(mounted(height=13.0))
    below = curve(mounted(height=-13.0))
    assert above[90] > 0.5 * np.ptp(above)
    assert below[90] == pytest.approx(above[90], abs=1e-6 * np.ptp(above))  # tolerance asked


def test_reversed_pole_reversed_sign():
    forth, back = curve(mounted()), curve(mounted(north=North.MINUS_SHAFT))
    assert np.array_equal(back, -forth)


def test_identical_magnets_share_one_curve():
    """Two magnets cost one computation: the sum is exact to rounding, not to the tolerance."""
    one = curve(mounted(), tolerance=1e-3)
    both = curve(mounted(), mounted(angle=math.pi, north=North.MINUS_SHAFT), tolerance=1e-3)
    assert both == pytest.approx(one - np.roll(one, 180), abs=1e-13 * np.ptp(one))


def test_strength_scales():
    strong, weak = curve(mounted()), curve(mounted(WEAK))
    assert weak == pytest.approx(strong / 4, abs=1e-15 * np.ptp(strong))


def test_different_tracks_add():
    parts = [
        mounted(),
        mounted(CUBE, 20.0, 14.0, 1.0, North.OUT),
        mounted(WEAK, angle=4.0, north=North.BACK),
    ]
    together = curve(*parts)
    alone = sum(curve(p) for p in parts)
    # Each was asked for 1e-6 of its own peak-to-peak.
    bound = 1e-6 * (sum(np.ptp(curve(p)) for p in parts) + np.ptp(together))
    assert np.abs(together - alone).max() < bound


def test_turns_scale():
    double = si_coil(
        "c", (0, 22 * MM, 0), (0, 0, 1), (1, 0, 0), (24 * MM, 16 * MM), 10 * MM, 4 * MM, 2000
    )
    assert np.array_equal(curve(mounted(), winding=double), 2 * curve(mounted()))


def test_no_magnets_no_linkage():
    pair = pair_linkage(COIL, rotor(), 1e-6)
    assert sample_series(pair.harmonics_Wb, 8).tolist() == [0.0] * 8
    assert pair.relative_error == 0.0


def test_opposite_magnets_in_one_place_cancel():
    pair = pair_linkage(COIL, rotor(mounted(), mounted(north=North.MINUS_SHAFT)), 1e-5)
    assert np.abs(sample_series(pair.harmonics_Wb, 64)).max() < 1e-14 * pair.scale_Wb
    # Symmetry leaves nothing: the error is stated beside what each magnet alone would swing.
    assert pair.relative_error <= 1e-5


ROUND_THE_SHAFT = si_coil(
    "c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (24 * MM, 16 * MM), 10 * MM, 4 * MM, 1000
)
DISC = si_magnet("disc", Cylinder(12 * MM, 4 * MM), 1.2)


@pytest.mark.parametrize(
    "only",
    [
        mounted(DISC, radius=0.0, height=14.0),  # links much, but never another amount
        mounted(BAR, north=North.OUT, radius=0.0, height=14.0),  # links nothing
        mounted(DISC, north=North.OUT, radius=0.0, height=14.0),
    ],
    ids=["disc", "bar across", "disc across"],
)
def test_one_magnet_that_symmetry_keeps_from_swinging(only):
    """Its swing is rounding: no number to set the error against, nor to search digits of."""
    pair = pair_linkage(ROUND_THE_SHAFT, rotor(only), 1e-5)
    assert pair.swing_Wb < 1e-12 * 1000 * 1.2 * (20 * MM) ** 2  # turns, tesla, size
    assert pair.converged
    assert pair.relative_error <= 1e-5
    assert pair.angles <= 128


@pytest.mark.parametrize("weak", [1.19, 1.1999])
def test_nearly_cancelling_magnets_keep_the_tolerance(weak):
    """The tolerance is of what is left, not of the magnets' own curves."""
    nearly = si_magnet("nearly", BAR.shape, weak)
    # Side by side, so that they have tracks of their own and their errors differ.
    pair = pair_linkage(
        COIL, rotor(mounted(), mounted(nearly, 22.01, north=North.MINUS_SHAFT)), 1e-4
    )
    best = pair_linkage(
        COIL, rotor(mounted(), mounted(nearly, 22.01, north=North.MINUS_SHAFT)), 1e-7
    )
    assert pair.swing_Wb < 0.02 * pair.scale_Wb
    true = np.abs(
        sample_series(pair.harmonics_Wb, 720) - sample_series(best.harmonics_Wb, 720)
    ).max()
    assert pair.converged
    assert pair.relative_error <= 1e-4
    assert true <= 1e-4 * pair.swing_Wb
    assert true <= pair.error_Wb + best.error_Wb


def test_swing_and_scale():
    pair = pair_linkage(
        COIL, rotor(mounted(), mounted(angle=math.pi, north=North.MINUS_SHAFT)), 1e-5
    )
    values = sample_series(pair.harmonics_Wb, 5000)
    assert pair.swing_Wb == pytest.approx(np.ptp(values), rel=1e-3)  # between its own samples
    # Two magnets' own flux, remanence times volume to the two thirds, through all turns: exact.
    kind = mounted().magnet
    own = kind.remanence * kind.shape.volume_m3 ** (2 / 3)
    assert pair.scale_Wb == pytest.approx(2 * COIL.turns * own, rel=1e-12)
    assert pair.swing_Wb < pair.scale_Wb
