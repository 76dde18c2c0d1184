"""Refit the constants of the ring method on many windings, and print them beside those in the code.

Run as ``python benchmarks/fits/ring_constants.py [cases]``; 60 cases take some minutes. Magnets and
windings are drawn at random, a millimetre to 25 apart, half of the windings flat above the
magnet and half standing beside it, with a fixed seed.

- ``ACROSS`` and ``ALONG``: what ``n`` nodes or orders leave over is
  ``n**-power exp(margin - share rate n)``. For every case, direction and error asked, the smallest
  ``n`` that holds the error is searched for; share and power are those with which the law foretells
  these best, in steps of a half, and the margin is enough for two in three. Across the shaft a grid
  too few costs about as much as nodes too many, so that between 2 and 4 the margin hardly matters:
  how many evaluations all curves take is printed. The code's suits the shipped machines best.
- ``BALL``: what balls ask beyond that, in natural digits, enough for two in three.
- ``CHECKED``: what the check of the angles asks beyond the law, enough for two in three; of
  windings up to 5 mm away, and so is the next: farther ones need few angles anyhow.
- ``SHARE``: points of quadrature of a winding that stands beside the magnet; the smallest, in steps
  of 0.02, that leaves no more than a tenth of the error asked in any winding: no check would tell.
- ``LEAST``: points along the edges of a flat winding; the smallest number that leaves 1e-12 of the
  largest harmonic in any, beside those that waves and polynomials ask.

Margins in the code are rounded to a half. Other cases (another seed) move a power by a step, and
its margin with it by up to 1.5; the share of points, which the worst winding sets, comes out lower
as often.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math
import sys
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray
from random_windings import random_case

from fieldsim.field.linkage import flat_turns, ring_nodes, ring_winding
from fieldsim.field.linkage.curve import aliasing, orders_wanted, widest
from fieldsim.field.linkage.flat_turns import straight_harmonics
from fieldsim.field.linkage.ring_curve import half_turn, linkage_of, ring_curves
from fieldsim.field.linkage.ring_nodes import (
    ACROSS,
    ALONG,
    Counts,
    Law,
    angular_rates,
    finer,
    foretold_counts,
    grid_on,
    rates,
)
from fieldsim.field.linkage.ring_patches import ring_patches
from fieldsim.field.linkage.ring_potential import folded, potentials, spectrum
from fieldsim.field.linkage.ring_winding import forget_windings
from fieldsim.field.linkage.ring_wound import wound_on
from fieldsim.field.linkage.rings import Rings, rings_of
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.magnets import Sphere

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Case = tuple[Track, CoilInRotor]

ASKED = (1e-3, 1e-4, 1e-5)
STEPS = 32  # of half a turn, where nodes are counted
SHARES = np.arange(0.02, 0.61, 0.02)
RATES = (0.5, 1.0)
LEASTS = range(2, 25)
POWERS = np.arange(0.0, 6.1, 0.5)
MARGINS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0)
WIDEST_M = 25e-3


@dataclass(frozen=True)
class Needed:
    """The smallest number that holds an error, and the rate that the law foretells it from."""

    what: str
    rate: float
    asked: float
    number: float


def first_enough(errors: list[float], asked: float) -> int | None:
    """Return from which index on all errors hold, if some do not and some do."""
    wrong = np.flatnonzero(np.array(errors) > asked)
    return int(wrong[-1]) + 1 if len(wrong) and wrong[-1] + 1 < len(errors) else None


def row_of(track: Track, coil: CoilInRotor) -> Rings | None:
    """Return a magnet and a winding as one row, if anything links them."""
    patches = ring_patches(track, coil)
    return rings_of([track], [patches]) if patches else None


def parts(rings: Rings, counts: Counts, steps: int) -> list[tuple[Complex, Complex]]:
    """Return winding and spectrum on each patch, nodes near and far alike, (patches, 2)."""
    grid = grid_on(rings, np.tile(counts, 2))
    (values,) = potentials(rings, [(grid, half_turn(steps))])
    north, wound = rings.tracks[0].north, wound_on(rings, grid.near, [steps] * len(grid.near))
    pairs = zip(rings.first_patches, values, strict=True)
    return [(wound[i], spectrum(north, patch, g)) for i, (patch, g) in enumerate(pairs)]


def curve(rings: Rings, counts: Counts, steps: int) -> Complex:
    """Return the linkage's harmonics from nodes of given orders, near and far alike."""
    each = [linkage_of(w, s)[0] for w, s in parts(rings, counts, steps)]
    return np.asarray(np.sum(each, axis=0))


