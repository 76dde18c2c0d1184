"""Commands whose whole screens, objects, tables and pictures are looked at."""

from __future__ import annotations

from machines import GEOMETRIES

RPM90 = ("--crank-speed", "90 rpm")
_START = ("--start-up", "0.5 s", "--ramp", "0.2 s")
_GAPS = ("--values", "1 mm, 2 mm, 4 mm")

# Name: the command, its geometries and its options.
COMMANDS = {
    "check geared": ("check", "geared_pair"),
    "check ring": ("check", "lamp_ring"),
    "check inside": ("check", "bar_inside_coil"),
    "flux facing": ("flux", "two_facing_rotors", "--angles", "12"),
    "flux three": ("flux", "three_rotors", "--angles", "8"),
    "emf two": ("emf", "two_coils", *RPM90, "--samples", "16"),
    "emf three": ("emf", "three_rotors", "--rotor-speed", "300 rpm", "--samples", "16"),
    "compare": ("compare", "one_rotor", "two_coils", *RPM90),
    "gap one": ("gap", "one_rotor", *RPM90, *_GAPS),
    "gap two": ("gap", "two_coils", *RPM90, *_GAPS),
    "effort geared": ("effort", "geared_pair", *RPM90),
    "effort ring": ("effort", "lamp_ring", *RPM90),
    "effort facing": ("effort", "two_facing_rotors", *RPM90),
    "effort three": ("effort", "three_rotors", *RPM90),
    "wind ring": ("wind", "lamp_ring"),
    "wind two": ("wind", "two_coils"),
    "wind gauges": ("wind", "lamp_ring", "--gauges", "30..34", *RPM90),
    "light ring": ("light", "lamp_ring", *RPM90),
    "light two": ("light", "two_coils", *RPM90),
    "light slow": ("light", "lamp_ring", "--rotor-speed", "200 rpm"),
    "light geared": ("light", "geared_pair", *RPM90),
    "light open": ("light", "one_rotor", *RPM90),
    "light start": ("light", "lamp_ring", *RPM90, *_START),
    "match ring": ("match", "lamp_ring", *RPM90, "--gauges", "30..33"),
    "match two": ("match", "two_coils", *RPM90, "--gauges", "31,32"),
}
MANY = [name for name, line in COMMANDS.items() if line[0] != "check"]
PICTURES = [name for name in MANY if COMMANDS[name][0] != "wind"] + ["wind gauges"]
TABLES = PICTURES


def line(name: str) -> list[str]:
    """Return the arguments of a command, with the geometries' paths."""
    files = {path.stem: str(path) for path in GEOMETRIES.glob("*.yaml")}
    return [files.get(word, word) for word in COMMANDS[name]]


def file_name(name: str, ending: str) -> str:
    """Return a name for what a command gives."""
    return f"{name.replace(' ', '_')}.{ending}"
