"""Every caution in a sentence that names its number."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from fieldsim.cautions import Caution, Hazard
from fieldsim.words.numbers import plain_number, plain_rpm, quantity, share

__all__ = ["WHO_DECIDES", "caution_lines", "caution_text"]

WHO_DECIDES = (
    "Estimates for a hobby bench: the data sheets of your glue, magnets and wire decide, and local "
    "rules and licensed practice go before anything said here."
)

_STANDARD_GRAVITY = 9.80665
_ZERO_CELSIUS_K = 273.15
_STOPS = -0.9  # of the average speed: there is hardly any left
_NOISE = 1e-4  # of the larger voltage: what computing leaves where two cancel


def caution_text(caution: Caution) -> str:
    """Return a caution in words.

    Examples
    --------
    >>> print(caution_text(Caution(Hazard.PINCH, "upper and lower", 65.0, 20.0)))
    Pinch: rotors upper and lower pull together with up to 65 N (the weight of 6.6 kg). Bring them \
together with a screw or a wedge, never with fingers between; wear eye protection.
    >>> caution_text(Caution(Hazard.LED_CURRENT, "white LED", 0.0312, 0.02))
    'white LED: 31.2 mA on average, above its rated 20 mA; add a resistor or more lamps'
    """
    return _SENTENCES[caution.kind](caution)


def caution_lines(cautions: Iterable[Caution | None]) -> list[str]:
    """Return the lines of a screen for those cautions that are due, none twice."""
    texts = dict.fromkeys(caution_text(c) for c in cautions if c is not None)
    return [f"Caution: {text}" for text in texts]


def _fact(caution: Caution, name: str) -> float:
    value = caution.facts[name]
    if not isinstance(value, float):
        raise TypeError(f"{caution.kind}: {name} is not a number")
    return value


def _of(caution: Caution, unit: str, scale: float = 1.0) -> tuple[str, str]:
    """Return value and limit with their unit."""
    value, limit = (plain_number(scale * x) for x in (caution.value, caution.limit or 0.0))
    return f"{value} {unit}", f"{limit} {unit}"


def _led_current(c: Caution) -> str:
    value, limit = _of(c, "mA", 1e3)
    return f"{c.where}: {value} on average, above its rated {limit}; add a resistor or more lamps"


def _led_peak(c: Caution) -> str:
    value, limit = _of(c, "mA", 1e3)
    return f"{c.where}: peaks at {value}, above its momentary {limit}"


def _led_pulses(c: Caution) -> str:
    times = plain_number(c.value / _fact(c, "rated_A"), 2)
    return (
        f"{c.where}: peaks at {_of(c, 'mA', 1e3)[0]}, {times} times its rated current: its data "
        "sheet says whether it bears such pulses"
    )


def _uneven_lamps(c: Caution) -> str:
    more, less, mean, rated = (
        f"{plain_number(1e3 * a)} mA"
        for a in (c.value, *(_fact(c, f"{name}_A") for name in ("less", "mean", "rated")))
    )
    what = "strings" if _fact(c, "series") > 1 else "lamps"
    over = f", above the rated {rated}," if c.value > _fact(c, "rated_A") else ""
    return (
        f"{c.where}: side by side they share badly: of two {what} whose forward voltages are "
        f"{plain_number(_fact(c, 'spread_V'), 2)} V apart one takes {more}{over} and one {less} on "
        f"average, where {mean} each are reckoned; give each its own resistor."
    )


def _flashing(c: Caution) -> str:
    low, high = plain_number(c.limit or 0.0), plain_number(_fact(c, "up_to_Hz"))
    return (
        f"{c.where}: its light flashes {plain_number(c.value)} times a second. Between about {low} "
        f"and {high}, flashing can set off seizures in people with photosensitive epilepsy (common "
        "practice): ask before others watch; a larger capacitor or a faster crank calms it."
    )


def _led_reverse(c: Caution) -> str:
    value, limit = _of(c, "V")
    return (
        f"{c.where}: {value} backwards on each LED, above its {limit}; use a bridge, or LEDs in "
        "opposed pairs"
    )


def _capacitor_voltage(c: Caution) -> str:
    value, limit = _of(c, "V")
    when = " if its lamps come off" if c.facts.get("lamps_off") else ""
    return f"{c.where}: {value}, above its rated {limit}{when}"


def _capacitor_polarity(c: Caution) -> str:
    return f"{c.where}: {_of(c, 'V')[0]} backwards on a polarised capacitor; it may burst"


def _resistor_power(c: Caution) -> str:
    value, limit = _of(c, "W")
    return f"{c.where}: {value}, above its rated {limit}"


def _open_voltage(c: Caution) -> str:
    value, limit = _of(c, "V")
    if not c.where:
        return (
            f"An open coil reaches {value} at its peak: do not touch bare ends while cranking, and "
            "never connect a part rated for less."
        )
    return (
        f"{c.where}: the open coil peaks at {value}, above {limit}; do not touch bare ends while "
        "it turns"
    )


def _coil_current(c: Caution) -> str:
    value, limit = _of(c, "mA", 1e3)
    return f"{c.where}: {value} RMS, above the {limit} that its wire carries for long"


def _coil_heat(c: Caution) -> str:
    reached = f"{c.value - _ZERO_CELSIUS_K:.0f} °C"
    enamel_K = _fact(c, "enamel_K")
    if c.value >= enamel_K:
        return (
            f"Coil {c.where}: The winding may reach about {reached}, above the "
            f"{enamel_K - _ZERO_CELSIUS_K:.0f} °C of common enamel: it can burn skin, char its "
            "former and short its turns."
        )
    return (
        f"Coil {c.where}: The winding may reach about {reached}: hot enough to burn skin within "
        "seconds."
    )


def _full_section(c: Caution) -> str:
    value, limit = (f"{100 * x:.0f} %" for x in (c.value, c.limit or 0.0))
    return (
        f"{c.where}: The wire fills {value} of the section; hand winding seldom gets above "
        f"{limit} (square layers). Check build, turns and gauge."
    )


def _shaft_in_winding(c: Caution) -> str:
    rotors = str(c.facts["rotors"])
    several = " and " in rotors
    own = ", unless each of them has a shaft of its own" if several else ""
    return (
        f"Coil {c.where}: the shaft of rotor{'s' if several else ''} {rotors} has to pass through "
        f"{plain_number(1e3 * c.value)} mm of its winding{own}. Part the turns there round a "
        "sleeve: a bare shaft rubs through the enamel. The winding is computed as if it were whole."
    )


def _strong_magnets(c: Caution) -> str:
    count = _fact(c, "count")
    what = f"{_magnet_size(c)} at {plain_number(c.value)} T"
    if count == 1:
        return (
            f"A magnet of {what}: it snaps to iron, pinches and chips; keep it from children who "
            "might swallow it and away from pacemakers and other implants."
        )
    return (
        f"{count:.0f} magnets, the strongest {what}: they snap together, pinch and chip; keep them "
        "from children who might swallow one and away from pacemakers and other implants."
    )


def _magnet_size(c: Caution) -> str:
    def mm(name: str) -> str:
        return plain_number(1e3 * _fact(c, name))

    if "thickness_m" in c.facts:
        return f"{mm('diameter_m')} mm in diameter and {mm('thickness_m')} mm thick"
    if "diameter_m" in c.facts:
        return f"{mm('diameter_m')} mm in diameter"
    return f"{' x '.join(map(mm, ('first_m', 'second_m', 'third_m')))} mm"


def _opposed_coils(c: Caution) -> str:
    noise_V = _NOISE * max(_fact(c, "now_V"), _fact(c, "after_V"))
    now, after = (
        f"{plain_number(value if value > noise_V else 0.0)} V"
        for value in (_fact(c, "now_V"), _fact(c, "after_V"))
    )
    swap = f'the ends of "{c.facts["member"]}"'
    if c.facts["joining"] == "series":
        return (
            f"{c.where}: its coils work against each other: {now} RMS as joined, nothing "
            f"connected; {after} with {swap} swapped."
        )
    return (
        f"{c.where}: its coils differ and heat each other, whether or not anything is connected: "
        f"{now} RMS drive current round through them; {after} with {swap} swapped."
    )


def _circulating(c: Caution) -> str:
    part = share(c.value / _fact(c, "heat_W"), 2)
    return (
        f"{c.where}: {quantity(c.value, 'W')}, {part} of its coils' heat, come from current that "
        "runs round through those in parallel and reaches no load; they must be alike in turns, "
        "place and ends."
    )


def _fast_magnets(c: Caution) -> str:
    return (
        f'Rotor "{c.where}" turns at {plain_rpm(_fact(c, "speed_rad_per_s"), 4)}, its magnets at '
        f"{plain_number(c.value)} m/s: a magnet that comes off the arm flies; fix them "
        "mechanically and wear eye protection."
    )


def _magnet(c: Caution) -> str:
    return f"magnet {_fact(c, 'number'):.0f} ({c.facts['magnet']}) of rotor {c.where}"


def _flying_magnets(c: Caution) -> str:
    return (
        f"Flying magnets: at {plain_rpm(_fact(c, 'speed_rad_per_s'))} the glue under {_magnet(c)} "
        f"bears {100 * c.value:.0f} % of what breaks it (centrifugal pull "
        f"{plain_number(_fact(c, 'centrifugal_N'))} N); it leaves at about "
        f"{plain_rpm(_fact(c, 'leaves_at_rad_per_s'))}. Bind the magnets with a sleeve or band, "
        "stand out of their plane and wear eye protection."
    )


def _loose_magnets(c: Caution) -> str:
    return (
        f"Loose magnets: the other magnets pull {_magnet(c)} off its glue even at rest, with "
        f"{plain_number(_fact(c, 'magnetic_N'))} N, {100 * c.value:.0f} % of what breaks the joint."
    )


def _pinch(c: Caution) -> str:
    return (
        f"Pinch: rotors {c.where} pull together with up to {plain_number(c.value)} N (the weight "
        f"of {plain_number(c.value / _STANDARD_GRAVITY, 2)} kg). Bring them together with a screw "
        "or a wedge, never with fingers between; wear eye protection."
    )


def _balance(c: Caution) -> str:
    return (
        f"Out of balance: the magnets of rotor {c.where} pull its shaft sideways with "
        f"{plain_number(c.value)} N, round with the rotor, at "
        f"{plain_rpm(_fact(c, 'speed_rad_per_s'))}; put a like weight on the other side."
    )


def _hand_force(c: Caution) -> str:
    value, limit = _of(c, "N")
    arm = plain_number(1e3 * _fact(c, "arm_m"))
    return f"Crank: the peak asks for {value} on a crank arm of {arm} mm; the hand gives {limit}."


def _uneven_speed(c: Caution) -> str:
    rpm, least = plain_rpm(_fact(c, "speed_rad_per_s")), _fact(c, "least")
    swings = (
        "the mass of the magnets alone does not carry it past where they hold it: the hand has to"
        if least < _STOPS
        else f"an even pull leaves it swinging by {100 * least:+.0f} to "
        f"{100 * _fact(c, 'most'):+.0f} % with no more mass than the magnets' own"
    )
    return (
        f"Crank: the magnets hold it back and help it on so hard that its speed cannot be steady: "
        f"at {rpm} {swings}. All figures are of a steady speed; a flywheel on the fastest shaft "
        "evens it out."
    )


def _crank_speed(c: Caution) -> str:
    low = plain_rpm(_fact(c, "comfortable_from_rad_per_s")).removesuffix(" rpm")
    return (
        f"Crank: {plain_rpm(c.value)} is above the {low} to {plain_rpm(c.limit or 0.0)} that a "
        "hand keeps up (common practice)."
    )


def _improbable_size(c: Caution) -> str:
    unit, limit = str(c.facts["unit"]), c.limit or 0.0
    value, usual = quantity(c.value, unit), quantity(limit, unit)
    than = "more" if c.value > limit else "less"
    return f"{c.where} is {value}, {than} than the {usual} of a machine on a table: is that meant?"


def _saturated_iron(c: Caution) -> str:
    value, _ = _of(c, "T")
    most = f"{plain_number(_fact(c, 'saturation_T'))} T"
    high = _fact(c, "too_high")
    by = f"may be too high by up to {share(high, 2)}" if high > 0.005 else "hardly suffers"
    return (
        f"{c.where} carries up to {value} on average over a section, and its material saturates at "
        f"{most}; here iron counts as far from that, so that the voltage {by} (`emf --saturation` "
        "solves it); thicker iron carries more"
    )


def _solid_iron(c: Caution) -> str:
    skin, deep = _of(c, "mm", 1e3)
    return (
        f"{c.where}: eddy currents in it are left out, for it is no rod or bar whose field goes "
        f"along it; at {plain_number(_fact(c, 'frequency_Hz'))} Hz flux keeps to a skin of {skin}, "
        f"less than the {deep} that it would have to go in: the voltage is lower than said here, "
        "and the hand gives more"
    )


_SENTENCES: dict[Hazard, Callable[[Caution], str]] = {
    Hazard.LED_CURRENT: _led_current,
    Hazard.LED_PEAK: _led_peak,
    Hazard.LED_PULSES: _led_pulses,
    Hazard.UNEVEN_LAMPS: _uneven_lamps,
    Hazard.FLASHING: _flashing,
    Hazard.LED_REVERSE: _led_reverse,
    Hazard.CAPACITOR_VOLTAGE: _capacitor_voltage,
    Hazard.CAPACITOR_POLARITY: _capacitor_polarity,
    Hazard.RESISTOR_POWER: _resistor_power,
    Hazard.OPEN_VOLTAGE: _open_voltage,
    Hazard.COIL_CURRENT: _coil_current,
    Hazard.COIL_HEAT: _coil_heat,
    Hazard.OPPOSED_COILS: _opposed_coils,
    Hazard.CIRCULATING: _circulating,
    Hazard.FULL_SECTION: _full_section,
    Hazard.SHAFT_IN_WINDING: _shaft_in_winding,
    Hazard.STRONG_MAGNETS: _strong_magnets,
    Hazard.FAST_MAGNETS: _fast_magnets,
    Hazard.FLYING_MAGNETS: _flying_magnets,
    Hazard.LOOSE_MAGNETS: _loose_magnets,
    Hazard.PINCH: _pinch,
    Hazard.BALANCE: _balance,
    Hazard.HAND_FORCE: _hand_force,
    Hazard.UNEVEN_SPEED: _uneven_speed,
    Hazard.CRANK_SPEED: _crank_speed,
    Hazard.IMPROBABLE_SIZE: _improbable_size,
    Hazard.SATURATED_IRON: _saturated_iron,
    Hazard.SOLID_IRON: _solid_iron,
}
