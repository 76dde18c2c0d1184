"""Results as plain objects: names stay, and what JSON cannot hold becomes something it can."""

from __future__ import annotations

import enum
import json
import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest

from fieldsim.tables.json_form import json_form, picked


class Colour(enum.StrEnum):
    RED = "red"


@dataclass(frozen=True)
class Inner:
    peak_V: float
    kind: Colour


@dataclass(frozen=True)
class Outer:
    inner: Inner
    by_coil: dict[str, Inner]
    curve_A: np.ndarray
    turns: Fraction

    @property
    def twice(self) -> float:
        return 2 * self.inner.peak_V


RESULT = Outer(
    Inner(np.float64(1.5), Colour.RED),
    {"a": Inner(math.inf, Colour.RED)},
    np.array([[1.0, np.nan]]),
    Fraction(1, 8),
)


def test_nested_results_keep_their_names():
    assert json_form(RESULT) == {
        "inner": {"peak_V": 1.5, "kind": "red"},
        "by_coil": {"a": {"peak_V": None, "kind": "red"}},
        "curve_A": [[1.0, None]],
        "turns": 0.125,
    }
    json.dumps(json_form(RESULT), allow_nan=False)


def test_some_of_a_result():
    assert picked(RESULT, "twice", "peak_V=inner.peak_V") == {"twice": 3.0, "peak_V": 1.5}
    with pytest.raises(AttributeError, match="thrice"):
        picked(RESULT, "thrice")


@pytest.mark.parametrize(
    ("value", "form"),
    [
        (np.int64(3), 3),
        (np.bool_(False), False),
        (-math.inf, None),
        (np.float64("nan"), None),
        ((i for i in (1, 2)), [1, 2]),
        (None, None),
    ],
)
def test_single_values(value, form):
    assert json_form(value) == form
    assert type(json_form(value)) is type(form)


def test_what_is_no_result_is_refused():
    with pytest.raises(TypeError, match="a result of type object has no form in JSON"):
        json_form(object())
