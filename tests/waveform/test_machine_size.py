"""How many numbers a machine takes, against what its table turns out to need."""

from pathlib import Path

import pytest

import fieldsim as fs
from fieldsim.errors import ImpossibleError
from fieldsim.waveform.flux_table import flux_table
from fieldsim.waveform.machine_size import machine_numbers, refuse_large, refuse_many

SHIPPED = Path(__file__).parents[2] / "geometries"
LAMP_RING = SHIPPED / "lamp_ring.yaml"


def enlarged(radius_mm, ratios=(8, 8)):
    """The lamp ring with another radius and other ratios."""
    machine = fs.read(LAMP_RING)
    upper, lower = ratios
    at = f"{radius_mm} mm"
    return machine.changed(
        {
            "rotors.upper.magnets[0].radius": at,
            "rotors.lower.magnets[0].radius": at,
            "coils.pickup.centre[1]": at,
            "rotors.upper.gear_ratio": upper,
            "rotors.lower.gear_ratio": lower,
        }
    )


@pytest.mark.parametrize("tolerance", [1e-6, 1e-4])
@pytest.mark.parametrize("radius_mm", [26, 100, 200, 400, 700])
def test_orders_foretold_are_enough_and_not_far_too_many(radius_mm, tolerance):
    machine = enlarged(radius_mm)
    # eight samples to an order, of a coil and what its circuit takes beside
    foretold = machine_numbers(machine, tolerance) / (8 * 9)
    used = flux_table(machine, tolerance=tolerance).angles / 2
    assert foretold < 3 * used
    if used > 180:  # fewer are never listed
        assert foretold > used


def test_numbers_grow_with_the_turns_until_gears_come_back_together():
    alike, odd = enlarged(26), enlarged(26, ratios=(7, 8))
    assert machine_numbers(odd, 1e-6) == pytest.approx(8 * machine_numbers(alike, 1e-6), rel=0.01)


def test_a_machine_far_too_large_is_refused_with_what_makes_it_so():
    large = enlarged(700, ratios=(31, 32))
    with pytest.raises(ImpossibleError, match=r"1 coil and 2 rotors like this takes 1\d\.\d mill"):
        refuse_large(large, 1e-6)
    with pytest.raises(ImpossibleError, match="gear ratios that come back together sooner"):
        flux_table(large)
    refuse_large(enlarged(700), 1e-6)


def test_a_study_of_large_machines_says_how_many_it_may_have():
    large = enlarged(700)
    with pytest.raises(ImpossibleError, match="at most (\\d+) are worked out at once") as caught:
        refuse_many(large, 1e-6, 1000)
    allowed = int(str(caught.value).split("at most ")[1].split()[0])
    refuse_many(large, 1e-6, allowed)
    with pytest.raises(ImpossibleError):
        refuse_many(large, 1e-6, allowed + 1)


@pytest.mark.parametrize("file", sorted(SHIPPED.glob("*.yaml")), ids=lambda file: file.stem)
def test_studies_of_shipped_machines_are_never_refused(file):
    refuse_many(fs.read(file), 1e-6, 1000)
