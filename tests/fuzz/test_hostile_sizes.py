"""Allowed sizes that nobody means: every number at its ends and some digits too large or small.

Each run is a process of its own, whose processor time and memory are measured. The suite tries a
few fixed cases; ``pytest tests/fuzz --hypothesis-profile=long`` thousands of new ones, with one and
two numbers changed at a time.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import fieldsim as fs

FILES = sorted((Path(__file__).parents[2] / "geometries").glob("*.yaml"))
LONG = settings.default.max_examples > 100

# A study is of many machines; what one of them may take at most is what is tested.
MOST_CPU_S = 20.0 if not LONG else 30.0  # generous: other processes share the machine's caches
MOST_MB = 500.0
FACTORS = (0.01, 0.1, 10.0, 100.0, 1000.0)
COMMANDS = {
    "check": [],
    "emf": [],
    "light": [],
    "effort": [],
    "wind": [],
    "gap": ["--values", "2 mm, 4 mm"],
    "draw": ["--out", "{folder}/machine.svg"],
    "flux": ["--out", "{folder}/flux.csv"],
}


class Run(NamedTuple):
    code: int
    cpu_s: float
    peak_MB: float
    err: str


# What the system tells of a process counts what it was forked from too; this asks it from inside.
MEASURED = """
import resource, sys
from pathlib import Path
from fieldsim.cli import main

code = main(sys.argv[1:])
of_children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
own = next(line for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line)
print()
print(max(of_children, int(own.split()[1])))
sys.exit(code)
"""


def measured(arguments) -> Run:
    """Run the command line by itself and say what it took."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    with (
        tempfile.TemporaryFile("w+") as out,
        subprocess.Popen(
            [sys.executable, "-c", MEASURED, *map(str, arguments)],
            stdout=out,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        ) as process,
    ):
        err = process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        peak_kB = int(out.read().splitlines()[-1])
    cpu_s = usage.ru_utime + usage.ru_stime
    return Run(process.returncode, cpu_s, peak_kB / 1024, err)


def slips(parameter) -> list[str]:
    """Return values at the ends of what is allowed and some digits off, as a command has them."""
    if isinstance(parameter.value, str) or math.isnan(parameter.least):
        return []
    value = float(parameter.value)
    tried = {parameter.least, parameter.most, *(value * factor for factor in FACTORS)}
    allowed = [v for v in sorted(tried) if parameter.least <= v <= parameter.most and v != value]
    if isinstance(parameter.value, int):
        allowed = sorted({round(v) for v in allowed})
    return [f"{v:.9g} {parameter.unit}".strip() for v in allowed if math.isfinite(v)]


@st.composite
def hostile(draw):
    """A shipped machine, one or two of its numbers off, and what is asked of it."""
    file = draw(st.sampled_from(FILES))
    offered = [(p.path, values) for p in fs.parameters(fs.read(file)) if (values := slips(p))]
    changed = draw(
        st.lists(st.sampled_from(offered), min_size=1, max_size=2, unique_by=lambda o: o[0])
    )
    settings_ = [f"{path}={draw(st.sampled_from(values))}" for path, values in changed]
    return file, settings_, draw(st.sampled_from(sorted(COMMANDS)))


def told(run: Run) -> None:
    assert run.code in (0, 2), run
    assert "Traceback" not in run.err
    assert run.cpu_s < MOST_CPU_S, run
    assert run.peak_MB < MOST_MB, run


