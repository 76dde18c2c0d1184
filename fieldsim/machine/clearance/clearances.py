"""Smallest distances between what turns and what stands still, and which parts collide.

A magnet turning about its shaft sweeps a solid of revolution. For a point outside, the nearest
point of that solid lies in the same half-plane through the shaft line, so the distance is one in
two dimensions: of (distance from the line, height) to the solid's profile. Where a winding has an
edge along the shaft, and where rotors share a shaft, both bodies are rectangles there and the
distance is exact. Elsewhere it is the minimum over the other body's points, found by a grid that
zooms in on its best cells; the distance never changes faster than the point moves.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import combinations, islice

import numpy as np
from numpy.typing import NDArray

from fieldsim.errors import MOST_TOLD, ImpossibleError
from fieldsim.machine.clearance.box_overlap import Boxes, separations_m
from fieldsim.machine.clearance.collision_error import Collision, CollisionError
from fieldsim.machine.clearance.iron_bodies import iron_body, iron_distance, iron_reach_m
from fieldsim.machine.clearance.magnet_bodies import (
    Body,
    Distance,
    block_distance,
    magnet_poses,
    still_body,
    still_distance,
    swept_distance,
    turning_bodies,
)
from fieldsim.machine.clearance.swept_profile import Profile, profile, swept_rectangle
from fieldsim.machine.frames import Vec3
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cuboid
from fieldsim.machine.placed import PlacedCoil, PlacedIron, PlacedMagnet, PlacedRotor
from fieldsim.machine.shaft import Shaft

__all__ = [
    "Clearance",
    "check_collisions",
    "clearances",
    "magnet_coil_pairs",
    "raised_to_winding_m",
    "refuse_too_many",
    "rotor_to_iron_m",
    "rotor_to_winding_m",
    "rotors_to_windings_m",
    "turn_together",
    "winding_bars",
]

Array = NDArray[np.float64]
_Rectangle = tuple[float, float, float, float]

_TOUCH = 1e-9  # m; closer than this is a collision, above rounding and below any real fit
_MOST_ROTORS, _MOST_COILS = 10, 50
_MOST_PAIRS = 1000  # of magnets and coils: ten coils beside a hundred magnets
_MOST_SEARCHES = 400  # of some hundredths of a second each
_FAR_OFF = np.full((4, 4), math.inf)  # four rectangles that are nowhere
_LYING = 1e-6  # m; parts that lie face to face may seem to overlap by less than this


@dataclass(frozen=True)
class Clearance:
    """The smallest distance between two parts over a whole turn.

    Parameters
    ----------
    first, second
        What the parts are, for instance ``rotor "upper"`` and ``coil "pickup"``.
    distance_m
        Smallest distance [m]; negative by the depth of the overlap.
    """

    first: str
    second: str
    distance_m: float


def winding_bars(coil: PlacedCoil) -> list[tuple[Array, Array, Array]]:
    """Return the winding as four bars that overlap at the corners: centre, frame, half sizes."""
    frame, (offsets, halves) = coil.frame, _bars(coil)
    centres = np.array(coil.centre) + offsets @ frame.T
    return [(centre, frame, half) for centre, half in zip(centres, halves, strict=True)]


def _bars(coil: PlacedCoil) -> tuple[Array, Array]:
    """Return the bars' centres and half sizes along the coil's own axes, (4, 3) each."""
    a, b = coil.opening[0] / 2, coil.opening[1] / 2
    t, h = coil.build / 2, coil.length / 2
    x, y, across, along = a + t, b + t, (a + 2 * t, t, h), (t, b + 2 * t, h)
    offsets = np.array([(0.0, y, 0.0), (x, 0.0, 0.0), (0.0, -y, 0.0), (-x, 0.0, 0.0)])
    return offsets, np.array([across, along, across, along])


def _bar_body(centre: Array, frame: Array, half: Array) -> Body:
    return lambda u: centre + (u * half) @ frame.T


def _smallest(body: Body, distance: Distance, coarse: int = 13, parameters: int = 3) -> float:
    """Return the smallest signed distance from a body's points, by a grid that zooms in.

    Each round keeps the best cells and lays a finer grid in each; 24 rounds shrink a cell by 1e-9.
    """
    axis = np.linspace(-1, 1, coarse)
    grid = _lattice(axis, parameters)
    values = distance(body(grid))
    best = np.argsort(values, kind="stable")[:8]
    centres, width = grid[best], axis[1] - axis[0]
    lowest = float(values[best[0]])
    star = _lattice(np.linspace(-1, 1, 5), parameters)
    for _ in range(24):
        points = np.clip(centres[:, None, :] + width * star, -1, 1)
        values = distance(body(points.reshape(-1, parameters))).reshape(points.shape[:2])
        choice = values.argmin(axis=1)
        centres = points[np.arange(len(points)), choice]
        lowest = min(lowest, float(values.min()))
        order = np.argsort(values.min(axis=1), kind="stable")
        centres = centres[order[: max(2, len(order) // 2)]]
        width *= 0.42
    return lowest


def _lattice(axis: Array, parameters: int) -> Array:
    """Return every combination of values of an axis, shape (n, parameters)."""
    return np.stack(np.meshgrid(*[axis] * parameters, indexing="ij"), axis=-1).reshape(
        -1, parameters
    )


@lru_cache(maxsize=256)
def _bar_rectangles(shaft: Shaft, coil: PlacedCoil) -> Array | None:
    """Return (inner, outer, low, high) of what a winding's bars turn into about a shaft, (4, 4).

    None unless the winding has an edge along the shaft. All the shaft's magnets ask for it.
    """
    frame = coil.frame
    rise = shaft.along @ frame
    axis = int(np.abs(rise).argmax())
    if abs(abs(float(rise[axis])) - 1.0) > 1e-12:
        return None
    offsets, half = _bars(coil)
    local = (np.array(shaft.through) - coil.centre) @ frame - offsets
    z = -local[:, axis] * rise[axis]
    flat = [i for i in range(3) if i != axis]
    offset = np.abs(local[:, flat])
    near, far = np.maximum(offset - half[:, flat], 0.0), offset + half[:, flat]
    inner, outer = np.hypot(near[:, 0], near[:, 1]), np.hypot(far[:, 0], far[:, 1])
    found = np.stack([inner, outer, z - half[:, axis], z + half[:, axis]], axis=1)
    found.flags.writeable = False
    return found


def _rectangles_apart(one: Array, two: Array) -> Array:
    """Return the signed distances of rectangles (..., 4), negative by how deep they overlap."""
    # Radial and axial, from the inner or lower side of each to the other side of the other.
    gaps = np.maximum(one[..., ::2] - two[..., 1::2], two[..., ::2] - one[..., 1::2])
    out = np.maximum(gaps, 0.0)
    apart = np.hypot(out[..., 0], out[..., 1])
    return np.asarray(np.where(apart > 0.0, apart, np.maximum(gaps[..., 0], gaps[..., 1])))


def _to_windings_m(
    rotor: PlacedRotor, coils: Sequence[PlacedCoil], raised_m: Sequence[float] = (0.0,)
) -> Array:
    """Return the smallest distance of a rotor's swept magnets to each winding [m].

    Parameters
    ----------
    rotor
        As it stands.
    coils
        The windings, (m,).
    raised_m
        By how much its magnets are higher along the shaft than they stand, (k,).

    Returns
    -------
    array
        (k, m); negative by the depth of an overlap.
    """
    tracks = rotor.tracks
    rectangles = [swept_rectangle(mounted) for mounted in tracks]
    plain = [rectangle for rectangle in rectangles if rectangle is not None]
    # A bar with an edge along the shaft turns into a full rectangle of (rho, height).
    bars = [_bar_rectangles(rotor.shaft, coil) for coil in coils]
    found = np.full((len(raised_m), len(coils)), math.inf)
    if plain:
        still = np.concatenate([_FAR_OFF if of_coil is None else of_coil for of_coil in bars])
        moved = np.array(plain) + np.multiply.outer(raised_m, (0.0, 0.0, 1.0, 1.0))[:, None]
        apart = _rectangles_apart(moved[:, :, None], still).min(axis=1)
        found = apart.reshape(*found.shape, 4).min(axis=2)
    others = [m for m, rectangle in zip(tracks, rectangles, strict=True) if rectangle is None]
    for i, of_coil in enumerate(bars):
        searched = tracks if of_coil is None else others
        for k, raise_m in enumerate(raised_m):
            for m in searched:
                higher = replace(m, height=m.height + raise_m) if raise_m else m
                found[k, i] = min(found[k, i], _searched_m(rotor, higher, coils[i], of_coil))
    return found


def _searched_m(
    rotor: PlacedRotor, mounted: PlacedMagnet, coil: PlacedCoil, bars: Array | None
) -> float:
    """Return the smallest distance of a track from a winding, if not both are rectangles."""
    if bars is not None:
        return min(_profile_to_rectangle(profile(mounted), bar) for bar in bars)
    distance = swept_distance(rotor, mounted)
    return min(_smallest(_bar_body(*bar), distance) for bar in winding_bars(coil))


def _profile_to_rectangle(outline: Profile, still: Array) -> float:
    middle = np.array([still[0] + still[1], still[2] + still[3]]) / 2
    half = np.array([still[1] - still[0], still[3] - still[2]]) / 2
    return _smallest(lambda u: middle + u * half, lambda p: outline(p[:, 0], p[:, 1]), parameters=2)


def rotor_to_winding_m(rotor: PlacedRotor, coils: tuple[PlacedCoil, ...]) -> float:
    """Return the smallest distance between a rotor's swept magnets and any winding [m].

    Negative if they overlap, by the depth of the overlap.
    """
    return float(_to_windings_m(rotor, coils).min())


def raised_to_winding_m(
    rotor: PlacedRotor, coils: tuple[PlacedCoil, ...], raised_m: Sequence[float]
) -> list[float]:
    """Return that distance with the magnets higher along the shaft than they stand [m].

    Parameters
    ----------
    rotor
        As it stands.
    coils
        The windings.
    raised_m
        By how much, for each distance.
    """
    found: list[float] = _to_windings_m(rotor, coils, raised_m).min(axis=1).tolist()
    return found


@lru_cache(maxsize=8)
def rotors_to_windings_m(machine: Machine) -> tuple[tuple[float, ...], ...]:
    """Return the smallest distance of each rotor's magnets to each winding [m], rotor by rotor.

    Negative if they overlap, by the depth of the overlap. Who moves a machine, tells its clearance
    and looks for collisions asks for them in turn.
    """
    coils = machine.placed_coils
    return tuple(tuple(_to_windings_m(r, coils)[0].tolist()) for r in machine.placed_rotors)


def turn_together(first: PlacedRotor, second: PlacedRotor) -> bool:
    """Return whether two rotors share a shaft line and keep their angle to each other."""
    sense = first.shaft.sense_of(second.shaft.through, second.shaft.along)
    return sense != 0 and first.gear_ratio * sense == second.gear_ratio


def _at_crank_zero(rotor: PlacedRotor) -> PlacedRotor:
    """Return the rotor with its start angle worked into ``zero``."""
    c, s = math.cos(rotor.start), math.sin(rotor.start)
    turned = rotor.frame @ np.array([c, s, 0.0])
    return replace(rotor, zero=(turned[0], turned[1], turned[2]), start=0.0)


def _fixed_distance(first: PlacedRotor, second: PlacedRotor) -> float:
    """Return the smallest distance of the magnets of two rotors, as they stand."""
    one, two = _magnet_boxes(first), _magnet_boxes(second)
    blocks = _blocks_apart(first, one, second, two)
    found = float(blocks.min())
    others = np.isinf(blocks)
    if not others.any():
        return found
    least, seen = np.where(others, separations_m(one, two), math.inf), set[object]()
    for index in np.argsort(least, axis=None):
        i, j = (int(k) for k in np.unravel_index(index, least.shape))
        if least[i, j] >= found:
            break
        a, b = first.magnets[i], second.magnets[j]
        # Of pairs that stand to each other alike, as all round a circle do, one is enough.
        place = one.frames[i].T @ (two.centres[j] - one.centres[i])
        alike = (
            a.magnet.shape, b.magnet.shape, tuple(np.round(place, 9)),
            tuple(np.round(one.frames[i].T @ two.frames[j], 9).ravel()),
        )  # fmt: skip
        if alike in seen:
            continue
        seen.add(alike)
        found = min(found, _smallest(still_body(first, a), still_distance(second, b)))
    return found


def _blocks_apart(first: PlacedRotor, one: Boxes, second: PlacedRotor, two: Boxes) -> Array:
    """Return the distances of blocks whose edges are parallel, (n, m).

    Infinite where magnets are others, or overlap.
    """
    turned = np.swapaxes(one.frames, 1, 2)[:, None] @ two.frames  # (n, m, 3, 3)
    edges = np.abs(turned)
    parallel = (np.minimum(edges, np.abs(edges - 1.0)) <= 1e-12).all(axis=(2, 3))
    reach = one.halves[:, None] + np.einsum("nmij,mj->nmi", edges.round(), two.halves)
    between = two.centres - one.centres[:, None]
    gaps = np.abs(np.einsum("nmi,nij->nmj", between, one.frames)) - reach
    apart = np.linalg.norm(np.maximum(gaps, 0.0), axis=2)
    known = (
        parallel & (gaps.max(axis=2) > 0.0) & (_are_blocks(first)[:, None] & _are_blocks(second))
    )
    return np.where(known, apart, math.inf)


def _are_blocks(rotor: PlacedRotor) -> NDArray[np.bool_]:
    return np.array([isinstance(m.magnet.shape, Cuboid) for m in rotor.magnets])


def _stand_alike(first: PlacedRotor, second: PlacedRotor) -> tuple[object, ...]:
    """Return what the distance of two rotors of given magnets depends on."""
    frame = first.frame
    place = frame.T @ (np.array(second.shaft.through) - np.array(first.shaft.through))
    turned = frame.T @ second.frame
    together = (first.gear_ratio, second.gear_ratio, first.start, second.start)
    return *together, tuple(np.round(place, 9)), tuple(np.round(turned, 9).ravel())


def _rotor_to_rotor(first: PlacedRotor, second: PlacedRotor) -> float:
    if turn_together(first, second):
        first, second = _at_crank_zero(first), _at_crank_zero(second)
        return _fixed_distance(first, second)
    found = []
    for m in first.tracks:
        for n in second.tracks:
            one = swept_rectangle(m)
            two = _swept_about(second, n, first)
            if one is not None and two is not None:
                found.append(float(_rectangles_apart(np.array(one), np.array(two))))
                continue
            distance = swept_distance(second, n)
            found += [_smallest(body, distance, coarse=9) for body in turning_bodies(first, m)]
    return min(found)


def _swept_about(
    rotor: PlacedRotor, mounted: PlacedMagnet, other: PlacedRotor
) -> _Rectangle | None:
    """Return a swept rectangle in another rotor's (rho, height), if both share a shaft line."""
    rectangle = swept_rectangle(mounted)
    if rectangle is None or not rotor.shaft.is_on_line_of(other.shaft):
        return None
    along = np.array(other.shaft.along)
    shift = float((np.array(rotor.shaft.through) - np.array(other.shaft.through)) @ along)
    ends = [shift + float(along @ rotor.shaft.along) * z for z in rectangle[2:]]
    return rectangle[0], rectangle[1], min(ends), max(ends)


