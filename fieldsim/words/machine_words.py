"""A machine's parts in words, as they stand under its drawing."""

from __future__ import annotations

from fieldsim.machine.connections import Connection, Member
from fieldsim.machine.iron import Block, Disc, IronShape, Rod, Tube
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnets import Cylinder, Magnet, Shape, Sphere
from fieldsim.machine.materials import MATERIALS, Material
from fieldsim.wire.packing import RANDOM_FILL, WireFill
from fieldsim.wire.winding import Winding
from fieldsim.words.numbers import plain_number, share, typeset

__all__ = [
    "connection_words",
    "corner_words",
    "iron_words",
    "machine_words",
    "model_words",
    "packing_words",
    "remanence_words",
]


def machine_words(machine: Machine) -> list[str]:
    """Return each rotor, kind of magnet, coil and piece of iron in one line of words."""
    lines = []
    for rotor in machine.placed_rotors:
        kinds = [m.magnet.name for m in rotor.magnets]
        counted = ", ".join(f"{kinds.count(k)} × {k}" for k in dict.fromkeys(kinds))
        ratio = float(rotor.gear_ratio)
        turns = typeset(plain_number(ratio, 4))
        lines.append(
            f"Rotor {rotor.name}: {counted or 'no magnets'}; "
            f"{turns} turn{'' if abs(ratio) == 1 else 's'} per crank turn"
            f"{', against its angle' if ratio < 0 else ''}"
        )
    lines += [
        f"Magnet {magnet.name}: {_shape_words(magnet.shape)}, {remanence_words(magnet)}"
        for magnet in machine.magnets
    ]
    for coil in machine.placed_coils:
        a, b = (_mm(x) for x in coil.opening)
        lines.append(
            f"Coil {coil.name}: opening {a} × {b} mm, length {_mm(coil.length)} mm, "
            f"build {_mm(coil.build)} mm, {coil.turns:g} turns"
        )
    return [*lines, *iron_words(machine)]


def iron_words(machine: Machine) -> list[str]:
    """Return each piece of iron in one line of words, cores by their coils.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> print(*iron_words(read("geometries/bolt_beside_magnets.yaml")))
    Core of coil pickup: rod, diameter 8 mm, length 50 mm, mild steel
    """
    return [
        f"{f'Core of coil {piece.coil}' if piece.coil else f'Iron {piece.name}'}: "
        f"{_iron_shape_words(piece.shape)}, {_material_words(piece.material)}"
        + (f", turns with {piece.rotor}" if piece.rotor else "")
        for piece in machine.placed_iron
    ]


def _material_words(material: Material) -> str:
    named = next((name for name, known in MATERIALS.items() if known == material), "")
    return named or f"permeability {plain_number(material.permeability, 4)}"


def _iron_shape_words(shape: IronShape) -> str:
    if isinstance(shape, Rod):
        return f"rod, diameter {_mm(shape.diameter)} mm, length {_mm(shape.length)} mm"
    if isinstance(shape, Tube):
        around = f"{_mm(shape.outer)} mm outside, {_mm(shape.inner)} mm inside"
        slit = ", slit along its axis" if shape.slit else ""
        return f"tube, {around}, length {_mm(shape.length)} mm{slit}"
    if isinstance(shape, Disc):
        return f"disc, diameter {_mm(shape.diameter)} mm, thickness {_mm(shape.thickness)} mm"
    if isinstance(shape, Block):
        return "block, " + " × ".join(_mm(edge) for edge in shape.size) + " mm"
    return f"ball, diameter {_mm(shape.diameter)} mm"


def model_words(machine: Machine) -> str:
    """Return in a sentence what the machine is taken for.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> print(model_words(read("geometries/bolt_beside_magnets.yaml")))
    The model: magnets of uniform, rigid magnetisation (recoil permeability 1) in free space, and \
iron of constant permeability; windings of evenly spread turns with sharp corners.
    """
    rigid = all(magnet.recoil_permeability == 1 for magnet in machine.magnets)
    recoil = "recoil permeability 1" if rigid else "recoil permeability as stated"
    iron = "and iron of constant permeability" if machine.placed_iron else "no iron"
    return (
        f"The model: magnets of uniform, rigid magnetisation ({recoil}) in free space, {iron}; "
        f"windings of evenly spread turns with {corner_words(machine)}."
    )


def corner_words(machine: Machine) -> str:
    """Return what corners its turns have."""
    kinds = {coil.corners.value for coil in machine.coils}
    return f"{kinds.pop()} corners" if len(kinds) == 1 else "sharp or round corners as stated"


def packing_words(winding: Winding) -> str:
    """Return how its wire is taken to lie and how much of the section that fills, in one line.

    Where that asks for more care than is usual, it also says what a coil wound without it holds.
    """
    fill = winding.wire_fill
    how = "spread evenly" if isinstance(winding.packing, WireFill) else winding.packing.name
    words = f"{how}: {share(fill, 2)} of the section wire"
    if fill < 1.05 * RANDOM_FILL:
        return words
    return (
        f"{words}; at random {share(RANDOM_FILL)}, {winding.turns * RANDOM_FILL / fill:.0f} turns"
    )


def connection_words(connection: Connection) -> str:
    """Return how coils are joined.

    Examples
    --------
    >>> connection_words(Connection("pair", series=["left", "-right"]))
    'left and right (ends swapped) in series'
    """
    *most, last = map(_member, connection.members)
    return f"{', '.join(most)} and {last} in {connection.joining}"


def _member(member: Member) -> str:
    return f"{member.name} (ends swapped)" if member.reverse else member.name


def remanence_words(magnet: Magnet) -> str:
    """Return how strong a magnet is; of a grade, with what it covers."""
    shown = f"{plain_number(magnet.remanence, 4)} T"
    if not magnet.grade:
        return shown
    least, most = (plain_number(each, 4) for each in magnet.remanence_range_T)
    return f"{magnet.grade}: {shown} ({least} to {most} T)"


def _shape_words(shape: Shape) -> str:
    if isinstance(shape, Sphere):
        return f"ball, diameter {_mm(shape.diameter)} mm"
    if isinstance(shape, Cylinder):
        return f"diameter {_mm(shape.diameter)} mm, thickness {_mm(shape.thickness)} mm"
    return " × ".join(_mm(edge) for edge in shape.size) + " mm"


def _mm(length_m: float) -> str:
    return plain_number(length_m * 1e3, 4)
