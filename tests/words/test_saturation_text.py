"""What is said of iron that saturates, at any width."""

from __future__ import annotations

from dataclasses import replace

import pytest
from machines import shipped

from fieldsim.operation import saturated_emf as module
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.operation.saturated_emf import saturated_emf
from fieldsim.words.emf_text import emf_text
from fieldsim.words.layout import laid_out
from fieldsim.words.numbers import change, number, share
from fieldsim.words.saturation_text import saturation_blocks


@pytest.fixture(scope="module")
def point():
    thin = shipped("bolt_beside_magnets").changed({"coils.pickup.core.diameter": "3 mm"})
    return OperatingPoint(thin, "60 rpm", tolerance=1e-3)


@pytest.fixture(scope="module")
def found(point):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_CELLS", 100)
        patch.setattr(module, "_FEWER", 50)
        return saturated_emf(point)


def test_the_row_holds_the_figures(found):
    text = laid_out(saturation_blocks(found))
    (row,) = (line for line in text.splitlines() if line.startswith("pickup"))
    now, less = found.figures["pickup"], found.changes["pickup"]
    expected = [number(now.peak_V, 4), number(now.rms_V, 4)]
    expected.append(number(now.peak_to_peak_linkage_Wb * 1e3, 4))
    shares = [change(part) for part in (less.peak_share, less.rms_share, less.swing_share)]
    shares.append(share(less.rms_share_error, 2))
    assert row.split() == ["pickup", *expected, *" ".join(shares).split()]
    assert less.rms_share < -0.2


@pytest.mark.parametrize("width", [40, 80])
def test_it_stands_between_the_figures_and_the_cautions(point, found, width):
    text = emf_text(point, width, saturated=found)
    assert max(map(len, text.splitlines())) <= width
    words = " ".join(text.split())
    linear, added = words.index("The waveform repeats"), words.index("With iron that saturates")
    assert linear < added < words.index("Caution: core of pickup")
    assert "With iron that saturates" not in emf_text(point, width)


def test_other_speeds_are_told(found):
    assert "Speeds are taken" not in laid_out(saturation_blocks(found))
    text = " ".join(laid_out(saturation_blocks(replace(found, speed_shift=0.0123))).split())
    assert "Speeds are taken up to 1.2 % off" in text
