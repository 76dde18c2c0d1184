"""Machines of every kind that a file can describe, at random: for tests of reading and writing."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from fieldsim.machine.coil_wire import CoilWire, SharedSpool, Spool
from fieldsim.machine.coils import Coil
from fieldsim.machine.connections import Connection
from fieldsim.machine.gauge import Gauge
from fieldsim.machine.gearing import Gears, GearWheel
from fieldsim.machine.iron import Ball, Block, Core, Disc, IronPiece, Rod, Tube
from fieldsim.machine.load.load import (
    DiodeSheet,
    Lamps,
    Load,
    LoadCapacitor,
    LoadGroup,
    LoadPart,
)
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, Magnet, North, Sphere
from fieldsim.machine.materials import MATERIALS, Material
from fieldsim.machine.mechanics import Adhesive, Crank, Friction
from fieldsim.machine.rotors import Mount, Rotor
from fieldsim.machine.shaft import Shaft
from fieldsim.wire.corners import Corners
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.packing import CopperFill, HexagonalLayers, RandomWinding, SquareLayers, WireFill


def between(low: float, high: float):
    """Return odd floats: any binary number in the range, not only short decimals."""
    return st.floats(low, high, allow_subnormal=False)


def maybe(strategy):
    """Return the strategy, or None."""
    return st.none() | strategy


@st.composite
def apart(draw):
    """Return two directions that are not parallel."""
    numbers = st.floats(-1, 1) | st.sampled_from([0.0, 1.0, -1.0, 1 / 3])
    first = draw(st.tuples(numbers, numbers, numbers).filter(lambda v: math.hypot(*v) > 0.1))
    second = draw(
        st.tuples(numbers, numbers, numbers).filter(
            lambda v: (
                math.hypot(
                    first[1] * v[2] - first[2] * v[1],
                    first[2] * v[0] - first[0] * v[2],
                    first[0] * v[1] - first[1] * v[0],
                )
                > 0.05
            )
        )
    )
    return first, second


positions = st.tuples(between(-1, 1), between(-1, 1), between(-1, 1))
edges = between(1e-3, 0.1)
remanences = between(0.1, 1.5) | st.sampled_from(["N42", "ferrite"])
shapes = (
    st.builds(Cuboid, st.tuples(edges, edges, edges))
    | st.builds(Cylinder, edges, edges, st.sampled_from(ArmAxis))
    | st.builds(Sphere, edges)
)
ratios = st.builds(
    lambda n, d, sign: sign * Fraction(n, d),
    st.integers(1, 900),
    st.integers(1, 900),
    st.sampled_from([1, -1]),
) | st.sampled_from([Fraction(1, 10), Fraction(-5, 2), Fraction(1, 3)])


@st.composite
def mounts(draw, kinds):
    """Return one entry of a rotor's magnets."""
    count = draw(st.sampled_from([1, 2, 3, 4]))
    poles = "same" if count == 3 else draw(st.sampled_from(["alternating", "same"]))
    return Mount(
        draw(st.sampled_from(kinds)),
        draw(between(0, 0.5)),
        draw(between(-0.5, 0.5)),
        draw(st.sampled_from(North)),
        draw(st.just(0.0) | between(-7, 7)),
        count,
        poles,
    )


@st.composite
def rotors(draw, name, kinds, ratio):
    """Return a rotor."""
    along, zero = draw(apart())
    shaft = Shaft(draw(positions), along)
    held = draw(st.lists(mounts(kinds), min_size=1, max_size=3))
    return Rotor(name, shaft, zero, held, ratio, draw(st.just(0.0) | between(-7, 7)))


gauges = (
    st.integers(24, 40).map(lambda n: f"AWG {n}")
    | st.integers(24, 42).map(lambda n: f"SWG {n}")
    | between(1e-4, 5e-4).map(lambda d: Gauge(None, d))
)
packings = (
    st.sampled_from([SquareLayers(), HexagonalLayers(), RandomWinding()])
    | st.builds(CopperFill, between(0.1, 0.5))
    | st.builds(WireFill, between(0.1, 0.7))
)


@st.composite
def spools(draw):
    """Return a spool with wire on it."""
    used, left = draw(
        st.sampled_from([(None, None)])
        | st.tuples(between(0, 0.9), st.none())
        | st.tuples(st.none(), between(0.1, 1))
    )
    count = draw(st.integers(1, 3))
    if draw(st.booleans()):
        return Spool(length=draw(between(50, 500)), used=used, left=left, count=count)
    reel = draw(maybe(between(0.001, 0.04)))
    return Spool(draw(between(0.1, 0.5)), None, reel, used, left, count)


