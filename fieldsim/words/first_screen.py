"""A report's first screen: does it light, how hard is the crank, what helps most; in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldsim.circuit.results import LampReport
from fieldsim.machine.mechanics import Crank, Friction
from fieldsim.operation.effort import Effort
from fieldsim.studies.design_study import DesignStudy
from fieldsim.words.light_text import needed_speed
from fieldsim.words.numbers import (
    NOTHING,
    SOLVED,
    change,
    gain_words,
    in_unit,
    number,
    plain_number,
    plain_rpm,
    quantity,
    share,
)

__all__ = ["Answer", "Facts", "answers", "facts_of", "key_numbers"]

_EASY, _STEADY = 0.15, 0.5  # of the hand's force: common practice, no published source
_FROM_NOTHING = 100.0  # times: what cancelled no longer does
_NO_FORCE_N = 0.01  # at the hand: nobody feels it
_USUAL_ARM_M = 0.1  # where the file gives none: common practice, no published source


@dataclass(frozen=True)
class Answer:
    """A question, its answer in a few words, and what stands behind it."""

    question: str
    answer: str
    reason: str


@dataclass(frozen=True)
class Facts:
    """The numbers by which designs are compared.

    Parameters
    ----------
    rms_V
        Of what the load hangs on, open, or of the coil that gives most.
    lamp_current_average_A
        Average current of all lamps together; NaN without lamps.
    hand_power_W
        Average power of the hand; NaN if unknown.
    crank_peak_torque_Nm
        Largest torque at the crank; NaN if unknown.
    """

    rms_V: float
    lamp_current_average_A: float
    hand_power_W: float
    crank_peak_torque_Nm: float


def facts_of(study: DesignStudy) -> Facts:
    """Return the numbers by which a design is compared with others."""
    crank = study.effort.crank if study.effort is not None else None
    return Facts(
        study.sensitivity.rms_V,
        study.sensitivity.lamp_current_average_A,
        math.nan if crank is None else crank.hand_W,
        math.nan if crank is None else crank.peak_torque_Nm,
    )


def answers(study: DesignStudy) -> tuple[Answer, Answer, Answer]:
    """Return the three answers of the first screen."""
    return _lights(study), _crank(study), _helps(study)


def key_numbers(study: DesignStudy) -> list[tuple[str, str]]:
    """Return four or five numbers with what they are."""
    found = [
        (f"{in_unit(study.sensitivity.rms_V, 'V')} V", f"RMS, open, from {study.sensitivity.what}")
    ]
    lamps = study.light.result.lamps if study.light is not None else ()
    effort = study.effort
    cranked = effort is not None and not _nothing_brakes(effort)
    if lamps:
        least = min(lamps, key=lambda lamp: lamp.share_of_rated)
        found.append((f"{in_unit(least.average_current_A, 'mA')} mA", "on average in each lamp"))
    elif study.sensitivity.what in study.point.figures and not study.cancels:
        figures = study.point.figures[study.sensitivity.what]
        found.append((f"{number(figures.peak_V, 3, NOTHING['V'])} V", "at its peak, open"))
        if not cranked:
            found.append((f"{number(figures.frequency_Hz)} Hz", "electrical frequency"))
    if effort is not None and cranked:
        arm = effort.arm or Crank(_USUAL_ARM_M)
        force = effort.crank.peak_torque_Nm / arm.arm
        shown = number(max(force, 0.0), 3, _NO_FORCE_N)
        found.append((f"{shown} N", f"at most on a {_mm(arm)} mm crank arm"))
        found.append((quantity(max(effort.crank.hand_W, 0.0), "W"), "from the hand"))
    best = study.sensitivity.helpful()
    if best and not study.cancels and not _overdriven(lamps):
        shown = change(study.sensitivity.gain(best[0]))
        what = gain_words(study.sensitivity.gain(best[0]), study.sensitivity.kind.value)
        found.append((shown, f"{what.removeprefix(shown).strip()} from the best single step"))
    return found


def _mm(arm: Crank) -> str:
    return plain_number(arm.arm * 1e3, 4)


def _overdriven(lamps: Sequence[LampReport]) -> bool:
    return any(lamp.share_of_rated > 1 for lamp in lamps)


def _sentence(words: str) -> str:
    """Return words with a capital at their head and a stop at their end."""
    return f"{words[0].upper()}{words[1:]}" + ("" if words.endswith((".", "}")) else ".")


def _lights(study: DesignStudy) -> Answer:
    question = "Does it light?"
    open_words = (
        f"With nothing connected, {study.sensitivity.what} gives "
        f"{number(study.sensitivity.rms_V, 3, NOTHING['V'])} V RMS."
    )
    if study.machine.load and study.cancels:
        return Answer(question, "No, the linkages cancel.", _cancel_words(study))
    if study.light is None:
        if study.machine.load:
            return Answer(question, "No.", _sentence(study.notes["light"]))
        return Answer(question, "No lamps are given.", open_words)
    lamps = study.light.result.lamps
    if not lamps:
        used = quantity(study.light.result.useful_power_W, "W")
        return Answer(question, "No lamps in the load.", f"It takes {used}. {open_words}")
    lit = [lamp for lamp in lamps if lamp.lights]
    needed = study.light.lamp_speeds or (None,) * len(lamps)
    words = []
    for lamp, speed in list(zip(lamps, needed, strict=True))[:3]:
        words.append(_lamp_words(lamp))
        if speed is not None and not lamp.lights:
            words.append(needed_speed(speed, study.light.run.speed))
    return Answer(question, _lit_words(lamps, lit), " ".join(words))


def _cancel_words(study: DesignStudy) -> str:
    return (
        f"What {study.sensitivity.what} is made of gives voltage, but it adds up to next to "
        "nothing there: the parts work against each other."
    )


def _lit_words(lamps: Sequence[LampReport], lit: Sequence[LampReport]) -> str:
    many, on = sum(p.count for p in lamps), sum(p.count for p in lit)
    if not on and any(lamp.flashes for lamp in lamps):
        return "Only in flashes."
    if not on:
        return "No, it stays dark." if many == 1 else f"No, all {many} lamps stay dark."
    if _overdriven(lit):
        return "Yes, but above what the lamps are rated for."
    if on < many:
        return f"In part: {on} of {many} lamps light."
    return "Yes, it lights." if many == 1 else f"Yes, all {many} lamps light."


def _lamp_words(lamp: LampReport) -> str:
    each = " each" if lamp.count > 1 else ""
    current = f"{lamp.label}: {in_unit(lamp.average_current_A, 'mA')} mA on average{each}"
    if lamp.flashes:
        return f"{current}, seen in flashes, {plain_number(lamp.flash_Hz or 0.0)} a second."
    if not lamp.lights:
        return f"{current}; seen from {in_unit(lamp.visible_current_A, 'mA')} mA."
    rated = in_unit(lamp.rated_current_A, "mA")
    return f"{current}, {share(lamp.share_of_rated)} of the rated {rated} mA."


def _crank(study: DesignStudy) -> Answer:
    question = "How hard must I crank?"
    effort = study.effort
    if effort is None:
        short = "Too hard for one hand." if study.too_hard else "Not known."
        return Answer(question, short, _sentence(study.notes["effort"]))
    if _nothing_brakes(effort):
        reason = effort.electric.open_because
        why = f"Nothing brakes the crank: {reason}, and no friction is given."
        return Answer(question, "Not known yet.", why)
    arm = effort.arm or Crank(_USUAL_ARM_M)
    force, average = (
        effort.crank.peak_torque_Nm / arm.arm,
        effort.crank.average_torque_Nm / arm.arm,
    )
    asked = force / arm.hand_force
    word = (
        "It turns easily." if asked <= _EASY else "It takes a steady hand." if asked <= _STEADY
        else "It is hard work." if asked <= 1 else "Too hard for one hand."
    )  # fmt: skip
    length = f"{_mm(arm)} mm arm"
    where = f"the {length}" if effort.arm else f"a {length} (the file gives none)"
    force_N = plain_number(arm.hand_force, 6)
    hand = f"a hand can give about {force_N} N (crank.hand_force in the file)"
    if force < _NO_FORCE_N:
        details = [f"Next to nothing on {where}; {hand}."]
    elif abs(average) < SOLVED * force:
        details = [
            f"Nothing on average: the magnets pull back and forth with up to {number(force)} N on "
            f"{where}; {hand}."
        ]
    else:
        details = [f"{number(average)} N on {where} on average, {number(force)} N at most; {hand}."]
    rpm = plain_rpm(abs(effort.speed.base_rad_per_s), 4)
    details.append(f"At {rpm} that is {quantity(max(effort.crank.hand_W, 0.0), 'W')}.")
    if effort.electric.open_because:
        details.append(f"No current is reckoned with, as {effort.electric.open_because}.")
    if effort.friction == Friction():
        details.append("Friction is left out: the file gives none.")
    return Answer(question, word, " ".join(details))


def _nothing_brakes(effort: Effort) -> bool:
    """Return whether no torque at all is reckoned with: no current, no friction, no other rotor."""
    torque = effort.crank.torque_Nm
    return bool(effort.electric.open_because) and float(abs(torque).max()) < NOTHING["N m"]


def _helps(study: DesignStudy) -> Answer:
    question, found = "What helps most?", study.sensitivity
    lamps = study.light.result.lamps if study.light is not None else ()
    if study.cancels:
        reason = (
            "Turn all magnets of one rotor over, or reverse one coil of a connection, so that the "
            "parts add up."
        )
        best = next(iter(found.helpful()), None)
        if best and best.voltage_gain > _FROM_NOTHING:
            gives = f"{found.what} then gives {number(best.rms_V, 3, NOTHING['V'])} V RMS"
            reason = _sentence(f"{best.words}: {gives}")
        return Answer(question, "Turn one part round.", reason)
    if _overdriven(lamps):
        return Answer(
            question, "Nothing more is needed.",
            "The lamps get more than they are rated for: more lamps side by side, a resistor in "
            "series or a slower crank brings them back.",
        )  # fmt: skip
    steps = found.helpful()
    if "sensitivity" in study.notes:
        return Answer(question, "Not worked out.", _sentence(study.notes["sensitivity"]))
    if not steps:
        return Answer(question, "No single step helps.", "None of the steps tried gives more.")

    def words(i: int) -> str:
        return f"{steps[i].words} ({gain_words(found.gain(steps[i]), found.kind.value)})"

    first = steps[0]
    short = f"{_sentence(first.words)[:-1]}: {gain_words(found.gain(first), found.kind.value)}."
    then = [words(i) for i in range(1, min(3, len(steps)))]
    why = f"Then: {'; '.join(then)}." if then else "Nothing else helps."
    if lamps and not any(lamp.lights for lamp in lamps):
        lit = any(step.lit for step in steps)
        why += " Some of these steps light it." if lit else (
            " No single step is enough to light it: take several, crank faster or use fewer lamps."
        )  # fmt: skip
    return Answer(question, short, why)
