"""How well circuits are solved."""

__all__ = ["TABLE_TOLERANCE", "TOLERANCE"]

TOLERANCE = 5e-5
"""Of average powers and currents: far below what parts differ by."""

TABLE_TOLERANCE = 1e-3
"""Of averages, in tables and searches: far below what wire and lamps differ by."""
