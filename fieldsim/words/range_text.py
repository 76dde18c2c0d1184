"""The range of an answer, in sentences."""

from __future__ import annotations

from fieldsim.operation.effort import Effort
from fieldsim.studies.ranges import Range, RangeStudy, effort_range
from fieldsim.studies.vary import CRANK_SPEED
from fieldsim.words.numbers import in_unit, number, plain_number, share

__all__ = [
    "comparison_range_lines",
    "effort_range_lines",
    "emf_range_lines",
    "light_range_lines",
    "lighting_words",
    "page_range_lines",
    "source_words",
]

_BUILT = "in nine of ten machines built like this"


def emf_range_lines(study: RangeStudy | None) -> list[str]:
    """Return the ranges of the open voltages, one line each; none without a study."""
    return [] if study is None else _with_what_is_known(study, _emf_lines(study))


def light_range_lines(study: RangeStudy | None) -> list[str]:
    """Return in how many machines all lamps light, and the ranges of their currents."""
    return [] if study is None else _with_what_is_known(study, _light_lines(study))


def effort_range_lines(study: RangeStudy | None, effort: Effort) -> list[str]:
    """Return the range of the average torque, as far as the coils make it."""
    lines = [] if study is None else _effort_lines(study, effort)
    return _with_what_is_known(study, lines) if study is not None and lines else []


def page_range_lines(
    study: RangeStudy | None, has_light: bool, effort: Effort | None
) -> tuple[list[str], list[str], list[str]]:
    """Return the ranges of light, effort and EMF for a page that has all three in this order.

    What they rest on is said once, with the first of them that there is.
    """
    if study is None:
        return [], [], []
    light = _light_lines(study) if has_light else []
    torque = _effort_lines(study, effort) if effort is not None else []
    told = (light, torque, _emf_lines(study))
    first = next((lines for lines in told if lines), told[2])
    first[:] = _with_what_is_known(study, first)
    return told


def _emf_lines(study: RangeStudy) -> list[str]:
    lines = []
    for coil in study.points.coils:
        found = study.coil_ranges(coil).get("rms_V")
        if found is not None:
            value = study.point.figures[coil].rms_V
            lines.append(f"{coil}: {number(value)} V RMS, {_volts(found)} {_BUILT}{_from(found)}")
    return lines


def _light_lines(study: RangeStudy) -> list[str]:
    lights = lighting_words(study)
    lines = [lights] if lights else []
    result = study.point.circuit_result
    for lamp in study.points.lamps:
        found = study.lamp_ranges(lamp).get("average_current_A")
        if found is not None:
            now = next(one.average_current_A for one in result.lamps if one.label == lamp)
            span = f"{in_unit(found.low, 'mA')} to {in_unit(found.high, 'mA')}"
            lines.append(f"{lamp}: {in_unit(now, 'mA')} mA, {span} {_BUILT}{_from(found)}")
    if not study.points.lamps:
        power = study.power_ranges().get("useful_power_W")
        if power is not None:
            span = f"{in_unit(power.low, 'mW')} to {in_unit(power.high, 'mW')} mW into the load"
            lines.append(f"{span} {_BUILT}{_from(power)}")
    return lines


def _effort_lines(study: RangeStudy, effort: Effort) -> list[str]:
    found = effort_range(study, effort)
    if found is None:
        return []
    now = number(effort.crank.average_torque_Nm)
    span = f"{number(found.low)} to {number(found.high)}"
    return [f"average torque: {now} N m, {span} {_BUILT}{_from(found)}"]


def comparison_range_lines(studies: tuple[RangeStudy, ...]) -> list[str]:
    """Return the ranges of several designs' open voltages, one line a coil."""
    lines = []
    for study in studies:
        for coil in study.points.coils:
            found = study.coil_ranges(coil).get("rms_V")
            if found is not None:
                title = study.point.machine.title
                lines.append(f"{title}, {coil}: {_volts(found)} V RMS {_BUILT}{_from(found)}")
    return _with_what_is_known(studies[0], lines) if studies else lines


def lighting_words(study: RangeStudy) -> str:
    """Return in how many of a hundred machines all lamps light; nothing without lamps."""
    lit = study.share_all_light
    if lit is None:
        return ""
    lamps = "all lamps light" if len(study.points.lamps) > 1 else "the lamps light"
    return f"{lamps} in {_of_hundred(lit)} of 100 machines built like this"


def source_words(found: Range) -> str:
    """Return what a range comes from most, and how much of it; nothing where nothing moves.

    Examples
    --------
    >>> source_words(Range(5.4, 6.9, "crank_speed", 0.61))
    'mostly from the crank speed (61 % of the variance)'
    """
    if not found.mostly_from:
        return ""
    return f"{_from(found).removeprefix(', ')} ({share(found.share, 2)} of the variance)"


def _volts(found: Range) -> str:
    return f"{number(found.low)} to {number(found.high)}"


def _of_hundred(share: float) -> str:
    # nearly all is not all, and hardly any is not none
    whole = round(100 * share)
    if share < 1:
        whole = min(whole, 99)
    return f"{max(whole, 1) if share > 0 else 0}"


def _from(found: Range) -> str:
    if not found.mostly_from:
        return ""
    what = "the crank speed" if found.mostly_from == CRANK_SPEED else found.mostly_from
    return f", mostly from {what}"


def _with_what_is_known(study: RangeStudy, lines: list[str]) -> list[str]:
    """Return the lines, and what they rest on."""
    if study.share_that_can_be < 1:
        blocked = plain_number(100 * (1 - study.share_that_can_be), 2)
        problem = next(text for text in study.points.problems if text)
        lines = [*lines, f"{blocked} of 100 machines built like this cannot be: {problem}"]
    if not lines:
        return []
    usual = [item for item in study.inputs if not item.stated]
    stated = [item for item in study.inputs if item.stated]
    said = []
    if stated:
        said.append(", ".join(f"{item.path} {item.text}" for item in stated))
    if usual:
        alike = dict.fromkeys(_usual(item.path, item.text) for item in usual)
        said.append(f"by common practice {', '.join(alike)}")
    return [*lines, f"(give or take {'; '.join(said)})"]


def _usual(path: str, text: str) -> str:
    """Return an amount by common practice, alike parts together."""
    kind = path.rsplit(".", 1)[-1].replace("_", " ")
    return f"{'lamp voltage' if kind == 'forward' else kind} {text}"
