"""Gear trains: exact ratios, signs by the number of meshes, losses, and impossible trains."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.machine.gears import (
    CRANK,
    DEFAULT_MESH_EFFICIENCY,
    COMFORTABLE_CRANK_SPEED_rpm,
    GearTrain,
    GearTrainError,
    Wheel,
)

teeth = st.integers(5, 200)


def row(*counts: tuple[int, int], efficiency: float = 0.9) -> list[Wheel]:
    """A row of steps, each a driver and a driven wheel, the next driver on the driven's axle."""
    wheels = []
    axle = CRANK
    for step, (driver, driven) in enumerate(counts):
        wheels.append(Wheel(f"driver{step}", driver, on=axle))
        axle = f"driven{step}"
        wheels.append(Wheel(axle, driven, driven_by=f"driver{step}", efficiency=efficiency))
    last = wheels.pop()
    return [*wheels, Wheel(last.name, last.teeth, None, last.driven_by, False, efficiency, ("r",))]


@given(st.lists(st.tuples(teeth, teeth), min_size=1, max_size=5))
@settings(max_examples=50, deadline=None)
def test_ratio_is_exact_and_every_mesh_turns_it_round(steps):
    train = GearTrain.from_wheels(row(*steps))
    expected = Fraction(1)
    for driver, driven in steps:
        expected *= -Fraction(driver, driven)
    assert train.ratios == {"r": expected}
    assert train.meshes == {"r": len(steps)}
    assert train.efficiencies["r"] == pytest.approx(0.9 ** len(steps), rel=1e-12)  # rounding


@given(teeth, teeth, teeth)
@settings(max_examples=20, deadline=None)
def test_an_idler_changes_the_sign_only(first, idler, last):
    train = GearTrain.from_wheels(
        [
            Wheel("a", first, on=CRANK),
            Wheel("i", idler, driven_by="a"),
            Wheel("z", last, driven_by="i", rotors=("r",)),
        ]
    )
    assert train.ratios["r"] == Fraction(first, last)


def test_one_wheel_turns_two_rotors_in_opposite_senses():
    train = GearTrain.from_wheels(
        [
            Wheel("crown", 60, on=CRANK),
            Wheel("near", 12, driven_by="crown", rotors=("upper",)),
            Wheel("far", 12, driven_by="crown", same_sense=True, rotors=("lower",)),
        ]
    )
    assert train.ratios == {"upper": -5, "lower": 5}


def test_order_in_the_file_does_not_matter():
    wheels = row((60, 20), (45, 15))
    assert GearTrain.from_wheels(wheels[::-1]).ratios == GearTrain.from_wheels(wheels).ratios


def test_losses_in_a_row_multiply_when_driven_and_when_driving():
    train = GearTrain.from_wheels(row((60, 20), (40, 20)))
    torque, lost = train.crank_torque_Nm({"r": np.array([0.1, -0.1])})
    # Ratio 6, two meshes of 0.9: 0.6 / 0.81 forward, 0.6 * 0.81 back.
    assert torque == pytest.approx([0.6 / 0.81, -0.6 * 0.81], rel=1e-12)
    assert lost == pytest.approx([0.6 / 0.81 - 0.6, 0.6 - 0.6 * 0.81], rel=1e-12)


def test_turning_back_mirrors_the_losses():
    train = GearTrain.from_wheels(row((60, 20)))
    forward, _ = train.crank_torque_Nm({"r": np.array([-0.1, 0.1])}, 1)
    back, lost = train.crank_torque_Nm({"r": np.array([0.1, -0.1])}, -1)
    assert back == pytest.approx(-forward, rel=1e-12)
    assert (lost < 0).all()  # times a negative speed: a loss


def test_power_that_circulates_between_rotors_loads_only_the_meshes_it_passes():
    # Two rotors push each other with 0.1 N m: it goes in at one pinion and out at the other, and
    # the shared first step sees only the difference.
    train = GearTrain.from_wheels(
        [
            Wheel("start", 50, on=CRANK),
            Wheel("middle", 10, driven_by="start", efficiency=0.8),
            Wheel("big", 40, on="middle"),
            Wheel("left", 20, driven_by="big", efficiency=0.9, rotors=("a",)),
            Wheel("right", 20, driven_by="big", efficiency=0.9, rotors=("b",)),
        ]
    )
    torque, lost = train.crank_torque_Nm({"a": np.array([0.1]), "b": np.array([-0.1])})
    net = 2 * 0.1 / 0.9 - 2 * 0.1 * 0.9
    assert torque == pytest.approx([5 * net / 0.8], rel=1e-12)
    assert lost == pytest.approx([5 * net / 0.8], rel=1e-12)  # nothing else comes out


