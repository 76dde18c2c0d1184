"""A report's first screen: does it light, how hard is the crank, what helps most; in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldsim.circuit.results import LampReport
from fieldsim.geometry.mechanics import CrankArm, Friction
from fieldsim.output.light_text import power
from fieldsim.output.report_tables import percent, three
from fieldsim.studies.design_study import DesignStudy
from fieldsim.studies.effort import Effort

__all__ = ["Answer", "Facts", "answers", "facts_of", "key_numbers"]

_EASY, _STEADY = 0.15, 0.5  # of the hand's force: common practice, no published source
_NO_TORQUE_Nm = 1e-9
_USUAL_ARM_M = 0.1  # where the file gives none: common practice, no published source


@dataclass(frozen=True)
class Answer:
    """A question, its answer in a few words, and what stands behind it."""

    question: str
    short: str
    why: str


@dataclass(frozen=True)
class Facts:
    """The numbers by which designs are compared.

    Parameters
    ----------
    rms_V
        Of what the load hangs on, open, or of the coil that gives most.
    lamp_A
        Average current of all lamps together; NaN without lamps.
    hand_W
        Average power of the hand; NaN if unknown.
    hand_peak_Nm
        Largest torque at the crank; NaN if unknown.
    """

    rms_V: float
    lamp_A: float
    hand_W: float
    hand_peak_Nm: float


def facts_of(study: DesignStudy) -> Facts:
    """Return the numbers by which a design is compared with others."""
    crank = study.effort.crank if study.effort is not None else None
    return Facts(
        study.sensitivity.rms_V,
        study.sensitivity.lamp_A,
        math.nan if crank is None else crank.hand_W,
        math.nan if crank is None else crank.peak_Nm,
    )


def answers(study: DesignStudy) -> tuple[Answer, Answer, Answer]:
    """Return the three answers of the first screen."""
    return _lights(study), _crank(study), _helps(study)


def key_numbers(study: DesignStudy) -> list[tuple[str, str]]:
    """Return four or five numbers with what they are."""
    found = [(f"{three(study.sensitivity.rms_V)} V", f"RMS, open, from {study.sensitivity.what}")]
    lamps = study.light.result.lamps if study.light is not None else ()
    if lamps:
        least = min(lamps, key=lambda lamp: lamp.share_of_rated)
        found.append((f"{three(1e3 * least.average_A)} mA", "on average in each lamp"))
    effort = study.effort
    if not lamps:
        name = study.sensitivity.what
        if name in study.figures:
            figures = study.figures[name]
            found.append((f"{three(figures.peak_V)} V", "at its peak, open"))
            found.append((f"{three(figures.frequency_Hz)} Hz", "electrical frequency"))
    if effort is not None and not _nothing_brakes(effort):
        arm = effort.arm or CrankArm(_USUAL_ARM_M)
        force = effort.crank.peak_Nm / arm.length_m
        found.append((f"{three(force)} N", f"at most on a {arm.length_m * 1e3:.4g} mm crank arm"))
        found.append((power(max(effort.crank.hand_W, 0.0)), "from the hand"))
    best = study.sensitivity.helpful()
    if best:
        gain = percent(study.sensitivity.gain(best[0]))
        kind = "light" if study.sensitivity.by_light else "voltage"
        found.append((gain, f"{kind} from the best single step"))
    return found


def _lights(study: DesignStudy) -> Answer:
    question = "Does it light?"
    open_words = (
        f"With nothing connected, {study.sensitivity.what} gives "
        f"{three(study.sensitivity.rms_V)} V RMS."
    )
    if study.light is None:
        fittings = study.geometry.fittings
        loaded = fittings is not None and fittings.load is not None
        return Answer(question, "No." if loaded else "No lamps are given.",
                      study.notes["light"] + "." if loaded else open_words)  # fmt: skip
    lamps = study.light.result.lamps
    if not lamps:
        used = power(study.light.result.useful_W)
        return Answer(question, "No lamps in the load.", f"It takes {used}. {open_words}")
    lit = [lamp for lamp in lamps if lamp.lights]
    return Answer(question, _lit_words(lamps, lit), " ".join(_lamp_words(p) for p in lamps[:3]))


def _lit_words(lamps: Sequence[LampReport], lit: Sequence[LampReport]) -> str:
    many, on = sum(p.count for p in lamps), sum(p.count for p in lit)
    if not on:
        return "No, it stays dark." if many == 1 else f"No, all {many} lamps stay dark."
    if any(p.share_of_rated > 1 for p in lit):
        return "Yes, but above what the lamps are rated for."
    if on < many:
        return f"In part: {on} of {many} lamps light."
    return "Yes, it lights." if many == 1 else f"Yes, all {many} lamps light."


def _lamp_words(lamp: LampReport) -> str:
    each = " each" if lamp.count > 1 else ""
    current = f"{lamp.label}: {three(1e3 * lamp.average_A)} mA on average{each}"
    if not lamp.lights:
        return f"{current}; seen from {three(1e3 * lamp.visible_A)} mA."
    share = f"{100 * lamp.share_of_rated:.3g}\N{NO-BREAK SPACE}%"
    return f"{current}, {share} of the rated {three(1e3 * lamp.rated_A)} mA."


def _crank(study: DesignStudy) -> Answer:
    question = "How hard must I crank?"
    effort = study.effort
    if effort is None:
        return Answer(question, "Not known.", study.notes["effort"] + ".")
    if _nothing_brakes(effort):
        why = (
            f"Nothing brakes the crank, as {effort.electric.open_because} and the file gives no "
            "friction: add wire and a load."
        )
        return Answer(question, "Not known yet.", why)
    arm = effort.arm or CrankArm(_USUAL_ARM_M)
    force, average = effort.crank.peak_Nm / arm.length_m, effort.crank.average_Nm / arm.length_m
    share = force / arm.hand_force_N
    word = (
        "It turns easily." if share <= _EASY else "It takes a steady hand." if share <= _STEADY
        else "It is hard work." if share <= 1 else "Too hard for one hand."
    )  # fmt: skip
    length = f"{arm.length_m * 1e3:.4g} mm arm"
    where = f"the {length}" if effort.arm is not None else f"a {length} (the file gives none)"
    rpm = abs(effort.speed.base_rad_per_s) * 30 / math.pi
    details = [
        f"{three(average)} N on {where} on average, {three(force)} N at most; a hand gives "
        f"{arm.hand_force_N:g} N.",
        f"At {rpm:.4g} rpm that is {power(max(effort.crank.hand_W, 0.0))}.",
    ]
    if effort.electric.open_because:
        details.append(f"No current is reckoned with, as {effort.electric.open_because}.")
    if effort.friction == Friction():
        details.append("Friction is left out: the file gives none.")
    return Answer(question, word, " ".join(details))


def _nothing_brakes(effort: Effort) -> bool:
    """Return whether no torque at all is reckoned with: no current, no friction, no other rotor."""
    torque = effort.crank.torque_Nm
    return bool(effort.electric.open_because) and float(abs(torque).max()) < _NO_TORQUE_Nm


def _helps(study: DesignStudy) -> Answer:
    question, found = "What helps most?", study.sensitivity
    steps = found.helpful()
    kind = "light" if found.by_light else "voltage"
    if not steps:
        return Answer(question, "No single step helps.", "None of the steps tried gives more.")

    def words(i: int) -> str:
        return f"{steps[i].words} ({percent(found.gain(steps[i]))} {kind})"

    first = steps[0]
    short = f"{first.words[0].upper()}{first.words[1:]}: {percent(found.gain(first))} {kind}."
    then = [words(i) for i in range(1, min(3, len(steps)))]
    return Answer(question, short, f"Then: {'; '.join(then)}." if then else "Nothing else helps.")