def _sphere(rotor: PlacedRotor) -> tuple[Vec3, float]:
    """Return centre and radius of a sphere around what a rotor sweeps."""
    heights = [m.height for m in rotor.magnets]
    middle = (min(heights) + max(heights)) / 2
    reach = max(
        math.hypot(m.radius, m.height - middle) + math.hypot(*m.magnet.size) / 2
        for m in rotor.magnets
    )
    t, a = rotor.shaft.through, rotor.shaft.along
    return (t[0] + middle * a[0], t[1] + middle * a[1], t[2] + middle * a[2]), reach


def _bounding_gap(first: tuple[Vec3, float], second: tuple[Vec3, float]) -> float:
    """Return a lower bound of two rotors' distance, from `_sphere` of each."""
    (c1, r1), (c2, r2) = first, second
    return math.dist(c1, c2) - r1 - r2


def rotor_to_iron_m(rotor: PlacedRotor, piece: PlacedIron) -> float:
    """Return the smallest distance of a rotor's magnets to a piece of iron over a turn [m]."""
    body = iron_body(piece)
    if piece.rotor == rotor.name:
        # It turns with them, and may lie against them.
        found = min(_smallest(body, still_distance(rotor, m)) for m in rotor.magnets)
        return _may_lie(found)
    return min(_smallest(body, swept_distance(rotor, m)) for m in rotor.tracks)


