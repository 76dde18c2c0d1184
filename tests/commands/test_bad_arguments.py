"""Wrong commands, options and requests: one line, exit code 2, no files."""

from __future__ import annotations

import pytest

ONE, TWO = "one_rotor.yaml", "two_facing_rotors.yaml"
SPEED_LIKE = 'write it like "120 rpm", "2 turn/s" or "12 rad/s"'

# Arguments, with a shipped geometry's name for its path, and words of the message.
CASES = {
    "nothing": ([], "give a command: new, check, draw, flux, emf, compare, gap"),
    "unknown command": (["fluks", ONE], 'no command "fluks"; did you mean "flux"? There are'),
    "unlike any command": (["zzz"], 'no command "zzz". There are: new, check'),
    "module that is no command": (["options"], 'no command "options"'),
    "path as command": (["../cli"], 'no command "../cli"'),
    "unknown option": (["emf", ONE, "--crank-sped", "2 rpm"], "No such option '--crank-sped'"),
    "unknown option before": (["--bogus"], "No such option '--bogus'"),
    "no geometry": (["emf"], "Missing argument 'GEOMETRY'"),
    "two geometries": (["emf", ONE, TWO], "unexpected extra argument"),
    "nothing to compare": (["compare"], "Missing argument 'GEOMETRIES...'"),
    "value for a switch": (["check", ONE, "--json=yes"], "does not take a value"),
    "option without value": (["emf", ONE, "--crank-speed"], "requires an argument"),
    "speed zero": (
        ["emf", ONE, "--crank-speed", "0 rpm"], '"0 rpm" stands still; the speed must not be zero'
    ),
    "rotor speed zero": (["gap", ONE, "--values", "1 mm", "--rotor-speed", "0 rpm"], "not be zero"),
    "effort at rest": (["effort", ONE, "--crank-speed", "0 turn/s"], "the speed must not be zero"),
    "gauges with a dash": (["wind", ONE, "--gauges", "24-30"], 'is not a gauge; write 24..30'),
    "gauges in words": (["match", ONE, "--gauges", "AWG 24 to 30"], "write AWG 24..30"),
    "gauge unknown": (["wind", ONE, "--gauges", "24.30"], 'write gauges like 24..40, "28, 30" or'),
    "speed in hertz": (["emf", ONE, "--crank-speed", "2 Hz"], f"rotation speed; {SPEED_LIKE}"),
    "speed without unit": (["emf", ONE, "--crank-speed", "120"], f'has no unit; {SPEED_LIKE}'),
    "speed as length": (["emf", ONE, "--rotor-speed", "120 mm"], "is not a rotation speed"),
    "speed empty": (["emf", ONE, "--crank-speed", ""], SPEED_LIKE),
    "speed NaN": (["emf", ONE, "--crank-speed", "nan rpm"], SPEED_LIKE),
    "speed exponent": (["emf", ONE, "--crank-speed", "1e999 rpm"], "too large a number"),
    "crank too fast": (["emf", ONE, "--crank-speed", "1e9 rpm"], "would turn at 9e+09 rpm"),
    "rotor too fast": (["emf", ONE, "--rotor-speed", "1e9 rpm"], "at most 6e+05 rpm is allowed"),
    "too slow": (["emf", ONE, "--crank-speed", "1e-99 rpm"], "at least 6e-05 rpm is allowed"),
    "ranges left out and drawn": (
        ["emf", ONE, "--exact", "--range-plot", "a.png"],
        "--exact leaves out what --range-plot draws; give one of them",
    ),
    "ranges as a table": (["light", ONE, "--range-plot", "a.csv"], "a picture's name must end in"),
    "both speeds": (
        ["emf", ONE, "--crank-speed", "1 rpm", "--rotor-speed", "1 rpm"], "not both"
    ),
    "both speeds to compare": (
        ["compare", ONE, "--crank-speed", "1 rpm", "--rotor-speed", "1 rpm"], "not both"
    ),
    "3 angles": (["flux", ONE, "--angles", "3"], "3 angles is out of range; allowed: 4 to 1000000"),
    "no angles": (["flux", ONE, "--angles", "0"], "0 angles is out of range"),
    "negative angles": (["flux", ONE, "--angles", "-360"], "-360 angles is out of range"),
    "a thousand million angles": (["flux", ONE, "--angles", "1000000000"], "4 to 1000000"),
    "angles as 1e9": (["flux", ONE, "--angles", "1e9"], "'1e9' is not a valid integer"),
    "half an angle": (["flux", ONE, "--angles", "4.5"], "is not a valid integer"),
    "angles without end": (["flux", ONE, "--angles", "9" * 5000], "is not a valid integer"),
    "tolerance zero": (["flux", ONE, "--tolerance", "0"], "tolerance 0 is out of range; allowed"),
    "tolerance one": (["emf", ONE, "--tolerance", "1"], "tolerance 1 is out of range"),
    "tolerance NaN": (["emf", ONE, "--tolerance", "nan"], "tolerance nan is out of range"),
    "tolerance infinite": (["flux", ONE, "--tolerance", "inf"], "tolerance inf is out of range"),
    "tolerance negative": (["flux", ONE, "--tolerance", "-1e-6"], "out of range"),
    "tolerance in words": (["flux", ONE, "--tolerance", "tiny"], "'tiny' is not a valid float"),
    "tolerance to compare": (["compare", ONE, "--tolerance", "1e-99"], "out of range"),
    "tolerance of gaps": (["gap", ONE, "--values", "1 mm", "--tolerance", "2"], "out of range"),
    "no samples": (["emf", ONE, "--samples", "0"], "0 samples is out of range; allowed: 8 to"),
    "7 samples": (["emf", ONE, "--samples", "7"], "7 samples is out of range"),
    "negative samples": (["emf", ONE, "--samples", "-8"], "-8 samples is out of range"),
    "many samples": (["emf", ONE, "--samples", "5000000"], "5000000 samples is out of range"),
    "no gaps": (["gap", ONE], "Missing option '--values'"),
    "gap zero": (["gap", ONE, "--values", "0 mm"], "a gap of 0 mm is out of range; allowed: 0.001"),
    "gap negative": (["gap", ONE, "--values", "1 mm, -1 mm"], "a gap of -1 mm is out of range"),
    "gap of 2 m": (["gap", ONE, "--values", "2 m"], "a gap of 2000 mm is out of range"),
    "gap without unit": (["gap", ONE, "--values", "1, 2"], '"1" has no unit; write it like "8 mm"'),
    "gap in degrees": (["gap", ONE, "--values", "1 deg"], '"1 deg" is not a length'),
    "gap left out": (["gap", ONE, "--values", "1 mm,"], '"" is not a number with a unit'),
    "gaps empty": (["gap", ONE, "--values", ""], 'there are no values; give at least one'),
    "gap NaN": (["gap", ONE, "--values", "nan mm"], "is not a number with a unit"),
    "1001 gaps": (["gap", ONE, "--values", "1 mm..1002 mm"], "1002 values; at most 1000"),
    "unknown rotor": (
        ["gap", ONE, "--values", "1 mm", "--rotor", "uper"],
        'no rotor is called "uper"; there are: upper',
    ),
    "one bad of two to compare": (["compare", ONE, "none.yaml"], "cannot be read"),
    "draw nowhere": (["draw", ONE], "Missing option '--out'"),
    "crank angle without unit": (
        ["draw", ONE, "--out", "a.png", "--crank-angle", "3"], '"3" has no unit; write it like "15'
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_one_line(name, refused, geometries, tmp_path, monkeypatch):
    arguments, words = CASES[name]
    monkeypatch.chdir(tmp_path)
    message = refused(*[geometries / a if a in (ONE, TWO) else a for a in arguments])
    assert words in message, message
    assert list(tmp_path.iterdir()) == []


def test_gap_that_cannot_be_reached(refused, one_rotor, tmp_path):
    """Beside the winding the magnets come no nearer, wherever the rotor is on its shaft."""
    path = tmp_path / "beside.yaml"
    path.write_text(one_rotor.replace("centre: [0 mm, 22 mm, 0 mm]", "centre: [0 mm, 60 mm, 0 mm]"))
    message = refused("gap", path, "--values", "1 mm")
    assert message == (
        'at a gap of 1 mm, the clearance of rotor "upper" cannot be changed: its magnets neither '
        "pass the face of a winding nor turn inside one"
    )


def test_gap_at_which_other_parts_collide(refused, one_rotor, tmp_path):
    """A fixed second rotor stands where the first one would have to go."""
    path = tmp_path / "blocked.yaml"
    lower = (
        "  wall: {shaft: {through: [0 mm, 0 mm, 20 mm], along: [0, 0, 1]}, zero: [1, 0, 0], "
        "gear_ratio: -9, magnets: [{magnet: bar, radius: 22 mm, height: 0 mm, north: +shaft}]}\n"
    )
    path.write_text(one_rotor.replace("coils:", lower + "coils:", 1))
    message = refused("gap", path, "--values", "10 mm", "--rotor", "upper")
    assert message.startswith("at a gap of 10 mm, ")
    assert 'rotor "upper" runs into rotor "wall": they overlap by 3.5 mm' in message


@pytest.mark.parametrize(
    "arguments", [["--help"], ["-h"], ["emf", "--help"], ["gap", "-h"], ["--version"]]
)
def test_help_is_no_error(arguments, run):
    outcome = run(*arguments)
    assert outcome.code == 0
    assert outcome.err == ""
    assert len(outcome.out) > 10
