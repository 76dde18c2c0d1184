"""What ``parameters`` prints: what can be changed about a machine."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fieldsim.machine.machine import Machine
from fieldsim.machine.parameters import Parameter
from fieldsim.machine.units import KINDS, near_text
from fieldsim.words.layout import PLAIN_WIDTH, Table, laid_out
from fieldsim.words.numbers import plain_number, plain_rpm

__all__ = ["parameter_value", "parameters_text"]


def parameters_text(machine: Machine, found: Sequence[Parameter], width: int = PLAIN_WIDTH) -> str:
    """Return the parameters: path, value, step and meaning, as a table where there is room."""
    rows = [[each.path, each.text, _step(each), each.words] for each in found]
    table = Table(["path", "value", "step", "what it is"], rows, left=4)
    blocks = [table] if table.width <= width else _list(found)
    return laid_out([f"{machine.title}: {len(found)} parameters", "", *blocks], width)


def _list(found: Sequence[Parameter]) -> list[str]:
    """Return a line for each parameter, and the meaning once below those that share it."""
    lines = []
    for each, after in zip(found, [*found[1:], None], strict=True):
        if each.choices:
            steps = f"; one of {', '.join(each.choices)}"
        else:
            steps = "" if math.isnan(each.step) else f", step {_step(each)}"
        lines.append(f"{each.path} = {each.text}{steps}")
        if after is None or after.words != each.words:
            lines.append(f"    {each.words}")
    return lines


def _step(each: Parameter) -> str:
    if each.choices:
        return "/".join(each.choices) if len(each.choices) < 4 else "a word"
    return "-" if math.isnan(each.step) else parameter_value(each, each.step)


def parameter_value(each: Parameter, value: float | int | str) -> str:
    """Return a value of a parameter as text with its unit.

    Examples
    --------
    >>> each = Parameter("clearance", 0.002, "m", "2 mm", 0, 1, 0.001, "smallest distance")
    >>> parameter_value(each, 0.0035)
    '3.5 mm'
    """
    if isinstance(value, str):
        return value
    if each.unit in ("AWG", "SWG"):
        return f"{value:.0f}" if value == each.step else f"{each.unit} {value:.0f}"
    if each.unit == "K" and value == each.step:
        return f"{value:g} K"
    if each.unit == "rad/s":
        return plain_rpm(value, 6)
    if each.unit == "rad":
        return f"{plain_number(math.degrees(value), 6)} deg"
    kinds = [name for name, kind in KINDS.items() if kind.unit == each.unit and each.unit]
    if not kinds:
        return near_text(value, "fraction", 6) if each.text.endswith("%") else f"{value:.6g}"
    return near_text(value, kinds[0], 6)