def _iron_apart(rotor: PlacedRotor, piece: PlacedIron) -> float:
    """Return a lower bound of that distance [m]."""
    middle, reach = _sphere(rotor)
    return math.dist(piece.centre, middle) - reach - iron_reach_m(piece)


def _iron_to_coil(piece: PlacedIron, coil: PlacedCoil) -> float:
    """Return the smallest distance of a piece of iron to a winding, which it may lie against."""
    body = iron_body(piece)
    return _may_lie(min(_smallest(body, block_distance(*bar)) for bar in winding_bars(coil)))


def _iron_name(piece: PlacedIron) -> str:
    return piece.name if piece.coil else f'iron "{piece.name}"'


def _iron_clearances(machine: Machine) -> Iterator[Clearance]:
    """Yield the smallest distances of rotors to iron that is near them."""
    for rotor in machine.placed_rotors:
        for piece in machine.placed_iron:
            if _iron_apart(rotor, piece) <= 0:
                apart = rotor_to_iron_m(rotor, piece)
                yield Clearance(f'rotor "{rotor.name}"', _iron_name(piece), apart)


def _iron_overlaps(machine: Machine) -> Iterator[Collision]:
    """Yield iron in windings, and pieces of iron that touch, which would act as one."""
    pieces = machine.placed_iron
    for piece in pieces:
        key = ("coils", piece.coil, "core") if piece.coil else ("iron", piece.name)
        for coil in machine.placed_coils:
            reach = math.hypot(*_outside(coil), coil.length) / 2 + iron_reach_m(piece)
            near = math.dist(piece.centre, coil.centre) <= reach
            apart = _iron_to_coil(piece, coil) if near else math.inf
            if apart < _TOUCH:
                pair = Clearance(_iron_name(piece), f'coil "{coil.name}"', apart)
                yield _collision(machine, pair, key)
    for first, second in combinations(pieces, 2):
        near = math.dist(first.centre, second.centre) <= iron_reach_m(first) + iron_reach_m(second)
        apart = _smallest(iron_body(second), iron_distance(first)) if near else math.inf
        if apart < _LYING:
            key = ("coils", second.coil, "core") if second.coil else ("iron", second.name)
            pair = Clearance(_iron_name(first), _iron_name(second), apart)
            yield _collision(machine, pair, key)


