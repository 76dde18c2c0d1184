"""Flux table of one magnet track against magpylib's field integrated over the turns' area.

Run with ``python benchmarks/linkage.py`` on an otherwise quiet machine. All times are taken side by
side in one process on one core, warm, and printed as ratios.

The peer integrates magpylib's cuboid field over the area of the turns: a turn-counting weight is
one inside the winding and falls to zero through the build, so a rectangle and four trapezoids in
each of a few planes along the length are enough. Its orders are the smallest, found by search, that
hold 1e-5 of the peak-to-peak, and its chunks of angles are the fastest size.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math
import time
from collections.abc import Callable
from functools import partial
from itertools import product

import magpylib
import numpy as np
from numpy.typing import NDArray

from fieldsim.field.linkage.ring_winding import forget_windings
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import coil_in_rotor, mirror_of, track_of
from fieldsim.field.linkage.track_curve import TrackCurve, track_curve
from fieldsim.field.potential.cuboid import newtonian_gradient_xy
from fieldsim.machine.frames import Vec3
from fieldsim.machine.magnets import Cuboid, Magnet, North
from fieldsim.machine.placed import PlacedCoil, PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

Array = NDArray[np.float64]

TOLERANCE = 1e-5
SIZE: Vec3 = (0.020, 0.010, 0.005)
RADIUS, HEIGHT = 0.022, 0.0115


def machine(magnets: int = 1, sign: int = 1) -> tuple[PlacedCoil, PlacedRotor]:
    """Return the coil of 1800 turns in 12 mm x 6 mm and a rotor 3 mm from it."""
    bar = Magnet("bar", Cuboid(SIZE), 1.2)
    mounted = tuple(
        PlacedMagnet(
            bar,
            RADIUS,
            2 * math.pi * i / magnets,
            sign * HEIGHT,
            North.MINUS_SHAFT if i % 2 else North.PLUS_SHAFT,
        )
        for i in range(magnets)
    )
    rotor = PlacedRotor("rotor", Shaft((0, 0, 0), (0, 0, 1)), (1, 0, 0), mounted)
    coil = PlacedCoil(
        "coil", (0, 0.022, 0), (0, 0, 1), (1, 0, 0), (0.024, 0.016), 0.012, 0.006, 1800
    )
    return coil, rotor


def peer_points(coil: PlacedCoil, orders: tuple[int, int, int, int, int]) -> tuple[Array, Array]:
    """Return points (n, 3) and weights (n,) of the turn-weighted area of all turns, per turn."""
    nx, ny, ns, nu, nw = orders
    gauss = np.polynomial.legendre.leggauss
    a, b, t = coil.opening[0] / 2, coil.opening[1] / 2, coil.build
    x, wx = gauss(nx)
    y, wy = gauss(ny)
    flat = [np.stack([g.ravel() for g in np.meshgrid(a * x, b * y, indexing="ij")], 1)]
    weight = [(a * b * wx[:, None] * wy).ravel()]
    s, ws = gauss(ns)
    u, wu = gauss(nu)
    depth, wu = t / 2 * (1 + u), t / 2 * wu
    fraction = 1 - depth / t
    for half, offset, across in ((a, b, False), (b, a, True)):
        along = (half + depth)[:, None] * s
        out = np.broadcast_to((offset + depth)[:, None], along.shape)
        w = ((half + depth) * wu * fraction)[:, None] * ws
        for sign in (1, -1):
            pair = (sign * out, along) if across else (along, sign * out)
            flat.append(np.stack([p.ravel() for p in pair], 1))
            weight.append(w.ravel())
    area, area_weight = np.concatenate(flat), np.concatenate(weight)
    w, ww = gauss(nw)
    points = np.empty((len(area), nw, 3))
    points[..., :2] = area[:, None] + np.array(coil.centre)[:2]
    points[..., 2] = coil.length / 2 * w
    return points.reshape(-1, 3), (area_weight[:, None] * ww / 2).ravel()


def peer(points: Array, weights: Array, angles: Array, chunk: int) -> Array:
    """Return the flux per turn of a magnet of 1 T at each angle, with magpylib's core function."""
    field = magpylib.core.magnet_cuboid_Bfield
    result = np.empty(len(angles))
    for first in range(0, len(angles), chunk):
        part = angles[first : first + chunk]
        c, s = np.cos(part)[:, None], np.sin(part)[:, None]
        local = np.empty((len(part), len(points), 3))
        local[..., 0] = c * points[:, 0] + s * points[:, 1] - RADIUS
        local[..., 1] = c * points[:, 1] - s * points[:, 0]
        local[..., 2] = points[:, 2] - HEIGHT
        n = local.shape[0] * local.shape[1]
        b = field(
            observers=local.reshape(-1, 3),
            dimensions=np.broadcast_to(np.array(SIZE), (n, 3)),
            polarizations=np.broadcast_to(np.array([0.0, 0.0, 1.0]), (n, 3)),
        )
        result[first : first + chunk] = b[:, 2].reshape(len(part), -1) @ weights
    return result


