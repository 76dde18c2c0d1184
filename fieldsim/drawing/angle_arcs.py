"""Small arcs about shafts that are seen end on: where rotor angles begin, and which way they grow.

Turning arrows show the motion; a rotor with a negative gear ratio moves against its own angle.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldsim.charts.figure_style import COLOURS
from fieldsim.drawing.views import View
from fieldsim.machine.frames import dot
from fieldsim.machine.machine import Machine

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["angle_arcs_mm", "draw_angle_arcs"]

Points = NDArray[np.float64]

_END_ON = 0.98  # cosine between shaft and line of sight
_ARC_RAD = math.radians(50.0)
_HEAD_RAD = math.radians(28.0)


def angle_arcs_mm(machine: Machine, view: View, radius_mm: float) -> list[Points]:
    """Return an arc for each shaft seen end on, from angle 0 the way its rotors' angles grow.

    Parameters
    ----------
    machine
        The machine.
    view
        Seen from where.
    radius_mm
        Of the first arc about a line; where rotors of one line count their angles otherwise, the
        next is half as large again.

    Returns
    -------
    list of ndarray
        (points, 2) each, the last point where the head is [mm].
    """
    arcs: list[Points] = []
    known: list[tuple[Points, Points]] = []
    for rotor in machine.placed_rotors:
        if abs(dot(rotor.shaft.along, view.towards)) < _END_ON:
            continue
        frame = np.asarray(rotor.frame)
        turn = np.linspace(0.0, _ARC_RAD, 17)
        arc = np.outer(np.cos(turn), frame[:, 0]) + np.outer(np.sin(turn), frame[:, 1])
        middle, flat = view.flat_mm(np.array(rotor.shaft.through)), view.flat_mm(arc) * 1e-3
        alike = [shape for place, shape in known if np.allclose(place, middle, atol=1e-3)]
        if any(np.allclose(flat, shape, atol=1e-6) for shape in alike):
            continue
        known.append((middle, flat))
        arcs.append(middle + radius_mm * (1 + 0.5 * len(alike)) * flat)
    return arcs


def draw_angle_arcs(axes: Axes, machine: Machine, view: View, radius_mm: float) -> None:
    """Draw the arcs with open heads."""
    look: dict[str, Any] = {"color": COLOURS["ink"], "linewidth": 1.0, "zorder": 5.2}
    for arc in angle_arcs_mm(machine, view, radius_mm):
        axes.plot(*arc.T, **look)
        tip = arc[-1]
        back = arc[-6] - tip
        for turn in (_HEAD_RAD, -_HEAD_RAD):
            c, s = math.cos(turn), math.sin(turn)
            barb = tip + np.array([[c, -s], [s, c]]) @ back
            axes.plot(*np.array([tip, barb]).T, **look)
