"""The flux table at a speed, and the EMF that follows: no longer as the speed."""

from __future__ import annotations

import numpy as np
import pytest
from machines import shipped

from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.waveform.emf import emf_waveform

TABLE = 1e-4  # of the linkage


@pytest.fixture(scope="module")
def slow():
    return OperatingPoint(shipped("bolt_beside_magnets"), "0.001 rpm")


def at(slow, rpm):
    return OperatingPoint(slow.machine, f"{rpm} rpm", near=slow)


def per_speed(point):
    return point.figures["pickup"].rms_V / abs(point.speed.base_rad_per_s)


def test_slow_turning_gives_what_the_table_says(slow):
    still = emf_waveform(slow.flux_table, slow.machine, slow.speed)
    assert slow.waveform.emf_V == pytest.approx(still.emf_V, rel=1e-3, abs=1e-5 * still.emf_V.max())


def test_the_emf_grows_less_than_the_speed(slow):
    found = [per_speed(at(slow, rpm)) for rpm in (0.01, 1, 30, 120, 500, 2000)]
    assert np.all(np.diff(found) < 0)
    assert found[3] < 0.98 * found[0]


def test_very_fast_turning_leaves_less_than_no_iron(slow):
    """What lets no flux in takes some from a coil wound on it."""
    without = OperatingPoint(slow.machine.changed({"coils.pickup.core": None}), "120 rpm")
    fast = at(slow, 90_000)
    limit = fast.eddies.level.system.screened(1e20)
    assert per_speed(fast) < 0.7 * per_speed(slow)
    (rotor,) = slow.machine.placed_rotors
    drawn = limit.charges(fast.eddies.level.fields)[:, 0]
    bare = without.flux_table.harmonics_Wb()[0, 0, 2]
    assert abs(bare - fast.eddies.potential(rotor)[2] @ drawn) < 0.9 * abs(bare)


def test_the_linkage_is_that_at_rest(slow):
    fast = at(slow, 500)
    still = emf_waveform(fast.flux_table, fast.machine, fast.speed)
    assert np.array_equal(fast.waveform.linkage_Wb, still.linkage_Wb)
    swing = float(fast.flux_table.peak_to_peak_Wb[0, 0])
    assert fast.figures["pickup"].peak_to_peak_linkage_Wb == pytest.approx(swing, rel=TABLE)


def test_the_emf_comes_late_whichever_way_it_turns(slow):
    for rpm in (120, -120):
        point = at(slow, rpm)
        still = emf_waveform(point.flux_table, point.machine, point.speed)
        spectra = [np.fft.rfft(w.emf_V[0]) for w in (point.waveform, still)]
        (first,) = {int(np.argmax(np.abs(each))) for each in spectra}
        assert -0.2 < np.angle(spectra[0][first] / spectra[1][first]) < -1e-3


def test_without_eddy_currents_the_table_is_the_same(slow):
    ferrite = slow.machine.changed({"coils.pickup.core.material": "ferrite rod"})
    point = OperatingPoint(ferrite, "500 rpm")
    assert point.moving_flux_table is point.flux_table


def test_currents_brake_by_what_turning_back_would_give(slow):
    point = at(slow, 300)
    back = at(slow, -300)
    assert np.array_equal(point.braking_flux_table.linkage_Wb, back.moving_flux_table.linkage_Wb)
    moved = point.braking_flux_table.linkage_Wb - point.moving_flux_table.linkage_Wb
    assert np.abs(moved).max() > 1e-3 * np.abs(point.flux_table.linkage_Wb).max()
