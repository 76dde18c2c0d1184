"""A report's first screen: does it light, how hard is the crank, what helps most; in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fieldsim.circuit.results import LampReport
from fieldsim.output.light_text import power
from fieldsim.output.report_tables import percent, three
from fieldsim.studies.design_study import DesignStudy
from fieldsim.studies.effort import Effort

__all__ = ["Answer", "Facts", "answers", "facts_of", "key_numbers"]

_EASY, _STEADY = 0.15, 0.5  # of the hand's force: common practice, no published source


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
    if effort is not None:
        if effort.arm is not None:
            force = effort.crank.peak_Nm / effort.arm.length_m
            found.append((f"{three(force)} N", "on the crank arm at most"))
        else:
            found.append((f"{three(effort.crank.peak_Nm)} N m", "at the crank at most"))
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
    return f"{current}, {100 * lamp.share_of_rated:.3g} % of the rated {three(1e3 * lamp.rated_A)} mA."


def _crank(study: DesignStudy) -> Answer:
    question = "How hard must I crank?"
    effort = study.effort
    if effort is None:
        return Answer(question, "Not known.", study.notes["effort"] + ".")
    rpm = abs(effort.speed.base_rad_per_s) * 30 / math.pi
    watts = f"At {rpm:.4g} rpm the hand gives {power(max(effort.crank.hand_W, 0.0))}"
    peak = effort.crank.peak_Nm
    if effort.arm is None:
        short = f"{three(effort.crank.average_Nm)} N m on average, {three(peak)} N m at most."
        return Answer(question, short, f"{watts}. {_no_current(effort)}")
    force, allowed = peak / effort.arm.length_m, effort.arm.hand_force_N
    share = force / allowed
    word = (
        "It turns easily." if share <= _EASY else "It takes a steady hand." if share <= _STEADY
        else "It is hard work." if share <= 1 else "Too hard for one hand."
    )  # fmt: skip
    average = three(effort.crank.average_Nm / effort.arm.length_m)
    why = (
        f"{average} N on the {effort.arm.length_m * 1e3:.4g} mm arm on average, {three(force)} N at "
        f"most; a hand gives {allowed:g} N. {watts}. {_no_current(effort)}"
    )
    return Answer(question, word, why.strip())


def _no_current(effort: Effort) -> str:
    because = effort.electric.open_because
    return f"No current is reckoned with, as {because}." if because else ""


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
