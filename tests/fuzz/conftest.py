"""A longer search than the suite's: ``pytest tests/fuzz --hypothesis-profile=long``."""

from hypothesis import settings

settings.register_profile("long", max_examples=5000)
