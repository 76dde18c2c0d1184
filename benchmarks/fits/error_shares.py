"""Refit what the stated errors of linkage curves rest on, and print it beside what is in the code.

Run as ``python benchmarks/fits/error_shares.py [cases]``; 60 cases take some minutes.

- ``curve.MARGIN``: by how much the error from too few angles exceeds what the two halvings of the
  step before it tell; enough for 97 of 100, where the error is between 1e-2 and 1e-8 of the swing.
  The code's is the next half above; another seed moves what is found by 0.3.
- ``block_linkage.RELIEF``: the largest, in steps of a quarter, with which the true error is within
  the one aimed at in nine of ten windings. The code's is a step on the safe side.
- ``share`` of `BlockLinkage` and `BodyLinkage`: the true error over the difference to the rougher
  result, in 97 of 100 where it is above rounding. The code's are bounds, not fits: they must not be
  smaller, since single angles in between may be worse than those looked at here.
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import math
import sys

import numpy as np
from numpy.typing import NDArray
from random_windings import random_case

from fieldsim.field.linkage import block_linkage, curve
from fieldsim.field.linkage.block_linkage import BlockLinkage
from fieldsim.field.linkage.body_linkage import BodyLinkage
from fieldsim.field.linkage.curve import aliasing, rounding_m2, widest
from fieldsim.field.linkage.ring_curve import ring_curves
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track
from fieldsim.machine.magnets import Cuboid

Complex = NDArray[np.complex128]

ANGLES: NDArray[np.float64] = np.linspace(0.0, 2 * math.pi, 33)[:-1]
RELIEFS = np.arange(0.0, 2.1, 0.25)
DIGITS = (11.0, 14.0, 17.0)
AIMED, START_DIGITS = 16.0, 5.0  # as `track_curve` aims for an error of exp(-11)


def margins(track: Track, coil: CoilInRotor) -> list[float]:
    """Return the margins that the error from too few angles needs, at several numbers of them."""
    exact = ring_curves([(track, coil, 1e-10)])[0]
    floor, found = rounding_m2(track, coil), []
    for steps in (16, 32, 48, 64, 96):
        series = [_sampled(exact.harmonics_m2, steps // part) for part in (1, 2, 4)]
        stated = aliasing(series[0], series[1], series[2], floor)[0]
        size = max(len(exact.harmonics_m2), steps)
        rest = np.zeros(size, dtype=np.complex128)
        rest[: len(exact.harmonics_m2)] += exact.harmonics_m2
        rest[:steps] -= series[0]
        true = float(widest(rest))
        if 1e-8 < true / exact.swing_m2 < 1e-2:
            found.append(curve.MARGIN * true / float(stated))
    return found


def _sampled(harmonics: Complex, steps: int) -> Complex:
    """Return what so many steps of half a turn make of a series."""
    spectrum = np.fft.rfft(sample_series(harmonics, 2 * steps)) / (2 * steps)
    return np.asarray(spectrum[:steps])


def shares(
    kind: type[BlockLinkage] | type[BodyLinkage], track: Track, coil: CoilInRotor
) -> list[float]:
    """Return true errors over differences to the rougher result, at several digits."""
    angles = ANGLES
    linkage = kind(track, coil, angles)
    exact = _values(linkage, DIGITS[-1] + 12.0)
    found = []
    for digits in DIGITS:
        levels, rougher, level = linkage.plan(digits)
        fine = linkage.linkage_m2(levels, level, angles)  # type: ignore[arg-type]
        rough = linkage.linkage_m2(rougher, level, angles)  # type: ignore[arg-type]
        difference, true = np.abs(fine - rough).max(), np.abs(fine - exact).max()
        if true > 1e-12 * np.abs(exact).max():
            found.append(float(true / difference))
    return found


def _values(linkage: BlockLinkage | BodyLinkage, digits: float) -> NDArray[np.float64]:
    levels, _, level = linkage.plan(digits)
    return linkage.linkage_m2(levels, level, linkage.angles)  # type: ignore[arg-type]


def left_over(track: Track, coil: CoilInRotor) -> list[float]:
    """Return the true error over what `BlockLinkage` aims at, for every relief."""
    kept, errors = block_linkage.RELIEF, []
    exact = _values(BlockLinkage(track, coil, ANGLES), 30.0)
    for relief in RELIEFS.tolist():
        block_linkage.RELIEF = relief
        found = _values(BlockLinkage(track, coil, ANGLES), AIMED)
        errors.append(float(np.abs(found - exact).max() / np.ptp(exact)))
    block_linkage.RELIEF = kept
    return [error / math.exp(-AIMED + START_DIGITS) for error in errors]


def main(cases: int) -> None:
    """Draw the cases, fit, and print."""
    rng = np.random.default_rng(30)
    needed: list[float] = []
    block: list[float] = []
    body: list[float] = []
    left: list[list[float]] = []
    for number in range(cases):
        track, coil = random_case(rng, number % 2 == 0)
        if ring_curves([(track, coil, 1e-3)])[0].swing_m2 < 1e-9:
            continue
        needed += margins(track, coil)
        if isinstance(track.shape, Cuboid):
            block += shares(BlockLinkage, track, coil)
            left.append(left_over(track, coil))
        else:
            body += shares(BodyLinkage, track, coil)
    track, coil = random_case(rng, True)
    any_angles = np.zeros(1)
    block_share = BlockLinkage(track, coil, any_angles).share
    body_share = BodyLinkage(track, coil, any_angles).share
    worst = np.quantile(np.array(left), 0.9, axis=0)
    relief = float(RELIEFS[np.flatnonzero(worst <= 1.0)[-1]])
    for name, found, code, count in (
        ("curve.MARGIN", float(np.quantile(needed, 0.97)), curve.MARGIN, len(needed)),
        ("share of blocks", float(np.quantile(block, 0.97)), block_share, len(block)),
        ("share of others", float(np.quantile(body, 0.97)), body_share, len(body)),
        ("block_linkage.RELIEF", relief, block_linkage.RELIEF, len(left)),
    ):
        print(f"{name:20s} found {found:5.2f} from {count:4d}   in the code {code:5.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