@settings(
    max_examples=500 if LONG else 10,
    derandomize=not LONG,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
@given(case=hostile())
def test_nothing_runs_away(case, tmp_path_factory):
    file, changes, command = case
    folder = tmp_path_factory.mktemp("out")
    more = [word.format(folder=folder) for word in COMMANDS[command]]
    sets = [word for change in changes for word in ("--set", change)]
    told(measured([command, file, *sets, *more]))


@pytest.mark.parametrize(
    "changes",
    [
        ["coils.pickup.opening[0]=3647 mm"],
        ["coils.pickup.build=1444 mm"],
        ["coils.pickup.length=10 m", "clearance=3 mm"],
        ["magnets.bar.size[0]=0.1 mm", "magnets.bar.size[1]=0.1 mm"],
        ["clearance=0.001 mm"],
        ["rotors.upper.magnets[0].radius=10 m"],
    ],
)
def test_a_slip_of_one_size_answers_within_seconds(changes):
    file = next(f for f in FILES if f.stem == "one_rotor")
    run = measured(["emf", file, *[w for c in changes for w in ("--set", c)]])
    told(run)


def many_lamps(count, same):
    volts = [3.0 if same else 3.0 + 0.001 * i for i in range(count)]
    lamps = [f"{{lamps: {{colour: white, forward: {v} V, at: 20 mA}}}}" for v in volts]
    return f"parts: [{', '.join(lamps)}]"


@pytest.mark.parametrize(
    ("load", "code"),
    [
        (many_lamps(250, True), 0),
        (many_lamps(250, False), 2),
        ("capacitor: 1000 F\n  rectifier: bridge\n  lamps: {colour: white}", 0),
        (
            "parts: [{series: [{count: 3, series: [{lamps: {colour: white, polarity: reverse}}]}, "
            "{count: 2, series: [{capacitor: 1 uF}]}]}]",
            0,
        ),
    ],
)
def test_loads_end(load, code, tmp_path):
    shipped = next(f for f in FILES if f.stem == "lamp_ring").read_text(encoding="utf-8")
    file = tmp_path / "m.yaml"
    head = shipped.split("\nload:")[0]
    file.write_text(f"{head}\nload:\n  across: pickup\n  {load}\n", encoding="utf-8")
    run = measured(["light", file])
    told(run)
    assert run.code == code
    if code:
        assert "load.parts: " in run.err


def ring_of(coils, rotors, magnets, radius_mm=700.0):
    """A file of many coils round one shaft and many rotors over and under them."""
    head, rest = next(f for f in FILES if f.stem == "lamp_ring").read_text("utf-8").split("rotors:")
    body = rest.split("pickup:\n")[1].split("load:")[0]
    turning = "".join(
        f"  r{i}:\n    shaft: {{through: [0 mm, 0 mm, 0 mm], along: [0, 0, 1]}}\n"
        f"    zero: [0, 1, 0]\n    gear_ratio: 8\n    magnets:\n"
        f"      - {{magnet: bar, radius: {radius_mm} mm, height: {(-1) ** i * (9.5 + 8 * (i // 2))}"
        f" mm, north: +shaft, count: {magnets}}}\n"
        for i in range(rotors)
    )
    wound = ""
    for i in range(coils):
        x, y = math.cos(math.tau * i / coils), math.sin(math.tau * i / coils)
        wound += f"  c{i}:\n" + body.replace(
            "centre: [0 mm, 26 mm, 0 mm]",
            f"centre: [{radius_mm * x:.2f} mm, {radius_mm * y:.2f} mm, 0 mm]",
        ).replace("side: [1, 0, 0]", f"side: [{-y:.9f}, {x:.9f}, 0]")
    return f"{head}rotors:\n{turning}coils:\n{wound}"


@pytest.mark.parametrize(
    ("coils", "rotors", "magnets", "key"),
    [
        (100, 1, 100, "coils"),
        (1, 100, 200, "rotors"),
        (12, 2, 50, "coils"),  # pairs of magnet and coil
        (45, 1, 20, "coils and rotors"),  # numbers of their waveforms
    ],
)
def test_too_many_parts_are_refused_by_their_key(coils, rotors, magnets, key, tmp_path):
    file = tmp_path / "many.yaml"
    file.write_text(ring_of(coils, rotors, magnets), encoding="utf-8")
    run = measured(["emf", file])
    told(run)
    assert run.code == 2
    assert f": {key}: " in run.err


@pytest.mark.skipif(not LONG, reason="takes minutes")
@pytest.mark.parametrize("command", ["compare", "draw", "effort", "gap", "light", "wind", "report"])
@pytest.mark.parametrize(("coils", "rotors", "magnets"), [(20, 2, 25), (20, 1, 50), (1, 10, 100)])
def test_what_is_just_allowed_ends_in_time(coils, rotors, magnets, command, tmp_path):
    file = tmp_path / "many.yaml"
    file.write_text(ring_of(coils, rotors, magnets), encoding="utf-8")
    more = {"draw": [tmp_path / "m.svg"], "report": [tmp_path / "page"]}.get(command)
    given_ = ["--out", *more] if more else ["--values", "2 mm, 4 mm"] if command == "gap" else []
    told(measured([command, file, *given_]))
