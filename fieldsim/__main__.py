"""Run with ``python -m fieldsim``."""

from fieldsim.cli import run

run()
