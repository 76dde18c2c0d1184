"""What ``vary`` prints: a row of figures for each set of values."""

from __future__ import annotations

from collections.abc import Callable

from fieldsim.studies.vary import VaryRow, VaryStudy
from fieldsim.waveform.emf import Speed
from fieldsim.words.numbers import NOTHING, in_unit, number
from fieldsim.words.parameter_text import parameter_value
from fieldsim.words.terminal import folded, speed_words, table_text

__all__ = ["vary_text"]

_NONE = "-"


def vary_text(study: VaryStudy, speed: Speed) -> str:
    """Return the rows as a table, columns without any figure left out."""
    rows = study.rows
    columns: dict[str, Callable[[VaryRow], str]] = {}
    for coil in rows[0].coils:
        name = "V RMS, open" if len(rows[0].coils) == 1 else f"{coil} V RMS, open"
        columns[name] = lambda row, coil=coil: number(row.coils[coil].rms_V, 4, NOTHING["V"])  # type: ignore[misc]
    columns |= {
        "lamp mA": lambda row: _or_none(row.brightest_lamp_A, "mA"),
        "lamps lit": _lit,
        "useful mW": lambda row: _or_none(row.useful_power_W, "mW"),
        "wire mW": lambda row: _or_none(row.coil_heat_W, "mW"),
        "crank N m": lambda row: (
            _NONE
            if row.average_torque_Nm is None
            else number(row.average_torque_Nm, 3, NOTHING["N m"])
        ),
    }
    cells = {name: [of(row) for row in rows] for name, of in columns.items()}
    shown = {name: column for name, column in cells.items() if set(column) != {_NONE}}
    values = [
        [parameter_value(each, row.values[each.path]) for row in rows] for each in study.parameters
    ]
    table = table_text(
        [*study.paths, *shown],
        list(zip(*values, *shown.values(), strict=True)),
        left=len(study.paths),
    )
    is_speed = "crank_speed" in study.paths
    heading = study.title if is_speed else f"{study.title}: {speed_words(speed)}"
    now = ", ".join(f"{each.path} = {each.text}" for each in study.parameters)
    return folded(f"{heading}\n\n{table}\n\nthe design itself: {now}")


def _or_none(value: float | None, unit: str) -> str:
    return _NONE if value is None else in_unit(value, unit)


def _lit(row: VaryRow) -> str:
    lamps = row.circuit.lamps if row.circuit is not None else ()
    if not lamps:
        return _NONE
    lit = sum(lamp.count for lamp in lamps if lamp.lights)
    return f"{lit} of {sum(lamp.count for lamp in lamps)}"