def smallest_orders(
    coil: PlacedCoil, truth: Array, angles: Array
) -> tuple[int, int, int, int, int]:
    """Return the peer's cheapest orders that hold the tolerance, by search."""
    swing = float(np.ptp(truth))
    choices = product((10, 12, 14, 16), (8, 10, 12), (10, 12, 14, 16), (3, 4, 5), (3, 4, 5))
    by_cost = sorted(choices, key=lambda o: (o[0] * o[1] + 4 * o[2] * o[3]) * o[4])
    for orders in by_cost:
        points, weights = peer_points(coil, orders)
        few = peer(points, weights, angles[::12], 4)
        if np.abs(few - truth[::12]).max() > TOLERANCE * swing:
            continue
        if np.abs(peer(points, weights, angles, 4) - truth).max() <= TOLERANCE * swing:
            return orders
    raise RuntimeError("no orders in the search hold the tolerance")


def side_by_side(functions: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Return the best time of each function [s], taken in turn so that all see the same machine."""
    best = dict.fromkeys(functions, math.inf)
    for _ in range(rounds):
        for name, function in functions.items():
            start = time.thread_time()  # of this core: what else runs does not count
            function()
            best[name] = min(best[name], time.thread_time() - start)
    return best


def floor_ns(count: int = 8192, rounds: int = 30) -> float:
    """Return what 8 roots, 8 logarithms and 8 arctangents cost a point in numpy here [ns]."""
    x, out = np.linspace(0.5, 1.5, count), np.empty(count)

    def work() -> None:
        for function in (np.sqrt, np.log, np.arctan):
            for _ in range(8):
                function(x, out)

    return side_by_side({"floor": work}, rounds)["floor"] / count * 1e9


def series_at(curve: TrackCurve, angles: Array) -> Array:
    """Return a curve at any angles."""
    k = np.arange(len(curve.harmonics_m2))
    wave = np.exp(1j * np.outer(angles, k)) @ curve.harmonics_m2
    return np.asarray(2 * wave.real - curve.harmonics_m2[0].real)


def main() -> None:
    """Measure and print."""
    coil, rotor = machine()
    track, seen = track_of(rotor.magnets[0]), coil_in_rotor(coil, rotor)
    fine = track_curve(track, seen, 0.0, 1e-10)
    swing = fine.swing_m2
    angles = np.linspace(0.0, 2 * math.pi, 360, endpoint=False)
    truth = series_at(fine, angles)

    orders = smallest_orders(coil, truth, angles)
    points, weights = peer_points(coil, orders)
    chunks = side_by_side(
        {str(c): partial(peer, points, weights, angles[:36], c) for c in (1, 2, 4, 9, 18)}, 3
    )
    chunk = int(min(chunks, key=lambda c: chunks[c]))
    print(f"peer: {len(points)} points an angle, orders {orders}, chunks of {chunk} angles")

    def ours() -> Array:
        return sample_series(track_curve(track, seen, 0.0, TOLERANCE).harmonics_m2, 360)

    def first_of_a_winding() -> Array:
        forget_windings()
        return ours()

    curve = track_curve(track, seen, 0.0, TOLERANCE)
    few = np.linspace(0.0, 2 * math.pi, curve.angles, endpoint=False)
    times = side_by_side(
        {
            "fieldsim, 360 angles": ours,
            "  first of a winding": first_of_a_winding,
            "peer, 360 angles": lambda: peer(points, weights, angles, chunk),
            f"peer, {curve.angles} angles": lambda: peer(points, weights, few, chunk),
        },
        7,
    )
    mine, first, peer_all, peer_few = times.values()
    for name, seconds in times.items():
        print(f"{name:24s} {seconds * 1e3:8.2f} ms")
    error = np.abs(ours() - truth).max() / swing
    print(f"true error {error:.1e}, estimate {curve.error_m2 / swing:.1e} of peak-to-peak")
    print(
        f"ratio to the 360-angle peer: {peer_all / mine:.0f}, {peer_all / first:.0f} for the first "
        "table of a winding (at least 100, aim 300)"
    )
    print(
        f"ratio to the {curve.angles}-angle peer: {peer_few / mine:.0f} and {peer_few / first:.0f} "
        "(at least 15, aim 40)"
    )

    needed = floor_ns()
    half = 2 if mirror_of(track, seen) else 1
    kernel = kernel_ns(track.shape.size)
    points_an_angle = curve.points / (curve.angles // half + 1)
    floor = needed * 1e-9 * curve.points
    print(
        f"floor: {needed:.0f} ns a point (8 roots, 8 logarithms, 8 arctangents; our potential takes"
        f" {kernel:.0f}) x {curve.points} points, {points_an_angle:.0f} an angle, checks included: "
        f"{floor * 1e3:.2f} ms; we take {mine / floor:.1f} times that"
    )
    print("angles and error of peak-to-peak from too few:")
    for count in (32, 64, 96, 128, 160, 192):
        sampled = np.fft.rfft(sample_series(fine.harmonics_m2, count))[: (count + 1) // 2] / count
        shown = TrackCurve(sampled, 0.0, swing, count, 0, True)
        print(f"  {count:4d} {np.abs(series_at(shown, angles) - truth).max() / swing:.1e}")


def kernel_ns(size: Vec3, count: int = 8192) -> float:
    """Return what our potential costs a point [ns]."""
    rng = np.random.default_rng(1)
    x, y, z = rng.normal(size=(3, count)) * 0.02
    half = (size[0] / 2, size[1] / 2, size[2] / 2)
    times = side_by_side({"kernel": lambda: newtonian_gradient_xy(x, y, z, half)}, 30)
    return times["kernel"] / count * 1e9


if __name__ == "__main__":
    main()
