"""Windings far too large for one piece: another way to the same linkage, within what is stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import block, coil, mounted, rotor

from fieldsim.field.linkage import ring_curve as ring_curve_module
from fieldsim.field.linkage import track_curve as track_curve_module
from fieldsim.field.linkage.pair_linkage import pair_linkage
from fieldsim.field.linkage.series import sample_series
from fieldsim.wire.corners import Corners

SPUN = rotor(mounted(block(5, 4, 3), 22, 9))

LARGE = {
    "wide": coil((0, 220, 0), opening=(460, 400), build=7, length=10),
    "long": coil((0, 250, 0), opening=(60, 460), build=27, length=10),
    "opening": coil((0, 600, 0), opening=(1200, 1160), build=7, length=10),
    "build": coil((0, 22, 0), opening=(14, 20), build=400, length=10),
    "both": coil((0, 200, 0), opening=(600, 30), build=300, length=10),
}


@pytest.mark.parametrize("corners", Corners)
@pytest.mark.parametrize("name", LARGE)
def test_in_one_piece_it_is_the_same(name, corners, monkeypatch):
    winding = replace(LARGE[name], corners=corners)
    tolerance = 1e-4
    usual = pair_linkage(winding, SPUN, tolerance)
    other_ways = []

    def whole(_, patches):
        other_ways.append("divided")
        return patches

    def not_too_large(*_):
        other_ways.append("by angles")
        return False

    monkeypatch.setattr(ring_curve_module, "divided", whole)
    monkeypatch.setattr(track_curve_module, "far_too_large", not_too_large)
    in_one = pair_linkage(winding, SPUN, tolerance)
    assert ("by angles" in other_ways) == (corners is Corners.ROUND)
    one, other = (sample_series(each.harmonics_Wb, 720) for each in (usual, in_one))
    difference = np.abs(one - other).max()
    assert difference > 0.0  # or both went the same way
    assert difference <= usual.error_Wb + in_one.error_Wb
    if name in ("wide", "long"):  # the others need too much in one piece
        assert usual.converged
        assert in_one.converged
        assert difference <= tolerance * np.ptp(other)
