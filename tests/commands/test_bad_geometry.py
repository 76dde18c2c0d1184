"""Wrong geometry files: a line for each fault that names file, line and key, exit code 2."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import tracemalloc

import pytest

# In geometries/one_rotor.yaml: what each case replaces (first place only) or appends, by what, the
# line and key that the message must name, and words it must hold. "+" stands for the end of the
# file, whose last line is 25.
RADIUS, HEIGHT, NORTH = "radius: 22 mm", "height: 11.5 mm", "north: +shaft"
SIZE, REMANENCE, RATIO = "size: [20 mm, 10 mm, 5 mm]", "remanence: 1.2 T", "gear_ratio: 9"
TITLE = "title: One rotor beside a rectangular coil"
AXIS, LENGTH, TURNS = "    axis: [0, 0, 1]", "length: 12 mm", "turns: 1800"
MOUNT = "rotors.upper.magnets[0]"
END = "+"

CASES = {
    # What YAML can do and a geometry must not.
    "python object": (
        "1.2 T", "!!python/object/apply:os.system ['true']", 8, "magnets.bar.remanence", "YAML tag"
    ),
    "python name": ("1.2 T", "!!python/name:os.system", 8, "magnets.bar.remanence", "YAML tag"),
    "private tag": ("1.2 T", "!mine 1.2 T", 8, "magnets.bar.remanence", "the YAML tag !mine"),
    "tag on a list": ("size: [", "size: !!omap [", 7, "magnets.bar.size", "!!omap is not allowed"),
    "tag on keys": (SIZE, "size: !!set {a, b}", 7, "magnets.bar.size", "!!set is not allowed"),
    "binary tag": ("1.2 T", "!!binary aGk=", 8, "magnets.bar.remanence", "!!binary"),
    "number tag on text": (TURNS, "turns: !!int many", 25, "coils.pickup.turns", '"many"'),
    "anchor": ("1.2 T", "&a 1.2 T", 8, "", "anchors (&name) are not allowed"),
    "alias": ("1.2 T", "*a", 8, "", "aliases (*name) are not allowed; write the value out"),
    "merge key": (
        REMANENCE, REMANENCE + "\n    <<: {a: b}", 9, "magnets.bar", "merge keys (<<) are not"
    ),
    "same key twice": (
        "    build: 6 mm", "    build: 6 mm\n    build: 7 mm", 25, "coils.pickup.build",
        "given twice; first on line 24",
    ),
    "same section twice": ("coils:", "magnets:", 17, "magnets", "given twice; first on line 5"),
    "list as key": (END, "? [a, b]\n: c\n", 26, "", "cannot be a key"),
    "number as key": (END, "12: c\n", 26, "", "12 cannot be a key; keys are plain words"),
    "true as a name": ("  pickup:", "  true:", 18, "coils", "true cannot be a key"),
    "null as key": (END, "~: c\n", 26, "", "cannot be a key"),
    "several documents": (END, "---\na: b\n", 26, "", "a second document starts here"),
    "open bracket": (END, "a: [1, 2\n", 27, "", "a flow sequence that began on line 26"),
    "open quote": (END, 'a: "never closed\n', 27, "", "a quoted scalar that began on line 26"),
    "two colons": (END, "a: b: c\n", 26, "", "put text that holds a colon in quotes"),
    "colon in the title": (
        TITLE, "title: two: rotors", 4, "", "put text that holds a colon in quotes, and check the"
    ),
    "no colon": (
        "coils:\n", "coils\n", 18, "", "check the indent, and that every key ends in a colon"
    ),
    "no colon below": (
        LENGTH, "length 12 mm", 24, "", "check the indent, and that every key ends in a colon"
    ),
    "less indent": (
        AXIS, "   axis: [0, 0, 1]", 20, "", "check the indent, and that every key ends in a colon"
    ),
    "first key indented": (TITLE, " " + TITLE, 5, "", "the first keys start at the left"),
    "special character": (TITLE, "title: @x", 4, "", "begins with a special character in quotes"),
    "open list": (
        SIZE, "size: [20 mm, 10 mm, 5 mm", 8, "", "that brackets are closed and entries separated"
    ),
    "tab": ("    " + REMANENCE, "\t" + REMANENCE, 8, "", "indent with spaces"),
    "unknown escape": (TITLE, 'title: "\\q"', 4, "", "unknown escape character"),
    "escape beyond all letters": (TITLE, 'title: "\\Uffffffff"', 4, "", "no such character"),
    "half a letter": (TITLE, 'title: "\\ud800"', 4, "title", "unprintable character U+D800"),
    "terminal escape": ("1.2 T", '"1.2\\e[31m T"', 8, "magnets.bar.remanence", "U+001B"),
    "terminal escape in a key": (END, '"\\e[2J": 1\n', 26, "", "unprintable character U+001B"),
    "null character": (END, "\0", 26, "", "a control character"),
    "YAML 2": ("# One rotor", "%YAML 2.0\n---\n# One rotor", 1, "", "incompatible YAML"),
    # Numbers.
    "not a number": (TURNS, "turns: .nan", 25, "coils.pickup.turns", "nan is not a finite number"),
    "infinite": (TURNS, "turns: -.inf", 25, "coils.pickup.turns", "-inf is not a finite number"),
    "400 digits": (TURNS, "turns: " + "9" * 400, 25, "coils.pickup.turns", "too large"),
    "5000 digits": (TURNS, "turns: " + "9" * 5000, 25, "coils.pickup.turns", "that can be read"),
    "exponent 400": (TURNS, "turns: 1e400", 25, "coils.pickup.turns", "inf is not a finite"),
    "octal": (TURNS, "turns: 01750", 25, "coils.pickup.turns", "write it in decimal"),
    "hexadecimal": (TURNS, "turns: 0x708", 25, "coils.pickup.turns", "write it in decimal"),
    "minutes": (TURNS, "turns: 30:00", 25, "coils.pickup.turns", "write it in decimal"),
    "half a turn": (TURNS, "turns: 1.5", 25, "coils.pickup.turns", "1.5 must be a whole number"),
    "turns as text": (TURNS, 'turns: "1800"', 25, "coils.pickup.turns", "not a plain number"),
    "turns with a unit": (TURNS, "turns: 1800 turns", 25, "coils.pickup.turns", "plain number"),
    "no turns": (TURNS, "turns: 0", 25, "coils.pickup.turns", "at least 1"),
    "negative turns": (TURNS, "turns: -5", 25, "coils.pickup.turns", "at least 1"),
    "turns without end": (TURNS, "turns: 9999999", 25, "coils.pickup.turns", "at most 1000000"),
    "turns left empty": (TURNS, "turns:", 25, "coils.pickup.turns", "key is missing"),
    "turns as keys": (TURNS, "turns: {a: 1}", 25, "coils.pickup.turns", "a group of keys"),
    # Quantities.
    "wrong kind of unit": (
        "1.2 T", "1.2 mm", 8, "magnets.bar.remanence",
        '"1.2 mm" is not a flux density; write it like "1.2 T" or "12 kG"',
    ),
    "no unit": (LENGTH, "length: 12", 23, "coils.pickup.length", '12 has no unit; write it like'),
    "no unit in text": (LENGTH, 'length: "12"', 23, "coils.pickup.length", '"12" has no unit'),
    "unknown unit": (LENGTH, "length: 12 ell", 23, "coils.pickup.length", 'unknown unit "ell"'),
    "misspelt unit": (LENGTH, "length: 12 mmm", 23, "coils.pickup.length", 'unknown unit "mmm"'),
    "empty quantity": (LENGTH, "length:", 23, "coils.pickup.length", "an empty value is not a"),
    "truth as quantity": (LENGTH, "length: true", 23, "coils.pickup.length", "true is not a"),
    "list as quantity": (LENGTH, "length: [1 mm]", 23, "coils.pickup.length", "a list is not a"),
    "NaN with a unit": (LENGTH, "length: nan mm", 23, "coils.pickup.length", "not a number with a"),
    "NaN without": (LENGTH, "length: .nan", 23, "coils.pickup.length", "nan has no unit"),
    "inf with a unit": (LENGTH, "length: inf mm", 23, "coils.pickup.length", "not a number with a"),
    "exponent 999": (LENGTH, "length: 1e999 mm", 23, "coils.pickup.length", "too large a number"),
    "decimal comma": (
        LENGTH, "length: 1,4 cm", 23, "coils.pickup.length",
        '"1,4 cm" has a comma in its number; write a decimal point, like "1.4 cm"',
    ),
    "thousands": (
        LENGTH, "length: 1,200.5 mm", 23, "coils.pickup.length",
        '"1,200.5 mm" has a comma in its number; write a decimal point',
    ),
    "two lengths": (LENGTH, "length: 12 mm, 3 mm", 23, "coils.pickup.length", "is not a number"),
    "comma in turns": (
        TURNS, "turns: 1,800", 25, "coils.pickup.turns",
        '"1,800" is not a plain number; write a decimal point, not a comma',
    ),
    "temperature as keys": (
        END, "temperature: {a: 1}\n", 26, "temperature", ": a group of keys is not a temperature"
    ),
    "temperature as list": (
        END, "temperature: [20]\n", 26, "temperature", ": a list is not a temperature; write it"
    ),
    "temperature as number": (END, "temperature: 20\n", 26, "temperature", ": 20 has no unit"),
    "sum": (LENGTH, "length: 6+6 mm", 23, "coils.pickup.length", "not a number with a unit"),
    "divided by zero": (LENGTH, "length: 1/0 mm", 23, "coils.pickup.length", "divides by zero"),
    "unit without end": (
        LENGTH, "length: 12 " + "m*" * 999 + "m", 23, "coils.pickup.length", "not a number with"
    ),
    "unit to the 99th": (LENGTH, "length: 12 mm^99", 23, "coils.pickup.length", "not a number"),
    "braces": (LENGTH, "length: '{0} {x} %s'", 23, "coils.pickup.length", "{0} {x} %s"),
    "two lines": (LENGTH, 'length: "12\\n\\n mm x"', 23, "coils.pickup.length", "12 mm x"),
    "negative length": (LENGTH, "length: -12 mm", 23, "coils.pickup.length", "0.1 mm to 10 m"),
    "no length": (LENGTH, "length: 0 mm", 23, "coils.pickup.length", "out of range; allowed: 0.1"),
    "giant magnet": (
        SIZE, "size: [20 m, 10 mm, 5 mm]", 7, "magnets.bar.size[0]", '"20 m" is out of range'
    ),
    "magnet of atoms": (
        SIZE, "size: [20 mm, 10 mm, 1e-9 m]", 7, "magnets.bar.size[2]", "allowed: 0.1 mm to 1 m"
    ),
    "strong magnet": ("1.2 T", "12 T", 8, "magnets.bar.remanence", "allowed: 0.001 T to 2 T"),
    "negative remanence": ("1.2 T", "-1.2 T", 8, "magnets.bar.remanence", "0.001 T to 2 T"),
    "negative radius": (RADIUS, "radius: -22 mm", 15, f"{MOUNT}.radius", "0 m to 10 m"),
    "angle in millimetres": ("angle: 0 deg", "angle: 3 mm", 15, f"{MOUNT}.angle", "15 deg"),
    "many turns of angle": ("angle: 0 deg", "angle: 1e9 deg", 15, f"{MOUNT}.angle", "1000 turn"),
    "start without unit": (
        RATIO, RATIO + "\n    start: 3", 14, "rotors.upper.start", "3 has no unit"
    ),
    # Lists and directions.
    "two edges": (SIZE, "size: [20 mm, 10 mm]", 7, "magnets.bar.size", "has 2 entries; it needs 3"),
    "four edges": (SIZE, "size: [1 mm, 1 mm, 1 mm, 1 mm]", 7, "magnets.bar.size", "has 4 entries"),
    "edges without commas": (
        SIZE, "size: [20 mm 10 mm 5 mm]", 7, "magnets.bar.size",
        "has 1 entry; it needs 3, like [20 mm, 10 mm, 5 mm]; separate the entries with commas",
    ),
    "edges with decimal commas": (
        SIZE, "size: [2,5 cm, 10 mm, 5 mm]", 7, "magnets.bar.size",
        "has 4 entries; it needs 3, like [20 mm, 10 mm, 5 mm]; write decimals with a point",
    ),
    "direction without commas": (
        AXIS, "    axis: [0 0 1]", 20, "coils.pickup.axis",
        "has 1 number; a direction has three, like [0, 0, 1]; separate the entries with commas",
    ),
    "no edges": (SIZE, "size: []", 7, "magnets.bar.size", "has 0 entries"),
    "one edge": (SIZE, "size: 20 mm", 7, "magnets.bar.size", "must be a list of 3 lengths"),
    "three openings": (
        "[24 mm, 16 mm]", "[24 mm, 16 mm, 1 mm]", 22, "coils.pickup.opening", "it needs 2"
    ),
    "flat direction": (AXIS, "    axis: [0, 1]", 20, "coils.pickup.axis", "a direction has three"),
    "no direction": (AXIS, "    axis: [0, 0, 0]", 20, "coils.pickup.axis", "length above zero"),
    "NaN direction": (AXIS, "    axis: [0, .nan, 1]", 20, "coils.pickup.axis", "not a finite"),
    "infinite direction": (AXIS, "    axis: [0, .inf, 1]", 20, "coils.pickup.axis", "not a finite"),
    "vanishing direction": (AXIS, "    axis: [0, 0, 4.9e-324]", 20, "coils.pickup.axis", "absurd"),
    "direction with units": (AXIS, "    axis: [0 mm, 0, 1]", 20, "coils.pickup.axis", '"0 mm" is'),
    "direction by name": (AXIS, "    axis: z", 20, "coils.pickup.axis", "three numbers like"),
    "side along the axis": (
        "    side: [1, 0, 0]", "    side: [0, 0, 2]", 21, "coils.pickup.side", "parallel"
    ),
    "zero along the shaft": (
        "    zero: [1, 0, 0]", "    zero: [0, 0, -1]", 12, "rotors.upper.zero", "parallel"
    ),
    # Keys and names.
    "misspelt remanence": (
        REMANENCE, "remanance: 1.2 T", 8, "magnets.bar.remanance", 'did you mean "remanence"?'
    ),
    "turns of the wire": (
        TURNS, "wire: {gauge: AWG 32, turns: 1800}", 25, "coils.pickup.wire.turns",
        "unknown key; turns belongs beside wire, in the coil itself. Allowed here: gauge, enamel",
    ),
    "gauge of the coil": (
        TURNS, TURNS + "\n    gauge: AWG 32", 26, "coils.pickup.gauge",
        "unknown key; gauge belongs under wire, in this coil. Allowed here: centre, axis",
    ),
    "misspelt radius": (RADIUS, "radios: 22 mm", 15, f"{MOUNT}.radios", 'did you mean "radius"?'),
    "misspelt coils": ("coils:", "coil:", 17, "coil", 'did you mean "coils"?'),
    "capital": (AXIS, "    Axis: [0, 0, 1]", 20, "coils.pickup.Axis", 'did you mean "axis"?'),
    "unlike any key": (END, "zzz: 1\n", 26, "zzz", "unknown key. Allowed here: title, magnets"),
    "key without end": (END, "k" * 900 + ": 1\n", 26, "k" * 60 + "...", "unknown key"),
    "missing turns": ("    turns: 1800\n", "", 18, "coils.pickup.turns", "this key is missing"),
    "missing pole": (f", {NORTH}", "", 15, f"{MOUNT}.north", "this key is missing"),
    "missing shaft point": (
        "through: [0 mm, 0 mm, 0 mm], ", "", 11, "rotors.upper.shaft.through", "missing"
    ),
    "shaft by name": (
        "{through: [0 mm, 0 mm, 0 mm], along: [0, 0, 1]}", "z", 11, "rotors.upper.shaft",
        "must be keys with values: through, along",
    ),
    "unknown magnet": (
        "magnet: bar, radius", "magnet: barr, radius", 15, f"{MOUNT}.magnet",
        'no magnet is called "barr"; there are: bar',
    ),
    "list of magnet names": (
        "magnet: bar, radius", "magnet: [bar], radius", 15, f"{MOUNT}.magnet", "a list cannot be a"
    ),
    "name with a space": ("  pickup:", "  pick up:", 18, "coils.pick up", "cannot be a name"),
    "name with a comma": ("  pickup:", '  "a,b":', 18, "coils.a,b", "cannot be a name"),
    "name without end": ("  pickup:", "  " + "p" * 99 + ":", 18, "coils.ppp", "up to 39 letters"),
    "no name": ("  pickup:", '  "":', 18, "coils", "cannot be a name"),
    "empty coil": ("  pickup:\n", "  pickup:\n  other:\n", 18, "coils.pickup", "must be keys with"),
    "list of coils": ("  pickup:", "  - pickup:", 17, "coils", "named keys, one for each coil"),
    "title as list": (TITLE, "title: [a]", 4, "title", "the title must be text"),
    "title as number": (TITLE, "title: 12", 4, "title", "the title must be text"),
    "title without end": (TITLE, "title: " + "x" * 300, 4, "title", "at most 200"),
    "title of two lines": (TITLE, 'title: "a\\nb"', 4, "title", "one line of printable text"),
    # Magnets, poles and gears.
    "pole": (NORTH, "north: up", 15, f"{MOUNT}.north", '"up" is not one of: +shaft, -shaft, out'),
    "pole as number": (NORTH, "north: 1", 15, f"{MOUNT}.north", "is not one of"),
    "odd alternating": (
        NORTH, f"{NORTH}, count: 3", 15, f"{MOUNT}.count", "3 magnets cannot alternate"
    ),
    "no magnets": (NORTH, f"{NORTH}, count: 0", 15, f"{MOUNT}.count", "at least 1"),
    "million magnets": (NORTH, f"{NORTH}, count: 1000000", 15, f"{MOUNT}.count", "at most 200"),
    "201 magnets": (NORTH, f"{NORTH}, count: 200", 14, "rotors.upper.magnets", "at most 200"),
    "poles": (NORTH, f"{NORTH}, poles: odd", 15, f"{MOUNT}.poles", "alternating, same"),
    "shape": (SIZE, "shape: ring", 7, "magnets.bar.shape", "block, disc, cylinder, sphere"),
    "sphere with size": (
        REMANENCE, REMANENCE + "\n    shape: sphere\n    diameter: 9 mm", 7, "magnets.bar.size",
        'a sphere magnet has no "size"; it has: diameter, remanence',
    ),
    "cylinder without thickness": (
        SIZE, "shape: cylinder\n    diameter: 9 mm", 6, "magnets.bar.thickness", 'needs "thickness"'
    ),
    "block with a diameter": (
        SIZE, f"{SIZE}\n    diameter: 9 mm", 8, "magnets.bar.diameter", 'has no "diameter"'
    ),
    "cylinder along nothing": (
        SIZE, "shape: disc\n    diameter: 9 mm\n    thickness: 3 mm\n    axis: up", 10,
        "magnets.bar.axis", "shaft, arm, forward",
    ),
    "ratio zero": (RATIO, "gear_ratio: 0", 13, "rotors.upper.gear_ratio", "would never turn"),
    "ratio over zero": (RATIO, "gear_ratio: 10/0", 13, "rotors.upper.gear_ratio", "not a ratio"),
    "ratio of a million": (
        RATIO, "gear_ratio: 1000000", 13, "rotors.upper.gear_ratio", "0.001 to 1000 in size"
    ),
    "ratio NaN": (RATIO, "gear_ratio: .nan", 13, "rotors.upper.gear_ratio", "not a finite"),
    "ratio in words": (RATIO, "gear_ratio: fast", 13, "rotors.upper.gear_ratio", 'like 9, -2.5 or'),
    "ratio with a unit": (RATIO, "gear_ratio: 9 turn", 13, "rotors.upper.gear_ratio", "a ratio"),
}  # fmt: skip


# What else is wrong with a file for the same reason.
BESIDE = {
    "same section twice": (1, "coils: this key is missing"),
}


@pytest.mark.parametrize("name", CASES)
def test_one_line_with_place(name, refused_for, one_rotor, tmp_path):
    old, new, line, key, words = CASES[name]
    assert old == END or old in one_rotor
    text = one_rotor + new if old == END else one_rotor.replace(old, new, 1)
    path = tmp_path / "machine.yaml"
    path.write_text(text, encoding="utf-8")
    told = refused_for("check", path)
    if name in BESIDE:
        told.remove("{}:{}: {}".format(path, *BESIDE[name]))
    (message,) = told
    place = f"{path}:{line}: {key}"
    assert message.startswith(place), message
    assert words in message, message
    assert [p.name for p in tmp_path.iterdir()] == ["machine.yaml"]


def repeated(count: int, text: str = "x") -> str:
    return text * count


# Whole files, their bytes, the line, and words of the message.
FILES = {
    "empty": (b"", 1, "the file is empty; it needs magnets, rotors and coils"),
    "blank": (b" \n\n", 1, "the file is empty"),
    "comment": (b"# later\n", 1, "the file is empty"),
    "start of a document": (b"---\n", 1, "the file is empty"),
    "null": (b"null\n", 1, "the file is empty"),
    "a word": (b"hello\n", 1, "the top level must be keys, among them magnets, rotors and coils"),
    "a list": (b"- a\n- b\n", 1, "the top level must be keys"),
    "title only": (b"title: x\n", 1, "magnets: this key is missing"),
    "no rotor": (b"magnets: {a: {}}\nrotors: {}\ncoils: {}\n", 1, 'a block magnet needs "size"'),
    "picture": (b"\x89PNG\r\n\x1a\n\0\0\0", 1, "this is not UTF-8 text"),
    "every byte": (bytes(range(256)), 2, "this is not UTF-8 text"),
    "Latin letters": ("title: Grün\n".encode("latin-1"), 1, "this is not UTF-8 text"),
    "sixteen bits": ("title: x\n".encode("utf-16"), 1, "this is not UTF-8 text"),
    "sixteen bits without mark": ("title: x\n".encode("utf-16-le"), 1, "a control character"),
    "alias bomb": (
        b"a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b]\n", 1, "anchors",
    ),
    "deep brackets": (b"a: " + b"[" * 9000, 1, "nested deeper than 20 levels"),
    "deep braces": (b"{a: " * 9000, 1, "nested deeper than 20 levels"),
    "deep keys": ("\n".join(" " * i + "a:" for i in range(300)).encode(), 20, "deeper than 20"),
    "deep list": (b"- " * 9000, 1, "nested deeper than 20 levels"),
    "too large": (b"#" + b"x" * 200_000, 1, "larger than 100 kB"),
    "many keys": ("".join(f"k{i}: 1\n" for i in range(9000)).encode(), 1, "k0: unknown key"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_whole_files(name, refused_for, tmp_path):
    content, line, words = FILES[name]
    path = tmp_path / "machine.yaml"
    path.write_bytes(content)
    message = refused_for("check", path)[0]
    assert message.startswith(f"{path}:{line}: "), message
    assert words in message, message


def test_all_that_is_wrong_is_told_at_once(refused_for, one_rotor, tmp_path):
    """Keys, values, names and what could not be read, in the order of the lines."""
    path = tmp_path / "machine.yaml"
    text = one_rotor.replace(REMANENCE, "remanance: 1.2 mm").replace(
        "gear_ratio: 9", "gear_ratio: 0x9"
    )
    text = text.replace(RADIUS, "radius: 22", 1).replace(NORTH, "north: up", 1)
    text = text.replace(AXIS, AXIS + "\n    axis: [0, 0, 2]").replace(LENGTH, "length: 12 T")
    path.write_text(text + "spare: 1\n")
    assert [line.split("; ")[0].split(" Allowed")[0] for line in refused_for("check", path)] == [
        f"{path}:8: magnets.bar.remanance: unknown key",
        f'{path}:13: rotors.upper.gear_ratio: "0x9" is not a plain number',
        f"{path}:15: {MOUNT}.radius: 22 has no unit",
        f'{path}:15: {MOUNT}.north: "up" is not one of: +shaft, -shaft, out, in, forward, back',
        f"{path}:21: coils.pickup.axis: given twice",
        f'{path}:24: coils.pickup.length: "12 T" is not a length',
        f"{path}:27: spare: unknown key",
    ]


def test_at_most_ten_are_told(refused_for, one_rotor, tmp_path):
    path = tmp_path / "machine.yaml"
    for count, end in ((10, []), (11, ["... and 1 more"]), (9000, ["... and 8990 more"])):
        path.write_text(one_rotor + "".join(f"key{i}: 1\n" for i in range(count)))
        told = refused_for("check", path)
        assert [line.split(": ")[:2] for line in told[:10]] == [
            [f"{path}:{26 + i}", f"key{i}"] for i in range(10)
        ]
        assert told[10:] == end


def test_parts_that_do_not_fit_together_are_told_at_once(refused_for, one_rotor, tmp_path):
    path = tmp_path / "machine.yaml"
    text = one_rotor.replace("magnet: bar", "magnet: bra").replace(RATIO, "start: 0 deg")
    wheels = "gears: {wheels: {hand: {teeth: 9, on: crank}}}"
    joined = "connections: {pair: {series: [pickup, pickup]}}"
    path.write_text(f"{text}{wheels}\n{joined}\nload: {{across: pick, resistor: 9 ohm}}\n")
    assert refused_for("check", path) == [
        f"{path}:10: rotors.upper: no wheel turns it; give a wheel `rotors: [upper]`, or it a "
        "gear_ratio",
        f'{path}:15: rotors.upper.magnets[0].magnet: no magnet is called "bra"; there are: bar',
        f'{path}:16: rotors.upper.magnets[1].magnet: no magnet is called "bra"; there are: bar',
        f'{path}:27: connections.pair.series[1]: "pickup" is used twice, in "pair"; it has only '
        "two ends and can be used once",
        f'{path}:28: load.across: no coil or connection is called "pick"; there are: pickup, pair',
    ]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("coils:", "coil:"),  # not also that "coils" is missing
        (REMANENCE, "remanance: 1.2 T"),
        (SIZE, "shape: blok\n    size: [20 mm, 10 mm, 5 mm]"),
        (SIZE, "sice: [20 mm, 10 mm, 5 mm]"),
        ("  pickup:", "  pick up:"),
    ],
)
def test_one_slip_is_told_once(old, new, refused, one_rotor, tmp_path):
    path = tmp_path / "machine.yaml"
    path.write_text(one_rotor.replace(old, new, 1))
    refused("check", path)


def test_refusing_a_bomb_takes_no_memory(refused, tmp_path):
    """Expanded, the nine levels would be a thousand million words; refused, a few kB."""
    path = tmp_path / "bomb.yaml"
    levels = [f"l{i}: &l{i} [{','.join([f'*l{i - 1}'] * 9)}]" for i in range(1, 9)]
    path.write_text("\n".join(["l0: &l0 [x]", *levels]))
    tracemalloc.start()
    refused("check", path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20e6  # bytes: imports on first use are some megabytes


@pytest.mark.parametrize("change", ["mark", "line ends", "old line ends", "document end"])
def test_harmless_oddities_are_accepted(change, run, one_rotor, tmp_path):
    content = {
        "mark": b"\xef\xbb\xbf" + one_rotor.encode(),
        "line ends": one_rotor.replace("\n", "\r\n").encode(),
        "old line ends": one_rotor.replace("\n", "\r").encode(),
        "document end": b"---\n" + one_rotor.encode() + b"...\n",
    }[change]
    path = tmp_path / "machine.yaml"
    path.write_bytes(content)
    outcome = run("check", path)
    assert outcome.code == 0
    assert outcome.err == ""
    assert "1800 turns" in outcome.out


@pytest.mark.parametrize("command", ["check", "flux", "emf", "gap", "compare", "draw"])
def test_every_command_says_the_same(command, refused, one_rotor, tmp_path):
    path = tmp_path / "machine.yaml"
    path.write_text(one_rotor.replace("1.2 T", "1.2 mm", 1))
    extra = {"gap": ["--values", "1 mm"], "draw": ["--out", tmp_path / "a.png"]}.get(command, [])
    message = refused(command, path, *extra)
    assert message.startswith(f'{path}:8: magnets.bar.remanence: "1.2 mm" is not a flux density')
    assert not (tmp_path / "a.png").exists()


def test_missing_file(refused, tmp_path):
    path = tmp_path / "none.yaml"
    assert refused("check", path) == f"{path}: cannot be read: No such file or directory"


def test_folder_as_file(refused, tmp_path):
    assert refused("check", tmp_path) == f"{tmp_path}: cannot be read: Is a directory"


def test_file_as_folder(refused, geometries):
    assert "Not a directory" in refused("check", geometries / "one_rotor.yaml" / "x")


def test_endless_file(refused):
    assert "larger than 100 kB" in refused("check", "/dev/zero")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "the name of the geometry file is empty"),
        ("a\0b", "a?b: cannot be read"),
        ("a\nb.yaml", "a b.yaml: cannot be read"),
        ("\x1b[31mred.yaml", "?[31mred.yaml: cannot be read"),
        ("\udcff.yaml", "?.yaml: cannot be read"),
        ("x" * 5000, "File name too long"),
    ],
)
def test_strange_names(name, words, refused):
    assert words in refused("check", name)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_unreadable_file(refused, one_rotor, tmp_path):
    path = tmp_path / "secret.yaml"
    path.write_text(one_rotor)
    path.chmod(0)
    assert refused("check", path).endswith("cannot be read: Permission denied")


# Machines that cannot be built: what is replaced, by what, and the whole message after the file.
COLLISIONS = {
    "magnet through the winding": (
        HEIGHT, "height: 8 mm",
        '10: rotors.upper: rotor "upper" runs into coil "pickup": they overlap by 0.5 mm; '
        'raise rotor "upper" by more than 0.5 mm along its shaft',
    ),
    "magnet through the winding from below": (
        HEIGHT, "height: -8 mm",
        '10: rotors.upper: rotor "upper" runs into coil "pickup": they overlap by 0.5 mm; '
        'lower rotor "upper" by more than 0.5 mm along its shaft',
    ),
    "magnet on the winding": (
        HEIGHT, "height: 8.5 mm",
        '10: rotors.upper: rotor "upper" runs into coil "pickup": they touch; '
        'raise rotor "upper" along its shaft',
    ),
    # Magnets 8.5 mm above and below: along the shaft one of them always stays in the winding.
    "no way along the shaft": (
        f"{HEIGHT}, north: +shaft}}\n",
        "height: 0 mm, north: +shaft}\n      - {magnet: bar, radius: 22 mm, angle: 90 deg, "
        "height: 8.5 mm, north: -shaft}\n      - {magnet: bar, radius: 22 mm, angle: 90 deg, "
        "height: -8.5 mm, north: -shaft}\n",
        '10: rotors.upper: rotor "upper" runs into coil "pickup": they overlap by 8.5 mm; '
        "move them apart by 8.5 mm or more",
    ),
    "two magnets in one place": (
        "angle: 180 deg", "angle: 0 deg",
        '14: rotors.upper.magnets: magnet 1 of rotor "upper" runs into magnet 2 of the same rotor: '
        "they overlap by 5 mm; move them apart by 5 mm or more",
    ),
    "too many on a circle": (
        NORTH, f"{NORTH}, count: 40",
        '14: rotors.upper.magnets: magnet 1 of rotor "upper" runs into magnet 2 of the same rotor: '
        "they overlap by 5 mm; move them apart by 5 mm or more",
    ),
    "two coils": (
        "coils:",
        "coils:\n  other: {centre: [0 mm, 49 mm, 0 mm], axis: [0, 0, 1], side: [1, 0, 0], opening: "
        "[24 mm, 16 mm], length: 12 mm, build: 6 mm, turns: 9}",
        '19: coils.pickup: coil "other" runs into coil "pickup": they overlap by 1 mm; '
        "move them apart by 1 mm or more",
    ),
    "two rotors": (
        "coils:",
        "  lower: {shaft: {through: [0 mm, 0 mm, 3 mm], along: [0, 0, 1]}, zero: [1, 0, 0], "
        f"gear_ratio: -9, magnets: [{{magnet: bar, {RADIUS}, {HEIGHT}, {NORTH}}}]}}\ncoils:",
        '10: rotors.upper: rotor "upper" runs into rotor "lower": they overlap by 2 mm; '
        'lower rotor "upper" by more than 2 mm along its shaft',
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", COLLISIONS)
@pytest.mark.parametrize("command", ["check", "emf"])
def test_collisions_name_both_parts(name, command, refused_for, one_rotor, tmp_path):
    old, new, words = COLLISIONS[name]
    path = tmp_path / "machine.yaml"
    path.write_text(one_rotor.replace(old, new, 1))
    first, *others = refused_for(command, path)
    assert first == f"{path}:{words}"
    assert all(" runs into " in line or line.endswith("and more") for line in others)


@pytest.mark.parametrize("name", [n for n in COLLISIONS if "raise" in COLLISIONS[n][2]])
def test_the_way_out_is_one(name, run, one_rotor, tmp_path):
    """Raised by 0.01 mm more than the message says, the machine is accepted."""
    old, new, words = COLLISIONS[name]
    millimetres = float(new.split()[1]) + (0.5 if "0.5" in words else 0) + 0.01
    path = tmp_path / "machine.yaml"
    path.write_text(one_rotor.replace(old, f"height: {millimetres} mm", 1))
    assert run("check", path).code == 0


def test_a_collision_in_a_file_that_can_be_read_once(one_rotor, tmp_path):
    text = one_rotor.replace(HEIGHT, "height: 8 mm", 1)
    done = subprocess.run(
        [sys.executable, "-m", "fieldsim", "check", "/dev/stdin"],
        input=text, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith('fieldsim: /dev/stdin: rotor "upper" runs into coil "pickup"')
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_a_machine_that_collides_is_still_drawn(options, run, one_rotor, tmp_path):
    """The picture is what shows where; the error is told all the same."""
    path, picture = tmp_path / "machine.yaml", tmp_path / "a.png"
    path.write_text(one_rotor.replace(HEIGHT, "height: 8 mm", 1))
    outcome = run("draw", path, "--out", picture, *options)
    assert outcome.code == 2
    collision, drawn = outcome.err.splitlines()
    assert "they overlap by 0.5 mm" in collision
    assert drawn == f"fieldsim: the picture was drawn all the same: {picture}"
    assert picture.read_bytes().startswith(b"\x89PNG")
    if options:
        assert json.loads(outcome.out)["collision"] == collision.removeprefix("fieldsim: ")
    else:
        assert outcome.out == ""


def test_a_drawing_as_json(run, geometries, tmp_path):
    picture = tmp_path / "a.png"
    file = geometries / "one_rotor.yaml"
    outcome = run("draw", file, "--out", picture, "--crank-angle", "90 deg", "--json")
    assert (outcome.code, outcome.err) == (0, "")
    assert json.loads(outcome.out) == {
        "title": "One rotor beside a rectangular coil",
        "file": str(file),
        "picture": str(picture),
        "crank_angle_rad": pytest.approx(math.pi / 2),
        "collision": None,
    }
    assert picture.exists()