def _outside(coil: PlacedCoil) -> tuple[float, float]:
    return coil.opening[0] + 2 * coil.build, coil.opening[1] + 2 * coil.build


def clearances(machine: Machine) -> tuple[Clearance, ...]:
    """Return the smallest distance of every rotor to windings, to each other and to iron.

    Rotors, and iron, whose surrounding spheres stay apart are left out.
    """
    refuse_too_many(machine)
    found = [
        Clearance(f'rotor "{rotor.name}"', f'coil "{coil.name}"', distance_m)
        for rotor, distances_m in zip(machine.rotors, rotors_to_windings_m(machine), strict=True)
        for coil, distance_m in zip(machine.coils, distances_m, strict=True)
    ]
    known: dict[tuple[object, ...], float] = {}
    # Hundreds of magnets are looked through once a rotor, not once for each pair of rotors.
    numbers: dict[tuple[PlacedMagnet, ...], int] = {}
    rotors = [
        (rotor, _sphere(rotor), numbers.setdefault(rotor.magnets, len(numbers)))
        for rotor in machine.placed_rotors
    ]
    for (one, around_one, arms_one), (two, around_two, arms_two) in combinations(rotors, 2):
        if _bounding_gap(around_one, around_two) <= 0:
            # Of two rotors there is nothing to compare with.
            alike = (arms_one, arms_two, *_stand_alike(one, two)) if len(rotors) > 2 else ()
            if alike not in known:
                known[alike] = _rotor_to_rotor(one, two)
            found.append(Clearance(f'rotor "{one.name}"', f'rotor "{two.name}"', known[alike]))
    return (*found, *_iron_clearances(machine))


