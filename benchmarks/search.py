"""The search against a full grid, on four wishes, each with many seeds.

Run with ``python benchmarks/search.py``; it takes some minutes, nearly all for working out every
machine of the grids once. The search then takes its figures from there. ``--seeds N`` says how many
seeds (20).
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import argparse
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from unittest import mock

import numpy as np

import fieldsim as fs
from fieldsim.studies import search as studies_search
from fieldsim.studies.search import Search, search
from fieldsim.studies.wish import Wish
from fieldsim.studies.wish_figures import Piece, WishFigures

RING = (Path(__file__).parent.parent / "geometries" / "lamp_ring.yaml").resolve()
GRIDS = {
    "light by gauge, build and lamps": """
crank_speed: 60 rpm
may_vary:
  coils.pickup.wire.gauge: [AWG 28, AWG 30, AWG 32, AWG 33, AWG 34, AWG 36]
  coils.pickup.build: {from: 3 mm, to: 8 mm, step: 0.25 mm}
  load.lamps.parallel: {from: 1, to: 8}
must: {lamps_lit: true, lamps_within_ratings: true, wire_length_at_most: 120 m}
want: light
""",
    "least wire by clearance, build and opening": """
crank_speed: 60 rpm
may_vary:
  clearance: {from: 1 mm, to: 3 mm, step: 0.2 mm}
  coils.pickup.build: {from: 3 mm, to: 8 mm, step: 0.5 mm}
  coils.pickup.opening[0]: {from: 10 mm, to: 18 mm, step: 1 mm}
must: {lamps_lit: true, clearance_at_least: 1.5 mm, size_at_most: [75 mm, 78 mm, 27 mm]}
want: least wire
""",
    "lowest crank speed by gauge and build": """
may_vary:
  crank_speed: {from: 20 rpm, to: 120 rpm, step: 2 rpm}
  coils.pickup.wire.gauge: [AWG 28, AWG 30, AWG 32, AWG 34]
  coils.pickup.build: {from: 3 mm, to: 8 mm, step: 0.5 mm}
must: {lamps_lit: true, wire_length_at_most: 120 m}
want: lowest crank speed
""",
    "light by gauge and build": """
crank_speed: 90 rpm
may_vary:
  coils.pickup.wire.gauge: [AWG 28, AWG 30, AWG 31, AWG 32, AWG 33, AWG 34]
  coils.pickup.build: {from: 3 mm, to: 7.5 mm, step: 0.5 mm}
must: {lamps_lit: true, wire_length_at_most: 100 m}
want: light
""",
}
SHARES = (0.1, 0.2, 0.4, 0.7)


def wish_of(text: str) -> Wish:
    """Return a wish about the ring of lamps."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "wish.yaml"
        file.write_text(f"machine: {RING}\n{text}", encoding="utf-8")
        return fs.read_wish(file)


def found_share(full: Search, tries: int, seeds: int) -> float:
    """Return in how many of some searches the best of a full grid is found."""
    row = {tuple(place): i for i, place in enumerate(full.places.tolist())}

    def looked_up(piece: Piece) -> WishFigures:
        rows = [row[tuple(place)] for place in piece.places.tolist()]
        figures = full.figures
        problems = tuple(figures.problems[i] for i in rows)
        return WishFigures(problems, figures.wanted[rows], figures.excess[rows])

    assert full.best is not None
    best = full.figures.wanted[full.best, 0]
    found = []
    with mock.patch.object(studies_search, "wish_figures", looked_up):
        for seed in range(1, seeds + 1):
            one = search(replace(full.wish, tries=tries, seed=seed))
            found.append(one.best is not None and one.figures.wanted[one.best, 0] == best)
    return float(np.mean(found))


def main() -> None:
    """Work the grids out, and print in how many searches their best is found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=20, metavar="N")
    seeds = parser.parse_args().seeds
    for name, text in GRIDS.items():
        wish = wish_of(text)
        start = time.perf_counter()
        full = search(replace(wish, tries=wish.machines))
        took = time.perf_counter() - start
        assert full.has_all
        told = ", ".join(
            f"{found_share(full, round(share * len(full)), seeds):.0%} with {share:.0%}"
            for share in SHARES
        )
        print(f"{name}: {len(full)} machines, all in {took:.0f} s; of them tried, found in: {told}")


if __name__ == "__main__":
    main()