thin, wide = between(1e-3, 5e-3), between(6e-3, 0.1)
rods, tubes = st.builds(Rod, thin, edges), st.builds(Tube, wide, thin, edges)
round_irons = st.one_of(rods, tubes, st.builds(Disc, edges, thin), st.builds(Ball, edges))
materials = st.sampled_from([*MATERIALS]) | st.builds(
    Material, between(1, 1e6) | st.just(200), maybe(between(0.1, 2)), maybe(between(1e-8, 1e3))
)


@st.composite
def cores(draw):
    """Return a core that every opening here is wide enough for, or none."""
    if draw(st.booleans()):
        return Core()
    shape = rods | st.builds(Block, st.tuples(thin, thin, edges))
    return Core(draw(shape), draw(materials), draw(st.just(0.0) | between(-0.1, 0.1)))


@st.composite
def irons(draw, name, rotor):
    """Return a piece of iron: a block, something round that stands still, or on that rotor."""
    place = draw(positions)
    how = draw(st.sampled_from(["block", "round", "turning"]))
    if how == "turning":
        along = draw(between(-0.3, 0.3))
        centre = tuple(
            t + along * a for t, a in zip(rotor.shaft.through, rotor.shaft.along, strict=True)
        )
        axis = draw(st.sampled_from([None, rotor.shaft.along]))
        shape, material = draw(round_irons), draw(materials)
        return IronPiece(name, shape, centre, axis, on=rotor.name, material=material)
    axis, side = draw(apart())
    if how == "round":
        return IronPiece(name, draw(round_irons), place, axis, material=draw(materials))
    shape = Block(draw(st.tuples(edges, edges, edges)))
    return IronPiece(name, shape, place, axis, side, None, draw(materials))


@st.composite
def coils(draw, name):
    """Return a coil: without wire, or with every way of stating turns."""
    return replace(draw(sharp_coils(name)), corners=draw(st.sampled_from(Corners)))


@st.composite
def sharp_coils(draw, name):
    """Return the same with the corners of a file that does not say."""
    axis, side = draw(apart())
    place = (name, draw(positions), axis, side)
    core = draw(cores())
    opening = (draw(between(0.01, 0.05)), draw(between(0.01, 0.05)))
    size = (opening, draw(between(0.008, 0.03)))
    build, turns = draw(between(0.005, 0.02)), draw(st.integers(1, 200))
    how = draw(st.sampled_from(["bare", "turns", "both", "fill", "length", "spools", "shared"]))
    if how == "bare":
        return Coil(*place, *size, build, draw(st.integers(1, 10_000)), core=core)
    if how == "shared":  # all coils that share a spool have its wire
        wire = CoilWire("AWG 34", packing=draw(maybe(packings)), spools=["shelf"])
        return Coil(*place, *size, None, draw(maybe(st.just(turns))), wire)
    gauge = draw(gauges)
    cover = draw(st.sampled_from([None, "enamel", "overall"]))
    wire = {"packing": draw(maybe(packings))}
    if cover == "enamel":
        wire["enamel"] = draw(st.sampled_from(Enamel))
    if cover == "overall":
        bare = CoilWire(gauge).gauge.bare_diameter_m
        wire["overall"] = bare * draw(between(1.05, 1.3))
    if how == "fill":
        return Coil(*place, *size, build, None, CoilWire(gauge, fill="section", **wire), core)
    if how == "length":
        wire["length"] = draw(between(2, 100))
    if how == "spools":
        wire["spools"] = draw(st.lists(spools(), min_size=1, max_size=2))
    stated = {"turns": (None, turns), "both": (0.1, turns)}.get(how, (None, None))
    if how == "both":
        wire["packing"] = None
    return Coil(*place, *size, *stated, CoilWire(gauge, **wire), core)


@st.composite
def lamps(draw):
    """Return LEDs by colour or by data sheet."""
    stated = {
        "series": draw(st.integers(1, 4)),
        "parallel": draw(st.integers(1, 4)),
        "resistor": draw(st.just(0.0) | between(0.5, 1e3)),
        "polarity": draw(st.sampled_from(["forward", "reverse", "both"])),
        "rated": draw(maybe(between(5e-3, 0.1))),
        "peak": draw(maybe(between(5e-2, 0.5))),
        "visible": draw(maybe(between(1e-4, 1e-3))),
        "reverse_limit": draw(maybe(between(2, 10))),
    }
    if draw(st.booleans()):
        return Lamps(colour=draw(st.sampled_from(["red", "white", "blue"])), **stated)
    return Lamps(
        forward=draw(between(2, 4)),
        at=draw(between(5e-3, 5e-2)),
        inner_resistance=draw(maybe(between(0.1, 5))),
        **stated,
    )


