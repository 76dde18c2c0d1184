"""The described machine, its units, its file and its clearances."""

from fieldsim.geometry.machine import Geometry
from fieldsim.geometry.reader import read_geometry

__all__ = ["Geometry", "read_geometry"]
