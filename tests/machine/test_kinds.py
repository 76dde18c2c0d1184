"""Values of every kind: checked, read, written; and what a list of the wrong length meant."""

import pytest

from fieldsim.machine.kinds import list_hint


@pytest.mark.parametrize(
    ("entries", "hint"),
    [
        (["16 mm 30 mm"], "commas"),
        (["16 mm -30 mm"], "commas"),
        (["0 0 1"], "commas"),
        ([1, "4 cm", "30 mm"], "decimals with a point"),
        (["1 mm", 1, "5 mm"], "decimals with a point"),
        (["1e-5 m"], None),
        (["1/4 in"], None),
        (["20 mm^2"], None),
        (["16 mm", "30 mm", "5 mm"], None),
        ([1, 2], None),
        ([1.5, "4 cm"], None),
        ([True, "4 cm"], None),
        ([], None),
        ([None, [1, 2]], None),
    ],
)
def test_hint(entries, hint):
    assert (hint in list_hint(entries)) if hint else list_hint(entries) == ""
