"""Enamel tables: order of grades, monotony, shape, range; what is published is in ``outside``."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.errors import ImpossibleError
from fieldsim.wire.enamel import LARGEST_BARE_M, SMALLEST_BARE_M, Enamel, overall_diameter_m

BARE_M = np.geomspace(SMALLEST_BARE_M, LARGEST_BARE_M, 4000)


@pytest.mark.parametrize("enamel", Enamel)
def test_thicker_copper_is_thicker_over_the_enamel(enamel):
    assert np.all(np.diff(overall_diameter_m(BARE_M, enamel)) > 0)


@pytest.mark.parametrize(
    ("thin", "thick"), [(Enamel.SINGLE, Enamel.HEAVY), (Enamel.GRADE_1, Enamel.GRADE_2)]
)
def test_grades_are_in_order(thin, thick):
    assert np.all(overall_diameter_m(BARE_M, thin) > BARE_M)
    assert np.all(overall_diameter_m(BARE_M, thick) > overall_diameter_m(BARE_M, thin))


@pytest.mark.parametrize("enamel", Enamel)
@given(
    bare=st.lists(st.floats(SMALLEST_BARE_M, LARGEST_BARE_M), min_size=1, max_size=5),
)
@settings(max_examples=20, deadline=None)
def test_array_equals_scalar(enamel, bare):
    array = overall_diameter_m([bare, bare], enamel)
    assert array.shape == (2, len(bare))
    assert array[1].tolist() == [float(overall_diameter_m(d, enamel)) for d in bare]


@pytest.mark.parametrize("bare", [0.0, -1e-4, 1e-6, 3e-3, np.nan, np.inf])
def test_no_such_wire(bare):
    with pytest.raises(ImpossibleError, match=r"allowed: 0\.039 mm to 2\.6 mm"):
        overall_diameter_m([0.2e-3, bare], Enamel.SINGLE)
