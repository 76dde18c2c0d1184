"""Numbers in sentences."""

from __future__ import annotations

import pytest

from fieldsim.words.numbers import plain_number


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (12345.6, "12300"), (-2.0, "-2"), (1e-4, "0.0001"), (65.04, "65"), (99.96, "100")],
)
def test_plain_number(value, text):
    assert plain_number(value) == text
