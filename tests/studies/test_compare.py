"""Designs side by side: the figures are those of each alone, ratios are matched by coil."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.machine_file.reader import read_sound
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.studies.compare import Comparison, Design, compare
from fieldsim.waveform.emf import crank_speed, emf_waveform
from fieldsim.waveform.figures import EmfFigures, emf_figures
from fieldsim.waveform.flux_table import flux_table


def point(machine, tolerance=1e-4):
    return OperatingPoint(machine, crank_speed_rad_per_s=12.0, tolerance=tolerance)


@pytest.fixture(scope="module")
def one(request):
    return read_sound(request.config.rootpath / "geometries" / "one_rotor.yaml")


def with_turns(geometry, turns):
    return replace(geometry, coils=tuple(replace(c, turns=turns) for c in geometry.coils))


def test_figures_are_those_of_each_alone(one):
    twice = with_turns(one, 3600)
    found = compare([point(one), point(twice)])
    for machine, design in zip((one, twice), found.designs, strict=True):
        alone = emf_figures(
            emf_waveform(flux_table(machine, tolerance=1e-4), machine, crank_speed(machine, 12.0))
        )
        assert design.figures == alone
        assert (design.title, design.file) == (machine.title, machine.file)
        assert 0 < design.relative_error <= 1e-4


def test_twice_the_turns_is_twice_the_voltage(one):
    found = compare([point(one), point(with_turns(one, 3600))])
    for figure in ("peak_V", "rms_V", "rectified_mean_V", "peak_to_peak_linkage_Wb"):
        ratio = found.ratio_to_first(found.designs[1], "pickup", figure)
        assert ratio == pytest.approx(2.0, rel=1e-12)  # the same curve times two
    assert found.ratio_to_first(found.designs[1], "pickup", "frequency_Hz") == 1.0
    assert found.ratio_to_first(found.designs[0], "pickup", "rms_V") == 1.0


def design(**rms):
    figures = {coil: EmfFigures(2 * v, v, 0.9 * v, 50.0, 0.1) for coil, v in rms.items()}
    return Design("t", "f", figures, 0.0)


def test_coils_are_matched_by_name():
    found = Comparison((design(a=1.0, b=10.0), design(b=5.0, a=3.0, c=7.0)))
    second = found.designs[1]
    assert found.ratio_to_first(second, "a", "rms_V") == 3.0
    assert found.ratio_to_first(second, "b", "rms_V") == 0.5
    assert found.ratio_to_first(second, "c", "rms_V") is None


def test_a_lone_first_coil_is_the_measure_for_all():
    found = Comparison((design(a=2.0), design(b=5.0, c=7.0)))
    assert found.ratio_to_first(found.designs[1], "b", "rms_V") == 2.5
    assert found.ratio_to_first(found.designs[1], "c", "rms_V") == 3.5


def test_nothing_is_no_measure():
    for silent in (0.0, 1e-17):
        found = Comparison((design(a=silent), design(a=5.0)))
        assert found.ratio_to_first(found.designs[1], "a", "rms_V") is None


def test_progress_and_nothing_to_compare(one):
    calls = []
    compare([point(one, 1e-2)] * 2, progress=lambda *done: calls.append(done))
    assert calls == [(1, 2), (2, 2)]
    with pytest.raises(ImpossibleError, match="nothing to compare"):
        compare([])
