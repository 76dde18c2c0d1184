"""The wire of a coil as stated."""

import pytest
from sections import complaint, section

from fieldsim.machine.coil_wire import CoilWire
from fieldsim.machine.coils import Coil
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.packing import (
    CopperFill,
    HexagonalLayers,
    RandomWinding,
    SquareLayers,
    WireFill,
)
from fieldsim.wire.round_wire import Wire, awg_wire, metric_wire
from fieldsim.wire.sizes import swg_wire
from fieldsim.wire.winding import resolve_winding
from fieldsim.wire.winding_spec import Spool, WindingSpec


def read(text):
    return section(CoilWire, text)


def spec(text, build=None, turns=None):
    """Return what the winding of a coil of 24 by 16 by 12 mm is worked out from."""
    middle = (0.0, 0.0, 0.0), (0, 0, 1), (1, 0, 0)
    coil = Coil("c", *middle, (24e-3, 16e-3), 12e-3, build, turns, read(text))
    return coil.winding.spec


@pytest.mark.parametrize(
    ("text", "wire"),
    [
        ("{gauge: 32}", awg_wire(32)),
        ("{gauge: AWG 32}", awg_wire(32)),
        ("{gauge: '32'}", awg_wire(32)),
        ("{gauge: AWG 32, enamel: heavy}", awg_wire(32, Enamel.HEAVY)),
        ("{gauge: AWG 32, enamel: grade 1}", awg_wire(32, Enamel.GRADE_1)),
        ("{gauge: SWG 36}", swg_wire(36)),
        ("{gauge: 36 swg, enamel: grade 2}", swg_wire(36, Enamel.GRADE_2)),
        (
            "{gauge: SWG 36, overall: 0.25 mm}",
            Wire("SWG 36, 0.25 mm overall", 7.6 * 25.4e-6, 0.25e-3),
        ),
        ("{gauge: 0.2 mm}", metric_wire(0.2e-3)),
        ("{gauge: 0.2 mm, enamel: grade 2}", metric_wire(0.2e-3, Enamel.GRADE_2)),
        ("{gauge: 0.2 mm, overall: 0.23 mm}", Wire("0.2 mm, 0.23 mm overall", 0.2e-3, 0.23e-3)),
        (
            "{gauge: 32, overall: 0.23 mm}",
            Wire("AWG 32, 0.23 mm overall", awg_wire(32).bare_diameter_m, 0.23e-3),
        ),
    ],
)
def test_wires(text, wire):
    wire_read = read(text).wire
    assert wire_read.name == wire.name
    # 0.2 mm read as text may differ from 0.2e-3 in the last digit.
    assert wire_read.bare_diameter_m == pytest.approx(wire.bare_diameter_m, rel=1e-14)
    assert wire_read.overall_diameter_m == pytest.approx(wire.overall_diameter_m, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "packing"),
    [
        ("square layers", SquareLayers()),
        ("hexagonal layers", HexagonalLayers()),
        ("random", RandomWinding()),
        ("{copper_fill: 45 %}", CopperFill(0.45)),
        ("{wire_fill: 70 %}", WireFill(0.7)),
    ],
)
def test_packings(text, packing):
    section = read(f"{{gauge: 32, packing: {text}}}")
    assert section.packing.name == packing.name
    # 70 % read as text may differ from 0.7 in the last digit.
    assert vars(section.packing) == pytest.approx(vars(packing), rel=1e-14)


def test_everything_reaches_the_spec():
    text = """
        gauge: AWG 32
        packing: hexagonal layers
        spools:
          - {mass: 250 g, used: 40 %}
          - {mass: 100 g, count: 2}
          - {mass: 300 g, reel: 50 g, left: 50 %}
          - {length: 100 m, left: 25 %}
        """
    found = spec(text, build=6e-3, turns=900)
    assert found == WindingSpec(
        awg_wire(32),
        (24e-3, 16e-3),
        12e-3,
        packing=HexagonalLayers(),
        build_m=6e-3,
        turns=900,
        spools=(
            Spool(mass_kg=0.25, left=0.6),
            Spool(mass_kg=0.1, count=2),
            Spool(mass_kg=0.25, left=0.5),
            Spool(length_m=100.0, left=0.25),
        ),
    )
    assert resolve_winding(found).turns == 900


