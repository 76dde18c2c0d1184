"""Curves that are made together beside each alone: they may differ by what both state, no more."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ring_cases import BOTH, CASES, distance_m2, random_case

from fieldsim.field.linkage import ring_curve
from fieldsim.field.linkage.ring_curve import ring_curves

ALL_IN_ONE, EACH_ALONE = 1_000_000_000, -1_000_000_000


def hold(asked, together):
    """Check that curves are converged, in order, and as near to the truth as they say."""
    for (track, winding, relative), one in zip(asked, together, strict=True):
        (exact,) = ring_curves([(track, winding, 1e-7)])
        assert one.converged
        assert one.error_m2 <= relative * one.swing_m2
        assert distance_m2(one, exact) <= one.error_m2 + exact.error_m2


@pytest.mark.parametrize("calls", [ALL_IN_ONE, ring_curve._CALLS, EACH_ALONE])
def test_all_kinds_at_once(calls, monkeypatch):
    """Shapes, directions, windings and corners of every kind, and errors asked, in one call."""
    monkeypatch.setattr(ring_curve, "_CALLS", calls)
    asked = [(*case, 10.0 ** -(3 + i % 3)) for i, case in enumerate(BOTH.values())]
    hold(asked, ring_curves(asked))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 9))
def test_any_magnets_and_windings(seed, count):
    rng = np.random.default_rng(seed)
    asked = [(*random_case(rng), 10.0 ** rng.uniform(-5, -2)) for _ in range(count)]
    together = ring_curves(asked)
    for one, alone in zip(together, (ring_curves([each])[0] for each in asked), strict=True):
        assert one.converged
        assert alone.converged
        assert distance_m2(one, alone) <= one.error_m2 + alone.error_m2


def rows(count=12):
    """A cuboid over a winding, farther and farther away."""
    track, winding = CASES["beside"]
    raised = np.linspace(0.0, 0.02, count)
    return [(type(track)(track.shape, track.radius, track.height + z, track.north), winding)
            for z in raised.tolist()]  # fmt: skip


def test_rows_share_nodes_and_angles(monkeypatch):
    """In one group all have as many; in the usual groups far ones need fewer than near ones."""
    asked = [(*row, 1e-4) for row in rows()]
    usual = ring_curves(asked)
    monkeypatch.setattr(ring_curve, "_CALLS", ALL_IN_ONE)
    one_group = ring_curves(asked)
    assert len({each.angles for each in one_group}) == 1
    assert usual[-1].points < usual[0].points
    assert sum(each.points for each in usual) < sum(each.points for each in one_group)
    hold(asked, one_group)


@pytest.mark.parametrize("together", [1, 3000, 400_000])
def test_so_few_at_a_time_that_they_need_no_memory(together, monkeypatch):
    monkeypatch.setattr(ring_curve, "_CALLS", ALL_IN_ONE)
    monkeypatch.setattr(ring_curve, "_TOGETHER", together)
    asked = [(*row, 1e-5) for row in rows(5)]
    hold(asked, ring_curves(asked))


def test_nothing_asked():
    assert ring_curves([]) == []


def test_the_same_company_gives_the_same_bits():
    asked = [(*case, 1e-4) for case in CASES.values()]
    first, second = ring_curves(asked), ring_curves(asked)
    for one, other in zip(first, second, strict=True):
        assert math.isfinite(one.error_m2)
        assert np.array_equal(one.harmonics_m2, other.harmonics_m2)
