"""The axes of the page's charts: round values that hold the curves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.live.axes import axis, round_up

VALUES = st.floats(-1e6, 1e6).filter(lambda value: value == 0 or abs(value) > 1e-6)


@given(VALUES, VALUES, st.booleans())
def test_an_axis_holds_its_values_and_few_ticks(one, other, widened):
    low, high = sorted((one, other))
    if 0 < high - low < 1e-6 * max(abs(low), abs(high)):
        return
    made = axis("voltage [V]", low, high, widened=widened)
    near = 1e-5 * (made.high - made.low)
    assert made.low <= low + near
    assert made.high >= high - near
    assert 2 <= len(made.ticks) <= 8
    assert all(made.low - near <= tick.value <= made.high + near for tick in made.ticks)
    assert len({tick.text for tick in made.ticks}) == len(made.ticks)
    for tick in made.ticks:
        assert float(tick.text) == pytest.approx(tick.value, abs=near)


def test_an_axis_stays_where_values_move_a_little():
    assert axis("", -3.1, 2.9) == axis("", -3.2, 3.0)


def test_a_flat_curve_has_an_axis():
    flat = axis("current [mA]", 0.0, 0.0)
    assert (flat.low, flat.high) == (-1.0, 1.0)


@pytest.mark.parametrize(("value", "expected"), [(1.0, 1.0), (1.01, 2.0), (0.3, 0.5), (7e-5, 1e-4)])
def test_round_up(value, expected):
    assert round_up(value) == pytest.approx(expected, rel=1e-12)