@given(
    st.lists(st.tuples(teeth, teeth), min_size=1, max_size=4),
    st.lists(st.floats(-1, 1), min_size=1, max_size=6),
    st.sampled_from([1, -1]),
)
@settings(max_examples=40, deadline=None)
def test_power_in_is_power_out_plus_loss(steps, needed, sense):
    train = GearTrain.from_wheels(row(*steps))
    torque, lost = train.crank_torque_Nm({"r": np.array(needed)}, sense)
    out = float(train.ratios["r"]) * np.array(needed)
    scale = np.abs(torque).max() + np.abs(out).max() + 1e-30
    assert np.abs(torque - out - lost).max() < 1e-12 * scale  # rounding
    assert (lost * sense >= -1e-12 * scale).all()


def test_a_shared_axle_adds_torques():
    train = GearTrain.from_wheels([Wheel("only", 20, on=CRANK, rotors=("a", "b"))])
    torque, lost = train.crank_torque_Nm({"a": np.array([1.0]), "b": np.array([2.0])})
    assert torque == pytest.approx([3.0])
    assert lost == pytest.approx([0.0])


def test_ratios_alone_and_when_they_repeat():
    train = GearTrain.from_ratios({"crank": Fraction(10, 3), "b": Fraction(-7, 4)})
    assert train.ratios == {"crank": Fraction(10, 3), "b": Fraction(-7, 4)}
    assert train.turns_until_repeat() == 12


def test_an_unknown_rotor_is_a_programming_error():
    with pytest.raises(ValueError, match="no rotor called c"):
        GearTrain.from_ratios({"a": Fraction(1)}).crank_torque_Nm({"c": np.zeros(1)})


def test_a_rotor_with_its_own_ratio_joins_the_train():
    train = GearTrain.from_wheels(row((60, 20))).completed({"r": None, "s": Fraction(7, 2)})
    assert train.ratios == {"r": -3, "s": Fraction(7, 2)}
    assert train.efficiencies["s"] == 1.0


def test_an_agreeing_ratio_is_fine():
    assert GearTrain.from_wheels(row((60, 20))).completed({"r": Fraction(-3)}).ratios["r"] == -3


A = Wheel("a", 60, on=CRANK)


@pytest.mark.parametrize(
    ("wheels", "message"),
    [
        ([Wheel("a", 0, on=CRANK)], r"gears\.wheels\.a\.teeth: 0 teeth; a whole number above zero"),
        ([Wheel("a", -12, on=CRANK)], "-12 teeth"),
        ([Wheel("a", 12.5, on=CRANK)], "12.5 teeth"),
        ([Wheel("crank", 12, on=CRANK)], "stands for the crank's axle"),
        ([Wheel("a", 12)], 'has neither of "on" and "driven_by"'),
        ([A, Wheel("b", 12, on=CRANK, driven_by="a")], 'has both of "on" and "driven_by"'),
        ([Wheel("a", 12, driven_by=CRANK)], "the crank has no teeth"),
        ([A, Wheel("b", 12, driven_by="c")], 'no wheel is called "c"; there are: a$'),
        ([A, Wheel("b", 12, on="c")], 'no wheel is called "c"; there are: a, or crank'),
        ([A, Wheel("b", 12, driven_by="a", efficiency=0.0)], "0 is not above 0"),
        ([A, Wheel("b", 12, driven_by="b")], "the wheels b - b hang on each other in a loop"),
        (
            [A, Wheel("b", 12, driven_by="d"), Wheel("c", 9, on="b"), Wheel("d", 9, driven_by="c")],
            "the wheels b - d - c - b hang on each other in a loop",
        ),
        (
            [
                A,
                Wheel("b", 12, driven_by="a", rotors=("r",)),
                Wheel("c", 12, driven_by="a", rotors=("r",)),
            ],
            'rotor "r" is already turned by wheel "b"',
        ),
    ],
)
def test_impossible_trains(wheels, message):
    with pytest.raises(GearTrainError, match=message) as caught:
        GearTrain.from_wheels(wheels)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("given_ratios", "path", "message"),
    [
        (
            {"r": Fraction(3)},
            ("rotors", "r", "gear_ratio"),
            r"is 3, but the gears make it -3 \(1 mesh\)",
        ),
        ({"r": Fraction(-10, 3)}, ("rotors", "r", "gear_ratio"), "is -10/3, but the gears make it"),
        ({"r": None, "s": None}, ("rotors", "s"), r"no wheel turns it"),
        ({"s": Fraction(1)}, ("gears", "wheels", "driven0", "rotors"), "there are: s"),
    ],
)
def test_contradictions_with_the_rotors(given_ratios, path, message):
    with pytest.raises(GearTrainError, match=message) as caught:
        GearTrain.from_wheels(row((60, 20))).completed(given_ratios)
    assert caught.value.path == path


def test_documented_defaults():
    # Common practice, no published source: kept so that nobody changes them unawares.
    assert DEFAULT_MESH_EFFICIENCY == 0.95
    assert COMFORTABLE_CRANK_SPEED_rpm == (60.0, 120.0)