diodes = st.sampled_from(["silicon", "schottky"]) | st.builds(
    DiodeSheet, between(0.3, 1), between(0.01, 1)
)
capacitors = st.builds(
    LoadCapacitor,
    between(1e-9, 1),
    st.just(0.0) | between(0.01, 10),
    st.just(0.0) | between(-5, 5),
    maybe(between(1, 100)),
    st.booleans(),
)
names = st.sampled_from(["first", "second", "a-b_3"])
leaves = st.one_of(
    st.builds(
        LoadPart,
        maybe(names),
        resistor=between(1e-3, 1e5),
        rated=maybe(between(0.1, 5)),
        count=st.integers(1, 3),
    ),
    st.builds(LoadPart, maybe(names), capacitor=capacitors),
    st.builds(LoadPart, lamps=lamps()),
    st.builds(LoadPart, diode=diodes, reverse=st.booleans()),
    st.builds(LoadPart, use=st.just("group")),
)
parts = st.recursive(
    leaves,
    lambda inner: st.one_of(
        st.builds(
            LoadPart, series=st.lists(inner, min_size=1, max_size=3), count=st.integers(1, 3)
        ),
        st.builds(LoadPart, parallel=st.lists(inner, min_size=1, max_size=3)),
        st.builds(LoadPart, bridge=st.lists(inner, min_size=1, max_size=2)),
    ),
    max_leaves=5,
)


@st.composite
def loads(draw, across):
    """Return a load, or none."""
    if draw(st.integers(0, 4)) == 0:
        return Load()
    if draw(st.integers(0, 5)) == 0:
        return Load(across, terminals=draw(st.sampled_from(["open", "short"])))
    rectifier = draw(st.sampled_from(["none", "single", "bridge"]))
    return Load(
        across,
        None,
        rectifier,
        None if rectifier == "none" else draw(maybe(diodes)),
        draw(between(0.5, 1e4)),
        draw(st.just(LoadCapacitor()) | capacitors),
        draw(st.just(Lamps()) | lamps()),
        (LoadGroup(resistor=draw(between(1, 10)), called="group"),),
        draw(st.lists(parts, max_size=2)),
    )


@st.composite
def gears(draw, turning):
    """Return wheels that turn one rotor, or none."""
    if draw(st.booleans()):
        return Gears()
    fraction = between(0.5, 1)
    sense = draw(maybe(st.sampled_from(["opposite", "same"])))
    wheels = (
        GearWheel("big", draw(st.integers(20, 90)), on="crank"),
        GearWheel("mid", draw(st.integers(8, 30)), None, "big", sense, draw(maybe(fraction))),
        GearWheel("spread", draw(st.integers(20, 90)), on="mid"),
        GearWheel("small", draw(st.integers(8, 30)), driven_by="spread", rotors=turning),
    )
    return Gears(draw(fraction), wheels)


titles = st.text(
    st.characters(exclude_categories=["C", "Z"], include_characters=" :#'\"[]{}-0123456789"),
    max_size=30,
)


@st.composite
def described_machines(draw):
    """Return a machine of any parts, colliding ones included."""
    kinds = [Magnet(f"kind{i}", draw(shapes), draw(remanences)) for i in range(2)]
    geared = draw(gears("upper"))
    turned = [
        draw(rotors("upper", ["kind0", "kind1"], None if geared else draw(maybe(ratios)))),
        draw(rotors("lower", ["kind0"], draw(ratios))),
    ]
    drawn_iron = [draw(irons(f"piece{i}", turned[0])) for i in range(draw(st.integers(0, 2)))]
    wound = [draw(coils(name)) for name in ("left", "right", "y")]
    joined = draw(
        st.sampled_from(
            [
                (),
                (Connection("pair", series=["left", "-right"]),),
                (
                    Connection("all", parallel=["-pair", "y"]),
                    Connection("pair", series=["left", "right"]),
                ),
            ]
        )
    )
    shared = draw(st.booleans()) or any(coil.wire.shared for coil in wound)
    across = joined[0].name if joined else "y"
    adhesive = draw(
        st.builds(
            Adhesive,
            maybe(st.sampled_from(North)),
            maybe(between(1e-6, 1e-3)),
            maybe(between(1e5, 1e7)),
            maybe(between(1e5, 1e7)),
            st.just(7500.0) | between(4000, 9000),
        )
    )
    crank = draw(st.just(Crank()) | st.builds(Crank, between(0.01, 0.3), between(10, 100)))
    friction = draw(
        st.just(Friction())
        | st.builds(Friction, between(0, 0.1), between(0, 0.1), between(0, 1e-3))
    )
    return Machine(
        draw(titles.map(str.strip).filter(bool)),
        kinds,
        turned,
        wound,
        drawn_iron,
        joined,
        draw(loads(across)),
        geared,
        crank,
        friction,
        adhesive,
        draw(st.just(293.15) | between(230, 400)),
        spools=[SharedSpool(mass=draw(between(1, 2)), called="shelf")] if shared else [],
    )