def magnet_coil_pairs(machine: Machine) -> int:
    """Return how many pairs of a magnet and a coil there are, which most work grows with."""
    magnets = sum(len(rotor.magnets) for rotor in machine.placed_rotors)
    return magnets * len(machine.placed_coils)


def refuse_too_many(machine: Machine) -> None:
    """Refuse a machine that would take minutes to work out.

    Raises
    ------
    ImpossibleError
        With the key that makes it large.
    """
    rotors, coils = machine.placed_rotors, machine.placed_coils
    for key, parts, most in (("rotors", rotors, _MOST_ROTORS), ("coils", coils, _MOST_COILS)):
        if len(parts) > most:
            raise ImpossibleError(f"{key}: {len(parts)} of them; at most {most} are worked out")
    pairs = magnet_coil_pairs(machine)
    if pairs <= _MOST_SEARCHES:
        return  # there are no more tracks than magnets
    if pairs > _MOST_PAIRS:
        magnets = pairs // len(coils)
        key = "coils" if len(coils) > len(rotors) else "rotors"
        raise ImpossibleError(
            f"{key}: {len(rotors)} rotors with {magnets} magnets in all beside {len(coils)} coils "
            f"make {pairs} pairs of magnet and coil; at most {_MOST_PAIRS} are worked out: leave "
            "out what is alike"
        )
    searches = 0
    for rotor in machine.placed_rotors:
        tracks = rotor.tracks
        shaped = sum(swept_rectangle(mounted) is None for mounted in tracks)
        for coil in machine.placed_coils:
            square = np.abs(np.array(rotor.shaft.along) @ coil.frame).max() > 1.0 - 1e-12
            searches += shaped if square else len(tracks)
    if searches > _MOST_SEARCHES:
        raise ImpossibleError(
            f"rotors and coils: {len(machine.rotors)} rotors beside {len(machine.coils)} coils "
            f"make {searches} pairs of magnet and coil that need a search for their distance; at "
            f"most {_MOST_SEARCHES} are allowed: leave out what is alike"
        )


