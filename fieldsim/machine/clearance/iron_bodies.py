"""Pieces of iron as solids: how far points are from them, and points that fill them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.clearance.magnet_bodies import Body, Distance, block_distance
from fieldsim.machine.clearance.swept_profile import box_distance
from fieldsim.machine.iron import Ball, Block, Tube
from fieldsim.machine.placed import PlacedIron

__all__ = ["iron_body", "iron_distance", "iron_reach_m"]

Array = NDArray[np.float64]


def iron_reach_m(piece: PlacedIron) -> float:
    """Return the radius of the ball around a piece [m]."""
    if isinstance(piece.shape, Ball):
        return piece.shape.diameter / 2
    a, b, c = piece.shape.size
    across = math.hypot(a, b) if isinstance(piece.shape, Block) else a
    return math.hypot(across, c) / 2


def iron_distance(piece: PlacedIron) -> Distance:
    """Return the distance to a piece: points (n, 3) to (n,) [m], negative inside."""
    centre, frame, shape = np.array(piece.centre), piece.frame, piece.shape
    if isinstance(shape, Ball):
        return lambda p: np.sqrt(((p - centre) ** 2).sum(axis=1)) - shape.diameter / 2
    half = np.array(shape.size) / 2
    if isinstance(shape, Block):
        return block_distance(centre, frame, half)
    inner = shape.inner / 2 if isinstance(shape, Tube) else 0.0
    middle, wall = (half[0] + inner) / 2, (half[0] - inner) / 2

    def distance(p: Array) -> Array:
        local = (p - centre) @ frame
        rho = np.hypot(local[:, 0], local[:, 1])
        # A bar has no inside wall: its section goes from the axis outwards.
        radial = np.abs(rho - middle) - wall if inner else rho - half[0]
        return box_distance(np.stack([radial, np.abs(local[:, 2]) - half[2]], axis=1))

    return distance


def iron_body(piece: PlacedIron) -> Body:
    """Return a body that fills a piece."""
    centre, frame, shape = np.array(piece.centre), piece.frame, piece.shape
    half = np.array(shape.size) / 2

    def local(u: Array) -> Array:
        if isinstance(shape, Block):
            return np.asarray(u * half)
        inner = shape.inner / 2 if isinstance(shape, Tube) else 0.0
        radius = inner + (u[:, 0] + 1) / 2 * (half[0] - inner)
        phi = math.pi * u[:, 1]
        rise = half[2] * u[:, 2]
        if isinstance(shape, Ball):
            theta = math.pi / 2 * u[:, 2]
            radius, rise = radius * np.cos(theta), radius * np.sin(theta)
        return np.stack([radius * np.cos(phi), radius * np.sin(phi), rise], axis=1)

    return lambda u: centre + local(u) @ frame.T
