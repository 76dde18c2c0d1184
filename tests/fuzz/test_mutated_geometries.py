"""Shipped geometries, damaged at random: accepted, or refused in few lines and with exit code 2.

The suite runs a few hundred fixed cases. ``pytest tests/fuzz --hypothesis-profile=long`` (see
conftest.py) runs thousands of new ones each time.
"""

from __future__ import annotations

import contextlib
import io
import json
import math
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldsim.cli import main
from fieldsim.errors import FieldsimError
from fieldsim.machine.gauge import gauge_from, gauges_of
from fieldsim.machine.kinds import list_hint
from fieldsim.machine.units import parse_quantity

FILES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))
TEXTS = [path.read_text(encoding="utf-8") for path in FILES]

LONG = settings.default.max_examples > 100
EXAMPLES = settings.default.max_examples


def fuzz(share: float):
    return settings(
        max_examples=int(share * EXAMPLES),
        derandomize=not LONG,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )


ODD = [
    *["", "~", "null", "true", "no", "-", "--", "---", "...", "[]", "{}", "[[]]", "{a: 1}"],
    *["0", "-0.0", "1", "2", "7", "-1", "0.5", "1e308", "1e309", "1e-320", ".nan", ".inf", "-.inf"],
    *["00", "0x1F", "0b1", "010", "1:30", "1_000", "1,5", "9" * 40, "9" * 5000, "2001-01-01"],
    *["0 mm", "5 mm", "-5 mm", "1e300 mm", "1e-300 mm", "1/3 in", "1/0 in", "nan mm", "5 mm mm"],
    *["10 m", "0.1 mm", "1000 mm", "20 %", "1 T", "2 T", "3 rpm", "2 Hz", "90 deg", "1000 turn"],
    *["mm", "°", "5 µm", "９ mm", "5 mm^2", "5 mm**2", "5 m/s", "5 (mm)", "5 mm; x", "$(x)", "{0}"],
    *["+shaft", "-shaft", "out", "back", "bar", "sphere", "disc", "alternating", "same", "arm"],
    *["!!str x", "!!python/name:os.system", "!x", "&a", "&a x", "*a", "<<", "<<: {a: b}", "%x"],
    *["|", ">", "'", '"', '"\\ud800"', '"\\0"', '"\\Uffffffff"', "\t", "@", "`", "? ", ": ", "- "],
    *["#", "# x", "x" * 300, "é", "日本", "\u202e", "\ufeff", "\u2028", "\x85", "a: b: c", "["],
    *["1,4 cm", "1,2,3 mm", "1,000.5 mm", ",5 mm", "1, mm", "[1,4 cm]", "[5 mm 5 mm]", "[0 0 1]"],
    *["[0, 0, 1]", "[1, 0, 0]", "[0, 0, 0]", "[1e200, 0, 0]", "[5 mm, 5 mm]", "[1 mm, 1 mm, 1 mm]"],
]  # fmt: skip

odd = st.sampled_from(ODD)
place = st.floats(0, 1, exclude_max=True)


@st.composite
def damaged_text(draw) -> bytes:
    """A shipped file with one to four changes to its lines, characters or bytes."""
    text = draw(st.sampled_from(TEXTS))
    for _ in range(draw(st.integers(1, 4))):
        lines = text.split("\n")
        i, j = (int(draw(place) * len(lines)) for _ in range(2))
        k = int(draw(place) * (len(text) + 1))
        change = draw(st.integers(0, 9))
        if change == 0:
            del lines[i]
        elif change == 1:
            lines.insert(j, lines[i])
        elif change == 2:
            lines[i], lines[j] = lines[j], lines[i]
        elif change == 3:
            lines[i] = lines[i].partition(":")[0] + ": " + draw(odd)
        elif change == 4:
            lines[i] = " " * draw(st.integers(0, 9)) + lines[i].lstrip()
        if change <= 4:
            text = "\n".join(lines)
        elif change == 5:
            text = text[:k] + text[k + 1 :]
        elif change == 6:
            text = text[:k] + draw(odd) + text[k:]
        elif change == 7:
            text = text[:k] + draw(st.text(max_size=3)) + text[k + 1 :]
        elif change == 8:
            text = text[:k]
        else:
            digits = [n for n, c in enumerate(text) if c.isdigit()] or [0]
            n = digits[int(draw(place) * len(digits))]
            text = text[:n] + draw(st.sampled_from("0123456789-.e")) + text[n + 1 :]
    raw = text.encode("utf-8", errors="surrogatepass")
    if draw(st.integers(0, 9)) == 0:
        k = int(draw(place) * len(raw))
        raw = raw[:k] + draw(st.binary(max_size=3)) + raw[k:]
    return raw


def paths(content, above=()):
    yield above
    if isinstance(content, dict | list):
        for key in content if isinstance(content, dict) else range(len(content)):
            yield from paths(content[key], (*above, key))