def _may_lie(apart_m: float) -> float:
    """Return the distance of parts that may lie face to face: touching is then no collision."""
    return apart_m if apart_m < -_LYING else max(apart_m, 2 * _TOUCH)


def _magnet_boxes(rotor: PlacedRotor) -> Boxes:
    """Return the smallest blocks around a rotor's magnets."""
    halves = np.array([m.magnet.size for m in rotor.magnets]) / 2
    return Boxes(*magnet_poses(rotor), halves)


@lru_cache(maxsize=256)
def _near_pairs(
    places: tuple[tuple[Vec3, float, float, float], ...],
) -> tuple[tuple[int, tuple[int, ...]], ...]:
    """Return each magnet with those after it whose surrounding spheres meet its own.

    Parameters
    ----------
    places
        Size, radius, angle and height of each.
    """
    sizes, (radius, angle, height) = [p[0] for p in places], np.array([p[1:] for p in places]).T
    centres = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=1)
    reach = np.linalg.norm(np.array(sizes), axis=1) / 2
    found = []
    for i in range(len(places) - 1):
        between = np.linalg.norm(centres[i + 1 :] - centres[i], axis=1)
        near = i + 1 + np.nonzero(between < reach[i] + reach[i + 1 :])[0]
        if near.size:
            found.append((i, tuple(near.tolist())))
    return tuple(found)


def _own_overlaps(machine: Machine, rotor: PlacedRotor) -> Iterator[Collision]:
    """Yield magnets of one rotor that overlap."""
    lowest = rotor.magnets[0].height
    near = _near_pairs(
        tuple((m.magnet.size, m.radius, m.angle, m.height - lowest) for m in rotor.magnets)
    )
    if not near:
        return
    boxes = _magnet_boxes(rotor)
    for i, others in near:
        first = rotor.magnets[i]
        apart = separations_m(boxes[i], boxes[np.array(others)])[0]
        for j, depth in zip(others, apart.tolist(), strict=True):
            if depth >= -_LYING:
                continue
            second = rotor.magnets[j]
            if not (
                isinstance(first.magnet.shape, Cuboid) and isinstance(second.magnet.shape, Cuboid)
            ):
                depth = _smallest(still_body(rotor, first), still_distance(rotor, second))
            pair = Clearance(
                f'magnet {i + 1} of rotor "{rotor.name}"',
                f"magnet {j + 1} of the same rotor",
                _may_lie(depth),
            )
            if pair.distance_m < _TOUCH:
                yield _collision(machine, pair, ("rotors", rotor.name, "magnets"))


