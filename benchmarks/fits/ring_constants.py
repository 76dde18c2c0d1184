"""Refit the constants of the ring method on many windings, and print them beside those in the code.

Run as ``python benchmarks/fits/ring_constants.py [cases]``; 60 cases take some minutes. Magnets and
windings are drawn at random, a millimetre to five apart, half of the windings flat above the
magnet and half standing beside it, with a fixed seed.

- ``POWER`` and ``MARGIN``: what ``n`` nodes or orders leave over is ``n**-POWER exp(-rate n)``,
  less a margin. For every case, direction and error asked, the smallest ``n`` that holds the error
  is searched for; the power is that with which the law foretells these best, in steps of a half,
  and the margin is enough for two in three: more would cost the others more than it saves.
- ``CHECKED``: what the check of the angles asks beyond that law, in natural digits, enough for two
  in three.
- ``SHARE``: points of quadrature of a winding that stands beside the magnet; the smallest, in steps
  of 0.02, that leaves no more than a tenth of the error asked in any winding: no check would tell.
- ``LEAST``: points along the edges of a flat winding; the smallest number that leaves 1e-12 of the
  largest harmonic in any, beside those that waves and polynomials ask.

The code's margin is rounded to a half. Other cases (another seed) move the power by a step, and the
margin with it by up to 1.5; the share, which the worst winding sets, comes out lower as often.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math
import sys
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from random_windings import random_case

from fieldsim.field.linkage import flat_turns, ring_nodes, ring_winding
from fieldsim.field.linkage.curve import aliasing, orders_wanted, widest
from fieldsim.field.linkage.flat_turns import straight_harmonics
from fieldsim.field.linkage.ring_curve import half_turn, linkage_of
from fieldsim.field.linkage.ring_nodes import (
    Grid,
    angular_rate,
    finer_grid,
    foretold_grid,
    nodes_on,
    order_for,
    rates,
)
from fieldsim.field.linkage.ring_patches import Patch, ring_patches, singular_rings
from fieldsim.field.linkage.ring_potential import folded, potentials, spectra
from fieldsim.field.linkage.ring_winding import forget_windings, winding_harmonics
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Orders = list[tuple[int, int]]

ASKED = (1e-3, 1e-4, 1e-5)
STEPS = 32  # of half a turn, where nodes are counted
SHARES = np.arange(0.02, 0.61, 0.02)
LEASTS = range(2, 25)
POWERS = np.arange(0.0, 6.1, 0.5)


@dataclass(frozen=True)
class Needed:
    """The smallest number that holds an error, and the rate that the law foretells it from."""

    what: str
    rate: float
    asked: float
    number: int


def first_enough(errors: list[float], asked: float) -> int | None:
    """Return from which index on all errors hold, if some do not and some do."""
    wrong = np.flatnonzero(np.array(errors) > asked)
    return int(wrong[-1]) + 1 if len(wrong) and wrong[-1] + 1 < len(errors) else None


def curve(track: Track, patches: tuple[Patch, ...], orders: Orders, steps: int) -> Complex:
    """Return the linkage's harmonics from nodes of given orders, near and far alike."""
    nodes = nodes_on(patches, orders)
    (values,) = potentials(track, patches, [(Grid(nodes, nodes), half_turn(steps))])
    return linkage_of(winding_harmonics(patches, nodes, steps), spectra(track, patches, values))


