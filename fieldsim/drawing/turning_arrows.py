"""Arrows that show which way each rotor turns when the crank turns forward."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.drawing.painter_order import Boxes, within
from fieldsim.drawing.solids import Solid, outer_radius_m
from fieldsim.drawing.views import View
from fieldsim.machine.frames import dot
from fieldsim.machine.machine import Machine
from fieldsim.machine.placed import PlacedRotor
from fieldsim.words.numbers import plain_number

__all__ = ["TurningArrow", "arrow_lines", "turning_arrows", "turning_words"]

Points = NDArray[np.float64]

_FACE_ON = 0.3  # cosine between shaft and line of sight above which a true circle shows
_END_ON = 0.98  # the same, from which a shaft is seen as a point
_NEARER_MM = 0.1
_SQUASH = 0.34  # height over width of the circle drawn around a shaft seen from the side
_FARTHER = 0.8  # what a wider ring costs against covering parts
_ARC_RAD = math.radians(75.0)


@dataclass(frozen=True, eq=False)
class TurningArrow:
    """One rotor's arrow in a view.

    Parameters
    ----------
    rotor
        Name of the rotor.
    path_mm
        (points, 2), drawn from the first to the last, where the head is.
    behind_mm
        (points, 2) of the part behind the shaft, or none.
    turns
        Rotor turns per crank turn, with its sign.
    hindmost
        Whether the reader looks along its shaft and sees another rotor on that line before it.
    """

    rotor: str
    path_mm: Points = field(repr=False)
    behind_mm: Points | None = field(repr=False)
    turns: float
    hindmost: bool = False


def arrow_lines(arrows: Sequence[TurningArrow]) -> list[Points]:
    """Return all lines of some arrows, (points, 2) each [mm]."""
    paths = [a.path_mm for a in arrows]
    return paths + [a.behind_mm for a in arrows if a.behind_mm is not None]


def turning_words(rotor: PlacedRotor) -> str:
    """Return a rotor's gear ratio in few letters.

    Examples
    --------
    >>> from fieldsim.machine.placed import PlacedRotor
    >>> from fieldsim.machine.shaft import Shaft
    >>> shaft = Shaft((0, 0, 0), (0, 0, 1))
    >>> turning_words(PlacedRotor("lower", shaft, (1, 0, 0), (), gear_ratio=-9))
    'lower −9×'
    """
    sign = "−" if rotor.gear_ratio < 0 else "+"
    return f"{rotor.name} {sign}{plain_number(abs(float(rotor.gear_ratio)), 4)}×"


def turning_arrows(
    machine: Machine, solids: Sequence[Solid], outlines_mm: Sequence[Points], view: View
) -> list[TurningArrow]:
    """Return an arrow for each rotor that turns, kept clear of the parts where there is room.

    Parameters
    ----------
    machine
        The machine.
    solids
        Its magnets.
    outlines_mm
        Outlines of all parts in the view, (corners, 2) each.
    view
        Seen from where.
    """
    arrows: list[TurningArrow] = []
    magnets, parts = list(solids), _Parts(outlines_mm)
    for rotor in machine.placed_rotors:
        if rotor.gear_ratio == 0:
            continue
        facing = dot(rotor.shaft.along, view.towards)
        if abs(facing) > _FACE_ON:
            arrow = _true_circle(rotor, magnets, parts, view, arrows)
            arrow = replace(arrow, hindmost=_is_hindmost(machine, rotor, magnets, view))
        else:
            arrow = _band(machine, rotor, magnets, parts, view, arrows)
        arrows.append(arrow)
    return arrows


def _is_hindmost(machine: Machine, rotor: PlacedRotor, solids: Sequence[Solid], view: View) -> bool:
    """Return whether the magnets of another rotor on a line that is seen end on stand before."""
    if abs(dot(rotor.shaft.along, view.towards)) < _END_ON:
        return False

    def depth_mm(name: str) -> float:
        own = [view.depth_mm(s.corners) for s in solids if s.part == name]
        return float(np.concatenate(own).mean()) if own else math.nan

    return any(
        depth_mm(other.name) > depth_mm(rotor.name) + _NEARER_MM
        for other in machine.placed_rotors
        if other.shaft.is_on_line_of(rotor.shaft)
    )


def _true_circle(
    rotor: PlacedRotor,
    solids: list[Solid],
    parts: _Parts,
    view: View,
    others: Sequence[TurningArrow],
) -> TurningArrow:
    """Return an arc about the shaft, just outside the rotor, in true projection."""
    frame = np.asarray(rotor.frame, dtype=np.float64)
    low, high = _reach_along(rotor, solids)
    centre = np.array(rotor.shaft.through) + frame[:, 2] * (low + high) / 2
    scale = max(parts.span_m, 1e-3)
    outer = outer_radius_m(rotor, solids)
    aim = np.array([view.right, view.up]) @ frame[:, :2]
    side = math.copysign(1.0, float(np.linalg.det(aim)))
    turn = math.atan2(aim[1, 0], aim[0, 0])
    # The first choice stands to the upper right, where a reader looks for it.
    middle = np.radians(45.0 + 15.0 * np.arange(24))
    best: tuple[float, Points] | None = None
    for ring in range(4):
        if best is not None and best[0] < _FARTHER * ring:
            break
        radius = outer + scale * (0.045 + 0.05 * ring)
        arc = min(_ARC_RAD, 0.42 * scale / radius)
        angle = side * (middle[:, None] + np.linspace(-arc / 2, arc / 2, 25) - turn)
        points = centre + radius * (
            np.cos(angle)[..., None] * frame[:, 0] + np.sin(angle)[..., None] * frame[:, 1]
        )
        paths = view.flat_mm(points)
        costs = _crowding(paths, parts, others, scale * 1e3)
        costs = costs + _FARTHER * ring + 0.02 * np.arange(len(paths))
        k = int(np.argmin(costs))
        if best is None or costs[k] < best[0]:
            forward = np.sign(float(rotor.gear_ratio)) * side
            best = (float(costs[k]), paths[k] if forward > 0 else paths[k][::-1])
    assert best is not None  # noqa: S101
    return TurningArrow(rotor.name, best[1], None, float(rotor.gear_ratio))


def _band(
    machine: Machine,
    rotor: PlacedRotor,
    solids: list[Solid],
    parts: _Parts,
    view: View,
    others: Sequence[TurningArrow],
) -> TurningArrow:
    """Return a flattened circle around a shaft that is seen from the side."""
    along = np.array(rotor.shaft.along)
    line = np.array([view.right, view.up]) @ along
    line = line / math.hypot(*line)
    low, high = _reach_along(rotor, solids)
    scale = max(parts.span_m, 1e-3)
    width = max(0.06 * scale, min(0.1 * scale, 0.4 * outer_radius_m(rotor, solids)))
    coil_height = np.mean(
        [(np.array(c.centre) - np.array(rotor.shaft.through)) @ along for c in machine.placed_coils]
        or [0.0]
    )
    first = 1.0 if (low + high) / 2 >= coil_height - 1e-9 else -1.0
    # Seen from outside, the near side of a rotor moves along (along x towards).
    move = np.cross(along, np.array(view.towards))
    move_flat = np.array([view.right, view.up]) @ move
    move_flat = move_flat / math.hypot(*move_flat) * np.sign(float(rotor.gear_ratio))
    best: tuple[float, Points, Points] | None = None
    for step in range(7):
        for side in (first, -first):
            height = (high if side > 0 else low) + side * scale * (0.075 + 0.07 * step)
            middle = view.flat_mm(np.array(rotor.shaft.through) + along * height)
            # The near half bulges towards the end that the reader sees, as from a little above.
            bulge = -line if line[1] + 1e-3 * line[0] > 0 else line
            t = np.linspace(-1.1, 1.1, 31)
            near = middle + 1e3 * width * (
                np.outer(np.sin(t), move_flat) + _SQUASH * np.outer(np.cos(t), bulge)
            )
            t = np.linspace(1.1, 2 * math.pi - 1.1, 31)
            far = middle + 1e3 * width * (
                np.outer(np.sin(t), move_flat) + _SQUASH * np.outer(np.cos(t), bulge)
            )
            whole = np.concatenate([near, far])[None]
            crowd = float(_crowding(whole, parts, others, scale * 1e3)[0])
            cost = crowd + 0.5 * step + (0.3 if side != first else 0.0)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, near, far)
    assert best is not None  # noqa: S101
    return TurningArrow(rotor.name, best[1], best[2], float(rotor.gear_ratio))


def _reach_along(rotor: PlacedRotor, solids: list[Solid]) -> tuple[float, float]:
    along = np.array(rotor.shaft.along)
    points = [s.corners for s in solids if s.part == rotor.name]
    if not points:
        return 0.0, 0.0
    heights = (np.concatenate(points) - np.array(rotor.shaft.through)) @ along
    return float(heights.min()), float(heights.max())


class _Parts:
    """Outlines of parts in a view: how far they reach [m], those with an area and their boxes."""

    def __init__(self, outlines_mm: Sequence[Points]) -> None:
        points = np.concatenate(list(outlines_mm) or [np.zeros((1, 2))])
        self.span_m = float(np.ptp(points, axis=0).max()) * 1e-3
        self.hulls_mm = [outline for outline in outlines_mm if len(outline) > 2]
        self.boxes = Boxes(self.hulls_mm)


def _crowding(
    paths: Points, parts: _Parts, others: Sequence[TurningArrow], scale_mm: float
) -> Points:
    """Return what each of several paths (paths, points, 2) costs for covering things, (paths,)."""
    count, steps, _ = paths.shape
    points = paths.reshape(-1, 2)
    cost, margin_mm = np.zeros(count), 0.01 * scale_mm
    near = parts.boxes.holding(points, margin_mm)
    for i in np.flatnonzero(near.any(axis=1)).tolist():
        covered = np.zeros(len(points), dtype=bool)
        covered[near[i]] = within(points[near[i]], parts.hulls_mm[i], -margin_mm)
        cost += 4.0 * covered.reshape(count, steps).mean(axis=1)
    for other in others:
        taken = [other.path_mm] if other.behind_mm is None else [other.path_mm, other.behind_mm]
        gap = points[:, None, :] - np.concatenate(taken)[None, :, :]
        nearest = np.sqrt((gap**2).sum(axis=-1)).min(axis=1).reshape(count, steps).min(axis=1)
        cost += 6.0 * (nearest < 0.06 * scale_mm)
    return cost
