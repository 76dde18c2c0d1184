"""A longer search than the suite's: ``pytest tests/fuzz --hypothesis-profile=long``."""

import pytest
from hypothesis import settings

settings.register_profile("long", max_examples=5000)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Give thousands of cases an hour in place of a single test's minutes."""
    if settings.default.max_examples > 100:
        for item in items:
            item.add_marker(pytest.mark.timeout(3600))
