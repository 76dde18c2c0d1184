"""Every record of the field room can be compared and printed, whatever arrays it holds."""

import dataclasses
import importlib
import inspect
import pkgutil

import numpy as np
import pytest

import fieldsim.field
from fieldsim.field.linkage.curve import TrackCurve

RECORDS = sorted(
    {
        found
        for info in pkgutil.walk_packages(fieldsim.field.__path__, "fieldsim.field.")
        for _, found in inspect.getmembers(importlib.import_module(info.name), inspect.isclass)
        if dataclasses.is_dataclass(found) and found.__module__.startswith("fieldsim.field.")
    },
    key=lambda record: record.__qualname__,
)


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_records_with_arrays_are_equal_by_identity(record):
    """The generated comparison asks whether an array is true, and raises."""
    inside = {"Array", "NDArray", "WindingSides", "Nodes", "RingSide", "MagnetForces"}
    inside |= {
        "RoundBody",
        "BlockBody",
        "tuple[Body",
        "Rings",
        "SeenIron",
        "Complex",
        "tuple[Reduction",
    }
    types = [str(f.type) for f in dataclasses.fields(record) if "Callable" not in str(f.type)]
    holds = any(word in one for one in types for word in inside)
    assert (record.__eq__ is object.__eq__) == holds


def test_a_curve_prints_in_a_line():
    curve = TrackCurve(np.ones(500, dtype=complex), 1e-9, 1e-5, 998, 4000, True)
    assert repr(curve) == (
        "TrackCurve(error_m2=1e-09, swing_m2=1e-05, angles=998, points=4000, converged=True)"
    )