values = st.recursive(
    st.one_of(
        odd,
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(),
        st.text(max_size=8),
        st.builds(
            "{} {}".format,
            st.floats(allow_nan=False, allow_infinity=False),
            st.sampled_from(["mm", "m", "in", "T", "deg", "turn", "rad", "kG", "°"]),
        ),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=5,
)


@st.composite
def damaged_values(draw) -> bytes:
    """A shipped file with one to three of its values replaced, taken out or copied elsewhere."""
    content = yaml.safe_load(draw(st.sampled_from(TEXTS)))
    for _ in range(draw(st.integers(1, 3))):
        known = [p for p in paths(content) if p]
        if not known:
            break
        *above, key = known[int(draw(place) * len(known))]
        holder = content
        for part in above:
            holder = holder[part]
        change = draw(st.integers(0, 5))
        if change == 0:
            del holder[key]
        elif change == 1:
            other = content
            for part in known[int(draw(place) * len(known))]:
                other = other[part]
            holder[key] = json.loads(json.dumps(other))  # a copy, so that nothing becomes an alias
        else:
            holder[key] = draw(values)
    return yaml.safe_dump(content, allow_unicode=draw(st.booleans()), sort_keys=False).encode(
        "utf-8", errors="surrogatepass"
    )


def not_json(word: str):
    raise ValueError(f"{word} in JSON")


def outcome(arguments: list[str]) -> int:
    """Run a command; check that it says either a result or what is wrong, never both or neither."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    if code == 0:
        assert err.getvalue() == ""
        json.loads(out.getvalue(), parse_constant=not_json)
    else:
        assert code == 2
        assert out.getvalue() == ""
        told = err.getvalue().split("\n")
        assert told.pop() == ""
        assert 1 <= len(told) <= 11
        for line in told:
            assert line.startswith("fieldsim: ")
            assert line.isprintable()
            assert len(line) < 700
        assert len(set(told)) == len(told)
    return code


@pytest.fixture(scope="module")
def path(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("fuzz") / "machine.yaml"


@fuzz(2)
@given(content=damaged_text())
def test_damaged_text(content, path):
    path.write_bytes(content)
    outcome(["check", str(path), "--json"])


@fuzz(1.5)
@given(content=damaged_values())
def test_damaged_values(content, path):
    path.write_bytes(content)
    outcome(["check", str(path), "--json"])


NUMBERS = st.text("0123456789,.+-e/ mMx²", max_size=20)
HINTS = (list_hint(["1 mm 2 mm"]), list_hint([1, "5 mm"]))


@fuzz(2)
@given(text=NUMBERS)
def test_quantities_are_read_or_refused_in_one_line(text):
    try:
        length_m = parse_quantity(text, "length")
    except ValueError as error:
        problem = str(error)
    else:
        assert math.isfinite(length_m)
        assert "," not in text
        return
    assert problem.startswith('"')
    assert "\n" not in problem


@fuzz(1)
@given(items=st.lists(st.one_of(NUMBERS, st.integers(), st.floats(), st.none()), max_size=4))
def test_hints_for_lists_never_fail(items):
    assert list_hint(items) in ("", *HINTS)


@fuzz(1)
@given(
    text=st.text("0123456789.,-–to: AWGSawgm", max_size=12),
    own=st.sampled_from([None, *map(gauge_from, ("AWG 32", "SWG 34", "0.22 mm"))]),
)
def test_gauges_are_read_or_refused(text, own):
    try:
        gauges = gauges_of(text, own)
    except FieldsimError as error:
        problem = str(error)
    else:
        assert gauges
        return
    assert "\n" not in problem
    assert any(word in problem for word in ("gauge", "WG", "runs backwards", "out of range"))


LENGTH = st.builds("{:.3g} mm".format, st.floats(0.1, 60))


@fuzz(0.25)
@given(
    text=st.sampled_from(TEXTS),
    changes=st.lists(st.tuples(place, LENGTH), min_size=1, max_size=3),
    ratio=st.sampled_from(["1", "-1", "0.001", "1000", '"10/3"', "1.001", "3.14159265"]),
)
def test_lengths_at_random_run_through(text, changes, ratio, path):
    """Any lengths: the machine collides, or its waveform is computed to plain numbers."""
    for where, length in changes:
        parts = text.split(" mm")
        n = int(where * (len(parts) - 1))
        head = parts[n].rstrip("0123456789.-")
        parts[n] = head + length.removesuffix(" mm")
        text = " mm".join(parts)
    text = text.replace("gear_ratio: 9", f"gear_ratio: {ratio}", 1)
    path.write_text(text, encoding="utf-8")
    outcome(["emf", str(path), "--json", "--tolerance", "1e-2"])


@fuzz(0.1)
@given(content=damaged_text())
def test_damaged_text_with_a_file_to_write(content, path):
    path.write_bytes(content)
    table = path.with_name("a.csv")
    code = outcome(["emf", str(path), "--json", "--tolerance", "1e-2", "--out", str(table)])
    assert table.exists() == (code == 0)
    table.unlink(missing_ok=True)
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_damage_is_neither_always_nor_never_fatal(path):
    """The search reaches both ends: a fuzz whose files are all refused on line 1 tests nothing."""
    codes = []

    @settings(max_examples=40, derandomize=True, deadline=None, database=None)
    @given(content=damaged_text())
    def collect(content):
        path.write_bytes(content)
        codes.append(outcome(["check", str(path), "--json"]))

    collect()
    assert 4 < codes.count(0) < 36
