"""Files to begin with compute as they stand, say what to change, and copy nothing twice."""

from __future__ import annotations

from itertools import pairwise

import pytest
from machines import GEOMETRIES, shipped

import fieldsim as fs
from fieldsim.machine.clearance.clearances import check_collisions
from fieldsim.machine_file.starting import (
    shipped_file,
    starting_kinds,
    starting_machine,
    starting_text,
    starting_wishes,
)

MADE = ("single", "facing", "inside")
SHIPPED = sorted(path.stem for path in GEOMETRIES.glob("*.yaml"))
WITH = [{}, {"gears": True}, {"lamps": True}, {"gears": True, "lamps": True}]


@pytest.fixture
def written(tmp_path):
    """Return a function that writes a file to begin with and gives the machine that it holds."""

    def call(kind, **more):
        path = tmp_path / "mine.yaml"
        path.write_text(starting_text(kind, **more), encoding="utf-8")
        return fs.read(path)

    return call


def test_the_kinds_are_the_made_and_the_shipped():
    assert list(starting_kinds()) == [*MADE, *SHIPPED]
    assert all(kind.about for kind in starting_kinds().values())


@pytest.mark.parametrize("more", WITH)
@pytest.mark.parametrize("kind", MADE)
def test_the_file_holds_the_machine(kind, more, written):
    machine = written(kind, **more)
    assert machine == starting_machine(kind, **more)
    assert bool(machine.gears) == bool(machine.crank) == bool(machine.friction) == ("gears" in more)
    assert bool(machine.load) == ("lamps" in more)
    assert min(c.distance_m for c in check_collisions(machine)) >= 1e-3
    assert {magnet.grade for magnet in machine.magnets} == {"N35"}


@pytest.mark.parametrize("kind", MADE)
def test_the_lamps_light_within_their_ratings_at_a_comfortable_speed(kind, written):
    """From 90 rpm, and at the command line's 120."""
    machine = written(kind, gears=True, lamps=True)
    for speed in ("90 rpm", "120 rpm"):
        point = fs.OperatingPoint(machine, speed, tolerance=1e-4)
        (lamp,) = point.light.lamps
        assert lamp.lights
        assert 1e-3 < lamp.average_current_A < 15e-3  # of 20 mA that such lamps bear
        assert lamp.peak_current_A < 30e-3
    effort = point.effort
    assert 0 < effort.crank.average_torque_Nm < 1.0
    assert set(machine.train.meshes.values()) == {1}


def test_gears_keep_the_ratio_and_turn_it_over():
    for kind in MADE:
        plain = starting_machine(kind).train.ratios
        geared = starting_machine(kind, gears=True).train.ratios
        assert geared == {rotor: -ratio for rotor, ratio in plain.items()}


@pytest.mark.parametrize("more", WITH)
@pytest.mark.parametrize("kind", MADE)
def test_the_text_is_one_to_read(kind, more):
    text = starting_text(kind, **more)
    lines = text.splitlines()
    assert text.isascii()
    assert max(map(len, lines)) <= 80
    assert text.endswith("\n")
    assert lines[0].startswith("# ")
    # Every section has its note above it, and every kind of key its meaning once.
    for above, line in pairwise(lines):
        if line[:1].isalpha():
            assert above.startswith("# "), line
    for words in ("# from the shaft line to the magnet's centre", "# middle of the winding"):
        assert text.count(words) == 1
    assert ("fieldsim light FILE" in text) == ("lamps" in more)
    assert ("fieldsim effort FILE" in text) == ("gears" in more)


def test_words_that_may_be_written_are_told():
    text = " ".join(starting_text("single", lamps=True).replace("#", "").split())
    assert "(+shaft, -shaft, out, in, forward, back) north: +shaft" in text
    assert "(none, single, bridge) rectifier: bridge" in text
    assert "wrong way round gives a caution polarised: true" in text


@pytest.mark.parametrize("kind", SHIPPED)
def test_a_shipped_machine_is_copied_as_it_is(kind, written):
    assert starting_text(kind) == (GEOMETRIES / f"{kind}.yaml").read_text(encoding="utf-8")
    assert written(kind) == starting_machine(kind) == shipped(kind)
    for more in WITH[1:]:
        for function in (starting_text, starting_machine):
            with pytest.raises(fs.ImpossibleError, match=f'"{kind}" is copied as it is; gears and'):
                function(kind, **more)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("lamp_rings", 'no kind "lamp_rings"; did you mean "lamp_ring"? There are: single, facing'),
        ("zzz", 'no kind "zzz"; there are: single, facing, inside, bar_inside_coil,'),
        ("../pyproject", 'no kind "../pyproject"; there are:'),
        ("", 'no kind ""; there are: single'),
    ],
)
def test_another_kind_lists_the_kinds(kind, words):
    with pytest.raises(fs.ImpossibleError) as caught:
        starting_text(kind)
    assert str(caught.value).startswith(words)


def test_wishes_are_given_as_text_and_are_no_machines():
    (name,) = starting_wishes()
    path = GEOMETRIES / "wishes" / f"{name}.yaml"
    assert starting_text(name) == path.read_text(encoding="utf-8")
    with pytest.raises(fs.ImpossibleError, match=f'"{name}" is a wish, not a machine'):
        starting_machine(name)


def test_only_shipped_machines_have_files():
    shipped = shipped_file("lamp_ring")
    assert shipped.read_bytes() == (GEOMETRIES / "lamp_ring.yaml").read_bytes()
    for name in ("facing", "six_lamps", "../pyproject", ""):
        assert shipped_file(name) is None
