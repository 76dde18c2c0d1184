"""What ``vary`` prints: a row of figures for each set of values."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from fieldsim.studies.vary import VaryRow, VaryStudy
from fieldsim.waveform.emf import Speed
from fieldsim.words.effort_text import hand_torques_Nm
from fieldsim.words.layout import PLAIN_WIDTH, Table, laid_out
from fieldsim.words.numbers import in_unit, number
from fieldsim.words.parameter_text import parameter_value
from fieldsim.words.precision import linear_precision
from fieldsim.words.speeds import speed_words

__all__ = ["vary_text"]

_NONE = "-"


def vary_text(study: VaryStudy, speed: Speed, width: int = PLAIN_WIDTH) -> str:
    """Return the rows as a table, columns without any figure left out."""
    rows = study.rows
    columns: dict[str, Callable[[VaryRow], str]] = {}
    told = (*rows[0].coils, *rows[0].connections)
    for name in told:
        heading = "V RMS, open" if len(told) == 1 else f"{name} V RMS, open"
        columns[heading] = partial(_open_V, name)
    columns |= {
        "lamp mA": lambda row: _or_none(row.brightest_lamp_A, "mA"),
        "lamps lit": _lit,
        "useful mW": lambda row: _or_none(row.useful_power_W, "mW"),
        "wire mW": lambda row: _or_none(row.coil_heat_W, "mW"),
        "crank N m": lambda row: (
            _NONE if row.effort is None else number(hand_torques_Nm(row.effort)[0])
        ),
    }
    cells = {name: [of(row) for row in rows] for name, of in columns.items()}
    shown = {name: column for name, column in cells.items() if set(column) != {_NONE}}
    values = [
        [parameter_value(each, row.values[each.path]) for row in rows] for each in study.parameters
    ]
    table = Table(
        [*study.paths, *shown],
        list(zip(*values, *shown.values(), strict=True)),
        left=len(study.paths),
    )
    is_speed = "crank_speed" in study.paths
    heading = study.title if is_speed else f"{study.title}: {speed_words(speed)}"
    now = ", ".join(f"{each.path} = {each.text}" for each in study.parameters)
    first = rows[0].point
    return laid_out(
        [
            heading,
            "",
            table,
            "",
            *_limit_words(study),
            f"The design itself: {now}.",
            f"{linear_precision(first.machine, [first.waveform.relative_error])} What all rows "
            "share counts less where they are compared.",
        ],
        width,
    )


def _limit_words(study: VaryStudy) -> list[str]:
    limit = study.light_limit
    if limit is None:
        return []
    side = "up to" if limit.lights_below else "from"
    value = parameter_value(study.parameters[0], float(f"{limit.value:.3g}"))
    return [f"Lamps light {side} {limit.path} = {value}.", ""]


def _open_V(name: str, row: VaryRow) -> str:
    figures = {**row.coils, **row.connections}[name]
    return _NONE if figures is None else number(figures.rms_V, 4)


def _or_none(value: float | None, unit: str) -> str:
    return _NONE if value is None else in_unit(value, unit)


def _lit(row: VaryRow) -> str:
    lamps = row.circuit.lamps if row.circuit is not None else ()
    if not lamps:
        return _NONE
    lit = sum(lamp.count for lamp in lamps if lamp.lights)
    return f"{lit} of {sum(lamp.count for lamp in lamps)}"