def _coil_overlaps(machine: Machine) -> Iterator[Collision]:
    """Yield windings that overlap."""
    if len(machine.coils) < 2:
        return
    bars = [winding_bars(coil) for coil in machine.placed_coils]
    boxes = [Boxes(*(np.array(part) for part in zip(*four, strict=True))) for four in bars]
    for (i, first), (j, second) in combinations(enumerate(machine.placed_coils), 2):
        apart = _may_lie(float(separations_m(boxes[i], boxes[j]).min()))
        if apart < _TOUCH:
            pair = Clearance(f'coil "{first.name}"', f'coil "{second.name}"', apart)
            yield _collision(machine, pair, ("coils", second.name))


def check_collisions(machine: Machine) -> tuple[Clearance, ...]:
    """Return `clearances` if nothing collides.

    Raises
    ------
    CollisionError
        If a swept magnet runs into a winding, another rotor or iron, two magnets of a rotor
        overlap, two windings do, or iron touches other iron or runs into a winding; each line
        names both parts and the overlap.
    """
    found = clearances(machine)
    colliding = tuple(islice(_collisions(machine, found), MOST_TOLD + 1))
    if colliding:
        raise CollisionError(*colliding)
    return found


def _collisions(machine: Machine, found: Sequence[Clearance]) -> Iterator[Collision]:
    """Yield all parts that run into each other; finding the next may take a while."""
    arms = {rotor.magnets: rotor for rotor in reversed(machine.placed_rotors)}
    for rotor in reversed(arms.values()):  # of alike rotors the first
        yield from _own_overlaps(machine, rotor)
    yield from _coil_overlaps(machine)
    yield from _iron_overlaps(machine)
    for item in found:
        if item.distance_m < _TOUCH:
            rotor = next(r for r in machine.placed_rotors if item.first == f'rotor "{r.name}"')
            own = next((p for p in machine.placed_iron if item.second == _iron_name(p)), None)
            if own is not None and own.rotor == rotor.name:  # moving the rotor would move both
                yield _collision(machine, item, ("iron", own.name))
            else:
                yield _collision(machine, item, ("rotors", rotor.name), rotor)


def _collision(
    machine: Machine, pair: Clearance, key: tuple[str, ...], rotor: PlacedRotor | None = None
) -> Collision:
    """Return the collision of two parts, the first of them a rotor that may be moved, or none."""
    overlap = -pair.distance_m
    how = f"overlap by {overlap * 1e3:.3g} mm" if overlap > _TOUCH else "touch"
    problem = f"{pair.first} runs into {pair.second}: they {how}"
    way_out = partial(_way_out, machine, rotor, overlap)
    return Collision(problem, way_out, machine.file, key)


def _way_out(machine: Machine, rotor: PlacedRotor | None, overlap_m: float) -> str:
    """Return what would free two parts."""
    some = overlap_m > _TOUCH
    way = _way_along_shaft(machine, rotor, overlap_m) if rotor is not None else None
    if rotor is None or way is None:
        return f"move them apart by {overlap_m * 1e3:.3g} mm or more" if some else "move them apart"
    by = f" by more than {overlap_m * 1e3:.3g} mm" if some else ""
    return f'{way} rotor "{rotor.name}"{by} along its shaft'


def _way_along_shaft(machine: Machine, rotor: PlacedRotor, overlap_m: float) -> str | None:
    """Return "raise" or "lower" if that, by little more than the overlap, frees a rotor."""
    step = overlap_m + 2 * _LYING
    for word, shift in (("raise", step), ("lower", -step)):
        moved = rotor.raised(shift)
        others = [r for r in machine.placed_rotors if r.name != rotor.name]
        if (
            rotor_to_winding_m(moved, machine.placed_coils) >= _TOUCH
            and all(
                _bounding_gap(_sphere(moved), _sphere(other)) > 0
                or _rotor_to_rotor(moved, other) >= _TOUCH
                for other in others
            )
            and all(
                _iron_apart(moved, piece) > 0 or rotor_to_iron_m(moved, piece) >= _TOUCH
                for piece in machine.placed_iron
                if piece.rotor != rotor.name
            )
        ):
            return word
    return None