def test_length_and_fill_reach_the_spec():
    found = spec("{gauge: 32, length: 180 m}")
    assert found.wire_length_m == 180.0
    assert not found.fill
    assert found.build_m is found.turns is found.packing is None
    assert spec("{gauge: 32, fill: section}", 6e-3).fill


def test_a_shared_section_reads():
    stated = read("{gauge: AWG 32, spools: [{mass: 250 g, used: 40 %}, {mass: 100 g, count: 2}]}")
    assert stated.wire == awg_wire(32)
    assert len(stated.spools) == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{}", "this key is missing"),
        ("{gauge: 0.2}", '0.2 has no unit; write the gauge like "AWG 32" or "0.2 mm"'),
        ("{gauge: 0.2 SWG}", 'unknown unit "SWG"'),
        ("{gauge: 300}", "AWG 300 is out of range; allowed: AWG 10 to AWG 46"),
        ("{gauge: -32}", "AWG -32 is out of range"),
        ("{gauge: SWG 12}", "SWG 12 is out of range; allowed: SWG 13 to SWG 48"),
        ("{gauge: SWG 49}", "SWG 49 is out of range; allowed: SWG 13 to SWG 48"),
        ("{gauge: 0 mm}", '"0 mm" is out of range; allowed: 0.039 mm to 2.6 mm'),
        ("{gauge: -0.2 mm}", "is out of range"),
        ("{gauge: yes}", "write the gauge like"),
        ("{gauge: }", "write the gauge like"),
        ("{gauge: [32]}", "write the gauge like"),
        ("{gauge: 32, enamel: thick}", '"thick" is not one of: single, heavy, grade 1, grade 2'),
        ("{gauge: 32, enamel: 1}", "this is not one of"),
        ("{gauge: 32, enamel: single, overall: 0.23 mm}", 'one of "enamel" and "overall"'),
        ("{gauge: 32, overall: 0.2 mm}", "must be thicker than the copper"),
        ("{gauge: 32, packing: neat}", '"neat" is not a packing; allowed: square layers,'),
        ("{gauge: 32, packing: {copper_fill: 0.5}}", '0.5 has no unit; write it like "60 %"'),
        ("{gauge: 32, packing: {copper_fill: 95 %}}", "95 % is not possible"),
        (
            "{gauge: 32, packing: {copper_fill: -5 %}}",
            '"-5 %" is out of range; allowed: 0 % to 100 %',
        ),
        ("{gauge: 32, packing: {fill: 50 %}}", "this is not a packing"),
        ("{gauge: 32, packing: {copper_fill: 50 %, wire_fill: 60 %}}", "this is not a packing"),
        ("{gauge: 32, length: 0 m}", '"0 m" is out of range'),
        ("{gauge: 32, length: -3 m}", '"-3 m" is out of range'),
        ("{gauge: 32, length: 3 m, spools: [{mass: 1 g}]}", 'one of "length" and "spools"'),
        ("{gauge: 32, spools: {mass: 1 g}}", "must be a list, one entry for each spool"),
        ("{gauge: 32, spools: [{}]}", 'needs one of "mass" and "length"'),
        ("{gauge: 32, spools: [{mass: 1 g, length: 3 m}]}", 'needs one of "mass" and "length"'),
        ("{gauge: 32, spools: [{mass: 0 g}]}", '"0 g" is out of range'),
        ("{gauge: 32, spools: [{mass: 1 g, used: 10 %, left: 90 %}]}", "not both"),
        ("{gauge: 32, spools: [{mass: 1 g, used: 100 %}]}", "nothing is left"),
        ("{gauge: 32, spools: [{mass: 1 g, left: 0 %}]}", "nothing is left"),
        ("{gauge: 32, spools: [{mass: 1 g, left: 130 %}]}", "out of range; allowed: 0 % to 100 %"),
        ("{gauge: 32, spools: [{mass: 50 g, reel: 60 g}]}", "60 g, must be lighter than the spool"),
        ("{gauge: 32, spools: [{length: 50 m, reel: 6 g}]}", 'needs "mass"'),
        ("{gauge: 32, spools: [{mass: 1 g, count: 0}]}", "must be at least 1"),
        ("{gauge: 32, spools: [{mass: 1 g, count: 1.5}]}", "1.5 must be a whole number"),
        ("{gauge: 32, fill: yes}", '"fill" has one value: section'),
        ("{gauge: 32, spool: 3}", 'did you mean "spools"?'),
    ],
)
def test_problems_are_named_in_one_line(text, message):
    assert message in complaint(CoilWire, text).text
