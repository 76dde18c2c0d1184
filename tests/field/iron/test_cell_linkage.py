"""What cells add to the linkage of coils, beside what charge on the surface does."""

from __future__ import annotations

import math

import numpy as np
from iron_bodies import placed
from machines import MM, block, coil, mounted, rotor

from fieldsim.field.iron import cell_linkage
from fieldsim.field.iron.cell_linkage import CellLinkage
from fieldsim.field.iron.coil_iron import CoilIron
from fieldsim.field.iron.iron_cells import iron_cells
from fieldsim.field.linkage.pair_linkage import pair_linkage, sample_series
from fieldsim.machine.iron import Rod

COIL, COUNT = coil(turns=100), 24
TURNING = rotor(mounted(block(20, 10, 5), height=16), mounted(block(10, 10, 5), height=14, angle=2))
ANGLES = math.tau * np.arange(COUNT) / COUNT


def linkage(saturation, cells=200):
    piece = placed(Rod(8 * MM, 30 * MM), 20.0, saturation, centre=(0, 22 * MM, -10 * MM))
    return piece, CellLinkage.of(iron_cells([piece], cells), [COIL], [TURNING])


def test_linear_iron_adds_what_its_surface_charge_does():
    piece, cells = linkage(2.0)
    few, found = (each.at(ANGLES[None])[0, 0] for each in (linkage(2.0, 60)[1], cells))
    known = CoilIron((piece,), (COIL,), (TURNING,))
    with_iron, without = (
        sample_series(pair_linkage(COIL, TURNING, 1e-5, *more).harmonics_Wb, COUNT)
        for more in ((known,), ())
    )
    off, rough = (np.abs(one - (with_iron - without)).max() for one in (found, few))
    # cells demagnetise themselves too well, the more so the larger they are
    assert off < 0.03 * np.ptp(found)
    assert off < 0.75 * rough


def test_without_a_saturation_all_is_the_same_twice():
    linear, saturated, *growths = linkage(None)[1].at(ANGLES[None])
    assert np.abs(linear - saturated).max() < 1e-5 * np.ptp(linear)
    assert np.abs(growths[0] - growths[1]).max() < 5e-3 * np.ptp(growths[0])


def test_what_saturates_adds_less():
    linear, saturated, *growths = linkage(0.3)[1].at(ANGLES[None])
    assert 0.3 < np.ptp(saturated) / np.ptp(linear) < 0.95
    assert np.ptp(growths[1]) < 0.7 * np.ptp(growths[0])


def test_rotors_add_up_where_iron_is_linear(monkeypatch):
    _, cells = linkage(None)
    first, second = (rotor(magnet) for magnet in TURNING.magnets)
    both = CellLinkage(cells.system, (first, second), cells.linked_A_per_m)
    monkeypatch.setattr(cell_linkage, "_AT_ONCE", 5)
    steps = []
    found = both.at(np.stack([ANGLES, ANGLES]), lambda: steps.append(1))
    assert len(steps) >= 5
    assert np.abs(found[0] - cells.at(ANGLES[None])[0]).max() < 1e-9 * np.ptp(found[0])
