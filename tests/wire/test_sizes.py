"""British gauges and metric diameters."""

import numpy as np
import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.wire.enamel import LARGEST_BARE_M, SMALLEST_BARE_M, Enamel, overall_diameter_m
from fieldsim.wire.round_wire import awg_diameter_m
from fieldsim.wire.sizes import (
    SWG_LEAST,
    SWG_MOST,
    parse_swg,
    preferred_m,
    swg_diameter_m,
    swg_wire,
)


@pytest.mark.parametrize(
    ("gauge", "inches"),
    [(13, 0.092), (18, 0.048), (22, 0.028), (30, 0.0124), (36, 0.0076), (48, 0.0016)],
)
def test_british_gauges(gauge, inches):
    """Legal sizes of the imperial standard wire gauge, from memory."""
    assert swg_diameter_m(gauge) == pytest.approx(inches * 25.4e-3, rel=1e-12)


def test_british_gauges_get_thinner_and_can_all_be_enamelled():
    sizes = [swg_diameter_m(gauge) for gauge in range(SWG_LEAST, SWG_MOST + 1)]
    assert (np.diff(sizes) < 0).all()
    assert LARGEST_BARE_M > sizes[0] > sizes[-1] > SMALLEST_BARE_M
    wire = swg_wire(36, Enamel.GRADE_2)
    assert wire.name == "SWG 36 grade 2"
    assert wire.overall_diameter_m == overall_diameter_m(wire.bare_diameter_m, Enamel.GRADE_2)
    for gauge in (SWG_LEAST - 1, SWG_MOST + 1):
        with pytest.raises(ImpossibleError, match="allowed: SWG 13 to SWG 48"):
            swg_wire(gauge)


@pytest.mark.parametrize("text", ["32", "AWG 32", "SWG", "SWG 3.2", 32, None, "SWG 32 mm"])
def test_other_sizes_are_no_british_gauge(text):
    assert parse_swg(text) is None


def test_preferred_diameters_are_twenty_a_decade():
    sizes = preferred_m()
    assert sizes[0] == pytest.approx(0.04e-3)
    assert sizes[-1] == pytest.approx(2.5e-3)
    assert len(sizes) == 36 + 1
    # R20 is rounded to about 1 %: steps of 12.2 %, much as from one American gauge to the next.
    assert sizes[1:] / sizes[:-1] == pytest.approx(10 ** (1 / 20), rel=0.02)
    assert float(awg_diameter_m(30) / awg_diameter_m(31)) == pytest.approx(10 ** (1 / 20), rel=1e-3)


def test_bounds_count_in():
    assert preferred_m(0.2e-3, 0.25e-3) == pytest.approx([0.2e-3, 0.224e-3, 0.25e-3])
    assert len(preferred_m(0.201e-3, 0.223e-3)) == 0
