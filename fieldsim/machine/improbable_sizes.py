"""Sizes that can be computed and are hardly meant: a digit too many, or metres for millimetres."""

from __future__ import annotations

from fieldsim.cautions import Caution, Hazard
from fieldsim.machine.machine import Machine
from fieldsim.machine.part import walk_values
from fieldsim.machine.paths import dotted

__all__ = ["improbable_sizes"]

# From what to what a machine on a table has them, in SI units: common practice, no published
# source.
_USUAL = {
    ("magnets", "size"): (0.5e-3, 0.15),
    ("magnets", "diameter"): (0.5e-3, 0.15),
    ("magnets", "thickness"): (0.2e-3, 0.15),
    ("rotors", "radius"): (0.0, 0.5),
    ("coils", "opening"): (1e-3, 0.5),
    ("coils", "length"): (0.5e-3, 0.5),
    ("coils", "build"): (0.1e-3, 0.1),
    ("load", "value"): (0.0, 10.0),
}


def improbable_sizes(machine: Machine) -> list[Caution]:
    """Return a caution for every size of a machine that is hardly meant, by its key's path.

    Parameters
    ----------
    machine
        Any, colliding parts included.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> machine = read("geometries/one_rotor.yaml")
    >>> improbable_sizes(machine)
    []
    >>> wide = machine.changed({"coils.pickup.opening[0]": "3647 mm"})
    >>> [(each.where, round(each.value, 6), each.limit) for each in improbable_sizes(wide)]
    [('coils.pickup.opening[0]', 3.647, 0.5)]
    """
    found = []
    for path, key, value in walk_values(machine):
        usual = _USUAL.get((str(path[0]), str(path[-1])))
        if usual is None or key.kind is None or value is None:
            continue
        if path[0] == "coils" and "wire" in path:
            continue  # the wire at hand may have any length
        several = isinstance(value, tuple)
        for i, size in enumerate(value if several else (value,)):
            where = dotted((*path, i) if several else path)
            if size > usual[1]:
                found.append(_caution(where, size, usual[1]))
            elif size < usual[0]:
                found.append(_caution(where, size, usual[0]))
    return found


def _caution(where: str, value: float, limit: float) -> Caution:
    unit = "F" if where.startswith("load") else "m"
    return Caution(Hazard.IMPROBABLE_SIZE, where, value, limit, {"unit": unit})