def needed_of(track: Track, coil: CoilInRotor) -> list[Needed]:
    """Return how many nodes each patch needs each way, and how many orders the curve."""
    patches, singular = ring_patches(track, coil), singular_rings(track)
    if not patches:
        return []
    near = rates(patches, singular, 0.0)
    best = [(order_for(rho, 1e-8) + 3, order_for(z, 1e-8) + 1) for rho, z in near]
    exact = curve(track, patches, best, STEPS)
    swing = float(np.ptp(sample_series(exact, 512)))
    if swing < 1e-9:
        return []
    found = []
    for i in range(len(patches)):
        for d, what in enumerate(("rho", "z")):
            numbers = range(2, best[i][d] - 2, 1 if best[i][d] < 20 else 2)
            errors = []
            for n in numbers:
                orders = best.copy()
                orders[i] = (n, best[i][1]) if d == 0 else (best[i][0], n)
                errors.append(widest(curve(track, patches, orders, STEPS) - exact) / swing)
            found += _held(what, near[i][d], list(numbers), errors)
    fine = curve(track, patches, [(a // 2 + 4, b // 2 + 3) for a, b in best], 128)
    left = [2 * float(np.abs(fine[k:]).sum()) / swing for k in range(4, 110)]
    return found + _held("angles", angular_rate(patches, singular), list(range(4, 110)), left)


def _held(what: str, rate: float, numbers: list[int], errors: list[float]) -> list[Needed]:
    result = []
    for asked in ASKED:
        index = first_enough(errors, asked)
        if index is not None:
            result.append(Needed(what, rate, asked, numbers[index]))
    return result


def fitted_law(needed: list[Needed]) -> tuple[float, float, float]:
    """Return power, margin and the scatter of the numbers that the law foretells, in logarithms."""
    rate, asked, number = np.array([(n.rate, n.asked, n.number) for n in needed]).T
    digits = -np.log(asked)
    counts = np.arange(1, 1000)
    best = (math.inf, 0.0, 0.0)
    for power in POWERS:
        surplus = rate * number + power * np.log(number) - digits
        middle = float(np.median(surplus))
        foretold = [
            counts[np.searchsorted(r * counts[:-1] + power * np.log(counts[:-1]), d + middle)]
            for r, d in zip(rate, digits, strict=True)
        ]
        scatter = float(np.std(np.log(foretold / number)))
        if scatter < best[0]:
            best = (scatter, float(power), float(np.quantile(surplus, 2 / 3)))
    return best[1], best[2], best[0]


def digits_checked(track: Track, coil: CoilInRotor, asked: float) -> float | None:
    """Return how many natural digits the check of angles asks beyond the law."""
    patches, singular = ring_patches(track, coil), singular_rings(track)
    if not patches:
        return None
    rate = angular_rate(patches, singular)
    steps = 16 * max(1, order_for(rate, asked) // 24)  # too few, for nearly all
    nodes = foretold_grid(patches, singular, asked).near
    (values,) = potentials(track, patches, [(Grid(nodes, nodes), half_turn(steps))])
    winding, series = winding_harmonics(patches, nodes, steps), spectra(track, patches, values)
    half = folded(series)
    curves = [linkage_of(winding, some) for some in (series, half, folded(half))]
    swing = float(np.ptp(sample_series(curves[0], 8 * steps)))
    error, decay = aliasing(curves[0], curves[1], curves[2], 0.0)
    order = orders_wanted(steps, error, decay, asked * swing)
    law = rate * order + ring_nodes.POWER * math.log(order) - ring_nodes.MARGIN
    return law + math.log(asked)


def share_enough(track: Track, coil: CoilInRotor, asked: float = 1e-5) -> float | None:
    """Return the smallest share of quadrature points that leaves a tenth of the error asked."""
    patches, singular = ring_patches(track, coil), singular_rings(track)
    if not patches or patches[0].in_plane:
        return None
    grid = finer_grid(patches, foretold_grid(patches, singular, asked))
    steps = max(16, order_for(angular_rate(patches, singular), asked))
    (values,) = potentials(track, patches, [(grid, half_turn(steps))])
    series = spectra(track, patches, values)

    def with_share(share: float) -> Complex:
        forget_windings()
        ring_winding.SHARE = share
        return linkage_of(winding_harmonics(patches, grid.near, steps), series)

    kept = ring_winding.SHARE
    exact = with_share(0.8)
    allowed = 0.1 * asked * float(np.ptp(sample_series(exact, 1024)))
    errors = [widest(with_share(share) - exact) for share in SHARES.tolist()]
    ring_winding.SHARE = kept
    forget_windings()
    wrong = np.flatnonzero(np.array(errors) > allowed)
    return float(SHARES[min(int(wrong[-1]) + 1, len(SHARES) - 1)]) if len(wrong) else SHARES[0]


def least_enough(track: Track, coil: CoilInRotor, asked: float = 1e-5) -> int | None:
    """Return the smallest number of points along edges that leaves 1e-12."""
    patches, singular = ring_patches(track, coil), singular_rings(track)
    if not patches or not patches[0].in_plane:
        return None
    (nodes,) = finer_grid(patches, foretold_grid(patches, singular, asked)).near
    orders = max(16, order_for(angular_rate(patches, singular), asked))

    def with_least(least: int) -> Complex:
        flat_turns.LEAST = least
        patch = patches[0]
        size = (len(nodes.rho_m), orders)
        return straight_harmonics(patch.sides, patch.rho_m, patch.mirror, *size)

    kept = flat_turns.LEAST
    exact = with_least(LEASTS[-1])
    errors = [float(np.abs(with_least(least) - exact).max()) for least in LEASTS]
    flat_turns.LEAST = kept
    index = first_enough(errors, 1e-12 * float(np.abs(exact).max()))
    return LEASTS[0] if index is None else LEASTS[index]


def main(cases: int) -> None:
    """Draw the cases, fit, and print."""
    rng = np.random.default_rng(20)
    needed: list[Needed] = []
    shares: list[float] = []
    leasts: list[int] = []
    checked: list[float] = []
    for number in range(cases):
        track, coil = random_case(rng, number % 2 == 0)
        needed += needed_of(track, coil)
        digits = [digits_checked(track, coil, asked) for asked in ASKED]
        checked += [each for each in digits if each is not None]
        share = share_enough(track, coil)
        if share is not None:
            shares.append(share)
        least = least_enough(track, coil)
        if least is not None:
            leasts.append(least)
    for what in ("rho", "z", "angles"):
        some = [n for n in needed if n.what == what]
        power, margin, scatter = fitted_law(some)
        print(
            f"{what:7s} alone, {len(some):4d} numbers: power {power:.1f}, margin {margin:5.2f}, "
            f"scatter {scatter:.2f}"
        )
    power, margin, scatter = fitted_law(needed)
    share = max(shares)
    print(f"POWER   found {power:5.2f}   in the code {ring_nodes.POWER:5.2f}")
    print(f"MARGIN  found {margin:5.2f}   in the code {ring_nodes.MARGIN:5.2f}")
    enough = float(np.quantile(checked, 2 / 3))
    print(f"CHECKED found {enough:5.2f}   in the code {ring_nodes.CHECKED:5.2f}")
    print(f"SHARE   found {share:5.2f}   in the code {ring_winding.SHARE:5.2f}")
    print(f"LEAST   found {max(leasts):5d}   in the code {flat_turns.LEAST:5d}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