def needed_of(track: Track, coil: CoilInRotor) -> list[Needed]:
    """Return how many nodes each patch needs each way, and how many orders the curve."""
    rings = row_of(track, coil)
    if rings is None:
        return []
    near = rates(rings.rho_m, rings.z_m, rings.singular, 0.0)[0]
    best = np.add(ALONG.order(near, 1e-8), [3, 1])
    exact = curve(rings, best, STEPS)
    swing = float(np.ptp(sample_series(exact, 512)))
    if swing < 1e-9:
        return []
    found = []
    for i in range(len(near)):
        for d, what in enumerate(("rho", "z")):
            most = int(best[i, d])
            numbers = range(2, most - 2, 1 if most < 20 else 2)
            errors = []
            for n in numbers:
                counts = best.copy()
                counts[i, d] = n
                errors.append(float(widest(curve(rings, counts, STEPS) - exact)) / swing)
            found += _held(what, float(near[i, d]), list(numbers), errors)
    fine = curve(rings, np.add(best // 2, [4, 3]), 128)
    left = [2 * float(np.abs(fine[k:]).sum()) / swing for k in range(4, 110)]
    rate = float(angular_rates(rings).min())
    return found + _held("angles", rate, list(range(4, 110)), left)


def _held(what: str, rate: float, numbers: list[int], errors: list[float]) -> list[Needed]:
    result = []
    for asked in ASKED:
        index = first_enough(errors, asked)
        if index is not None:
            result.append(Needed(what, rate, asked, numbers[index]))
    return result


def fitted_law(needed: list[Needed]) -> tuple[Law, float]:
    """Return the law, and the scatter of the numbers that it foretells, in logarithms."""
    rate, asked, number = np.array([(n.rate, n.asked, n.number) for n in needed]).T
    best = (Law(0.0, 0.0, 0.0), math.inf)
    for share, power in product(RATES, POWERS):
        surplus = share * rate * number + power * np.log(number) + np.log(asked)
        foretold = Law(share, power, float(np.median(surplus))).order(rate, asked)
        scatter = float(np.std(np.log(foretold / number)))
        if scatter < best[1]:
            best = (Law(share, float(power), float(np.quantile(surplus, 2 / 3))), scatter)
    return best


def beyond(law: Law, needed: list[Needed]) -> float:
    """Return how many natural digits numbers ask beyond a law, enough for two in three."""
    rate, asked, number = np.array([(n.rate, n.asked, n.number) for n in needed]).T
    won = law.share * rate * number + law.power * np.log(number) - law.margin
    return float(np.quantile(won + np.log(asked), 2 / 3))


def evaluations(cases: list[Case]) -> Array:
    """Return how many evaluations curves take with each margin across the shaft, of the fewest."""
    kept, counts = ring_nodes.ACROSS, []
    for margin in MARGINS:
        ring_nodes.ACROSS = replace(kept, margin=margin)
        curves = [
            ring_curves([(track, coil, asked)])[0] for track, coil in cases for asked in ASKED
        ]
        counts.append(sum(each.points for each in curves))
    ring_nodes.ACROSS = kept
    return np.array(counts) / min(counts)


def digits_checked(track: Track, coil: CoilInRotor, asked: float) -> float | None:
    """Return how many natural digits the check of angles asks beyond the law."""
    rings = row_of(track, coil)
    if rings is None:
        return None
    rate = float(angular_rates(rings).min())
    steps = 16 * max(1, int(ALONG.order(rate, asked)) // 24)  # too few, for nearly all
    pairs = parts(rings, foretold_counts(rings, asked)[0, :, :2], steps)
    curves = []
    for _ in range(3):
        curves.append(np.sum([linkage_of(w, s)[0] for w, s in pairs], axis=0))
        pairs = [(w, folded(s)) for w, s in pairs]
    swing = float(np.ptp(sample_series(curves[0], 8 * steps)))
    error, decay = aliasing(curves[0], curves[1], curves[2], 0.0)
    order = float(orders_wanted(steps, error, decay, asked * swing))
    return beyond(ALONG, [Needed("angles", rate, asked, order)])


def share_enough(track: Track, coil: CoilInRotor, asked: float = 1e-5) -> float | None:
    """Return the smallest share of quadrature points that leaves a tenth of the error asked."""
    rings = row_of(track, coil)
    if rings is None or rings.first_patches[0].in_plane:
        return None
    grid = grid_on(rings, finer(foretold_counts(rings, asked)[0]))
    steps = max(16, int(ALONG.order(angular_rates(rings).min(), asked)))
    (values,) = potentials(rings, [(grid, half_turn(steps))])
    series = [spectrum(track.north, p, g) for p, g in zip(rings.first_patches, values, strict=True)]

    def with_share(share: float) -> Complex:
        forget_windings()
        ring_winding.SHARE = share
        wound = wound_on(rings, grid.near, [steps] * len(series))
        each = [linkage_of(wound[i], s)[0] for i, s in enumerate(series)]
        return np.asarray(np.sum(each, axis=0))

    kept = ring_winding.SHARE
    exact = with_share(0.8)
    allowed = 0.1 * asked * float(np.ptp(sample_series(exact, 1024)))
    errors = [float(widest(with_share(share) - exact)) for share in SHARES.tolist()]
    ring_winding.SHARE = kept
    forget_windings()
    wrong = np.flatnonzero(np.array(errors) > allowed)
    return float(SHARES[min(int(wrong[-1]) + 1, len(SHARES) - 1)]) if len(wrong) else SHARES[0]


def least_enough(track: Track, coil: CoilInRotor, asked: float = 1e-5) -> int | None:
    """Return the smallest number of points along edges that leaves 1e-12."""
    rings = row_of(track, coil)
    if rings is None or not rings.first_patches[0].in_plane:
        return None
    n_rho = int(finer(foretold_counts(rings, asked)[0])[0, 0])
    orders = max(16, int(ALONG.order(angular_rates(rings).min(), asked)))
    patch = rings.first_patches[0]

    def with_least(least: int) -> Complex:
        flat_turns.LEAST = least
        return straight_harmonics(patch.turns, n_rho, orders)

    kept = flat_turns.LEAST
    exact = with_least(LEASTS[-1])
    errors = [float(np.abs(with_least(least) - exact).max()) for least in LEASTS]
    flat_turns.LEAST = kept
    index = first_enough(errors, 1e-12 * float(np.abs(exact).max()))
    return LEASTS[0] if index is None else LEASTS[index]


def main(count: int) -> None:
    """Draw the cases, fit, and print."""
    rng = np.random.default_rng(20)
    cases = [random_case(rng, i % 2 == 0, WIDEST_M, balls=0.0) for i in range(count)]
    balls = [random_case(rng, i % 2 == 0, WIDEST_M, balls=0.9) for i in range(count // 2)]
    needed = [each for case in cases for each in needed_of(*case)]
    for name, ways, law in (("ACROSS", ("rho",), ACROSS), ("ALONG", ("z", "angles"), ALONG)):
        some = [n for n in needed if n.what in ways]
        found, scatter = fitted_law(some)
        print(f"{name:7s} found {found}, scatter {scatter:.2f}, {len(some)} numbers")
        print(f"{'':7s} in the code {law}")
    costs = zip(MARGINS, evaluations(cases).tolist(), strict=True)
    print("evaluations by margin across: " + ", ".join(f"{m}: {c:.2f}" for m, c in costs))
    of_balls = [
        n
        for track, coil in balls
        if isinstance(track.shape, Sphere)
        for n in needed_of(track, coil)
        if n.what != "rho"
    ]
    near = [random_case(rng, i % 2 == 0) for i in range(count)]
    checked = [digits_checked(*case, asked) for case in near for asked in ASKED]
    shares = [share_enough(*case) for case in near]
    leasts = [least_enough(*case) for case in near]
    for name, value, code in (
        ("BALL", beyond(ALONG, of_balls), ring_nodes.BALL),
        ("CHECKED", _enough(checked), ring_nodes.CHECKED),
        ("SHARE", max(each for each in shares if each is not None), ring_winding.SHARE),
        ("LEAST", max(each for each in leasts if each is not None), flat_turns.LEAST),
    ):
        print(f"{name:7s} found {value:5.2f}   in the code {code:5.2f}")


def _enough(digits: list[float | None]) -> float:
    return float(np.quantile([each for each in digits if each is not None], 2 / 3))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
