"""What to buy or look out for to build a machine, counted."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from fieldsim.errors import FieldsimError
from fieldsim.machine.magnets import Cuboid, Shape, Sphere
from fieldsim.operation.operating_point import OperatingPoint
from fieldsim.words.numbers import plain_number

__all__ = ["Item", "shopping_list", "shopping_list_csv"]

_LEADS_M = 0.5  # for two ends of a coil: common practice, no published source


@dataclass(frozen=True)
class Item:
    """One line of the list.

    Parameters
    ----------
    what
        The part.
    number
        How many.
    details
        Sizes and what to heed.
    """

    what: str
    number: int
    details: str


def shopping_list(point: OperatingPoint) -> tuple[Item, ...]:
    """Return what a machine is built from, without shafts, arms and frame.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> point = OperatingPoint(read("geometries/lamp_ring.yaml"), "90 rpm")
    >>> [(item.number, item.what) for item in shopping_list(point)][:3]
    [(8, 'magnet bar'), (1, 'wire for coil pickup'), (4, 'bridge diode')]
    """
    return (*_magnets(point), *_wires(point), *_wheels(point), *_parts(point))


def shopping_list_csv(point: OperatingPoint) -> str:
    """Return the list as a table: number, what, details."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(["number", "what", "details"])
    table.writerows((item.number, item.what, item.details) for item in shopping_list(point))
    return text.getvalue()


def _magnets(point: OperatingPoint) -> Iterator[Item]:
    mounted = [m.magnet.name for rotor in point.machine.placed_rotors for m in rotor.magnets]
    for magnet in point.machine.magnets:
        count = mounted.count(magnet.name)
        if count:
            strength = f"remanence {plain_number(magnet.remanence, 4)} T"
            yield Item(f"magnet {magnet.name}", count, f"{_size(magnet.shape)}, {strength}")


def _size(shape: Shape) -> str:
    if isinstance(shape, Cuboid):
        return " x ".join(_mm(edge) for edge in shape.size) + " mm"
    if isinstance(shape, Sphere):
        return f"ball of {_mm(shape.diameter)} mm"
    return f"diameter {_mm(shape.diameter)} mm, thickness {_mm(shape.thickness)} mm"


def _mm(length_m: float) -> str:
    return plain_number(1e3 * length_m, 4)


def _wires(point: OperatingPoint) -> Iterator[Item]:
    for name, winding in point.machine.windings.items():
        length = winding.wire_length_m + _LEADS_M
        yield Item(
            f"wire for coil {name}",
            1,
            f"{winding.wire.name}, {plain_number(length)} m "
            f"({plain_number(1e3 * length * winding.wire.mass_kg_m)} g) with "
            f"{plain_number(_LEADS_M)} m for its ends; {winding.turns} turns",
        )


def _wheels(point: OperatingPoint) -> Iterator[Item]:
    teeth = [wheel.teeth for wheel in point.machine.gears.wheels]
    for each in dict.fromkeys(teeth):
        yield Item("gear wheel", teeth.count(each), f"{each} teeth")


def _parts(point: OperatingPoint) -> Iterator[Item]:
    if not point.machine.load:
        return
    try:
        traces = point.circuit_result.parts
    except FieldsimError:
        return
    counts: dict[tuple[str, str], int] = {}
    for trace in traces:
        label = "bridge diode" if trace.label.startswith("bridge diode") else trace.label
        details = f"bears at least {plain_number(1.2e3 * trace.peak_current_A, 2)} mA at its peaks"
        key = label, details if "diode" in label else ""
        counts[key] = counts.get(key, 0) + trace.count
    capacitor = point.machine.load.capacitor
    for (label, details), count in counts.items():
        if label == "capacitor" and capacitor:
            details = f"{plain_number(1e6 * capacitor.value)} uF"
        yield Item(label, count, details)
