"""The ``load`` section of a geometry file.

::

    load:
      across: pickup                 # a coil, or a connection of coils
      rectifier: bridge              # none (the default), bridge or single
      diode: silicon                 # silicon, schottky, or {forward: 0.7 V, at: 100 mA}
      capacitor: {value: 470 uF, esr: 0.2 ohm}
      lamps: {colour: white, series: 2, parallel: 12}

Everything the section holds hangs side by side behind the rectifier. What that cannot say goes
into ``parts``, a tree of ``series`` and ``parallel`` groups; ``groups`` names parts of the tree
that are wanted more than once::

      groups:
        string: {series: [{lamps: {colour: red}}, {resistor: 100 ohm}]}
      parts:
        - {use: string, count: 6}    # six of them side by side
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    SILICON,
    Bridge,
    Capacitor,
    Diode,
    Led,
    Load,
    Open,
    Parallel,
    Resistor,
    Series,
    Short,
    anti_parallel,
    lamp_strings,
    single_rectifier,
)
from fieldsim.machine.load.led_colours import GENERIC_VOLTAGES_V, generic_led
from fieldsim.machine_file.section import Count, Name, Section, problem, quantity_field

__all__ = ["CapacitorSection", "DiodeSection", "LampSection", "LoadSection", "PartSection"]

Resistance = Annotated[float, quantity_field("resistance", "1 uohm", "1000 Mohm")]
SeriesResistance = Annotated[float, quantity_field("resistance", "0 ohm", "1 Mohm")]
Capacitance = Annotated[float, quantity_field("capacitance", "1e-6 uF", "1000 F")]
ForwardVoltage = Annotated[float, quantity_field("voltage", "0.1 V", "12 V")]
Voltage = Annotated[float, quantity_field("voltage", "-10 kV", "10 kV")]
RatedVoltage = Annotated[float, quantity_field("voltage", "0.1 V", "100 kV")]
Current = Annotated[float, quantity_field("current", "1 uA", "1000 A")]
Power = Annotated[float, quantity_field("power", "1 uW", "1000 kW")]
Many = Annotated[Count, Field(ge=1, le=10_000)]

_MOST_PARTS = 300


def _word(*allowed: str) -> Any:
    def check(value: Any) -> Any:
        if not isinstance(value, str) or value not in allowed:
            shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
            raise problem(f"{shown} is not one of: {', '.join(allowed)}")
        return value

    return BeforeValidator(check)


def _made(build: Any, *arguments: Any, **named: Any) -> Any:
    """Return ``build(...)``; what it finds impossible becomes a problem of the section."""
    try:
        return build(*arguments, **named)
    except ValueError as error:
        raise problem(str(error)) from error


class DiodeSection(Section):
    """A rectifier diode by its forward voltage."""

    forward: ForwardVoltage
    at: Current

    def to_diode(self) -> Diode:
        """Return the diode."""
        return Diode.from_forward(self.forward, self.at, series_ohm=0.02 * self.forward / self.at)


def _named_diode(value: Any) -> Any:
    if isinstance(value, str):
        if value not in ("silicon", "schottky"):
            raise problem(
                f'"{value[:40]}" is not a diode; allowed: silicon, schottky, or '
                "{forward: 0.7 V, at: 100 mA}"
            )
        return SILICON if value == "silicon" else SCHOTTKY
    section = DiodeSection.model_validate(value)
    return _made(section.to_diode)


AnyDiode = Annotated[Diode, BeforeValidator(_named_diode)]


class CapacitorSection(Section):
    """A capacitor."""

    value: Capacitance
    esr: SeriesResistance = 0.0
    initial: Voltage = 0.0
    rated: RatedVoltage | None = None
    polarised: bool = False

    def to_capacitor(self, name: str = "") -> Capacitor:
        """Return the capacitor."""
        return Capacitor(self.value, self.esr, self.initial, self.rated, self.polarised, name)


def _bare_capacitance(value: Any) -> Any:
    return {"value": value} if isinstance(value, str) else value


AnyCapacitor = Annotated[CapacitorSection, BeforeValidator(_bare_capacitance)]


class LampSection(Section):
    """LEDs: strings of ``series``, ``parallel`` strings, each with a ``resistor`` if given."""

    colour: Annotated[str, _word(*GENERIC_VOLTAGES_V)] | None = None
    forward: ForwardVoltage | None = None
    at: Current | None = None
    rated: Current | None = None
    peak: Current | None = None
    visible: Current | None = None
    reverse_limit: RatedVoltage | None = None
    inner_resistance: SeriesResistance | None = None
    series: Many = 1
    parallel: Many = 1
    resistor: SeriesResistance = 0.0
    polarity: Annotated[
        Literal["forward", "reverse", "both"], _word("forward", "reverse", "both")
    ] = "forward"

    @model_validator(mode="after")
    def _one_curve(self) -> LampSection:
        if self.colour is None and self.forward is None:
            raise problem('lamps need a "colour", or "forward" and "at" from the data sheet')
        if (self.forward is None) != (self.at is None):
            raise problem('"forward" and "at" belong together: a voltage at a current')
        if self.inner_resistance is not None and self.forward is None:
            raise problem(
                '"inner_resistance" goes with "forward" and "at", not with a colour alone'
            )
        _made(self.to_led)
        return self

    def to_led(self, name: str = "") -> Led:
        """Return one of the LEDs."""
        from dataclasses import replace

        if self.forward is not None and self.at is not None:
            led = Led.from_data_sheet(
                self.forward,
                self.at,
                self.rated,
                series_ohm=self.inner_resistance,
                colour=self.colour or "",
                name=name,
            )
        else:
            led = generic_led(self.colour or "", name)
            rated = led.rated_A if self.rated is None else self.rated
            led = replace(led, rated_A=rated, peak_A=5 * rated)
        return replace(
            led,
            peak_A=led.peak_A if self.peak is None else self.peak,
            visible_A=led.visible_A if self.visible is None else self.visible,
            reverse_limit_V=led.reverse_limit_V
            if self.reverse_limit is None
            else self.reverse_limit,
        )

    def to_load(self, name: str = "") -> Load:
        """Return the lamps as a load; ``polarity: both`` makes every string an opposed pair."""
        led = self.to_led(name)
        if self.polarity == "forward":
            return lamp_strings(led, self.series, self.parallel, self.resistor)
        if self.polarity == "reverse":
            return lamp_strings(led.reversed(), self.series, self.parallel, self.resistor)
        if self.series == 1 and self.resistor == 0:
            return anti_parallel(led, self.parallel)
        return Parallel(
            (
                lamp_strings(led, self.series, 1, self.resistor),
                lamp_strings(led.reversed(), self.series, 1, self.resistor),
            ),
            self.parallel,
        )


class PartSection(Section):
    """A part of the tree: one of its kinds, ``count`` times.

    Copies of a ``series`` group follow one another; copies of anything else stand side by side.
    """

    name: Name | None = None
    resistor: Resistance | None = None
    capacitor: AnyCapacitor | None = None
    lamps: LampSection | None = None
    diode: AnyDiode | None = None
    bridge: list[PartSection] | None = None
    series: list[PartSection] | None = None
    parallel: list[PartSection] | None = None
    use: Name | None = None
    count: Many = 1
    reverse: bool = False
    rated: Power | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> PartSection:
        kinds = ("resistor", "capacitor", "lamps", "diode", "bridge", "series", "parallel", "use")
        given = [kind for kind in kinds if getattr(self, kind) is not None]
        if len(given) != 1:
            found = " and ".join(given) if given else "none"
            raise problem(f"a part is one of {', '.join(kinds)}; here is {found}")
        for kind in ("bridge", "series", "parallel"):
            if getattr(self, kind) == []:
                raise problem(f'"{kind}" needs at least one part')
        if self.reverse and self.diode is None:
            raise problem('"reverse" turns a diode; for lamps write "polarity: reverse"')
        if self.rated is not None and self.resistor is None:
            raise problem('"rated" here is a resistor\'s power; nothing else has it')
        return self

    def to_load(self, groups: dict[str, PartSection], inside: tuple[str, ...] = ()) -> Load:
        """Return the part; ``inside`` are the named groups that it stands in."""
        load = self._single(groups, inside)
        if self.count == 1:
            return load
        return Series((load,), self.count) if self.series else Parallel((load,), self.count)

    def _single(self, groups: dict[str, PartSection], inside: tuple[str, ...]) -> Load:
        from dataclasses import replace

        name = self.name or ""
        if self.resistor is not None:
            return Resistor(self.resistor, name, self.rated)
        if self.capacitor is not None:
            return self.capacitor.to_capacitor(name)
        if self.lamps is not None:
            return self.lamps.to_load(name)
        if self.use is not None:
            group = _group(self.use, groups, inside)
            return group.to_load(groups, (*inside, self.use))
        if isinstance(self.diode, Diode):
            return replace(self.diode, name=name or self.diode.name, reverse=self.reverse)
        if self.bridge is not None:
            return Bridge(_side_by_side([p.to_load(groups, inside) for p in self.bridge]))
        if self.series is not None:
            return Series(tuple(p.to_load(groups, inside) for p in self.series))
        return Parallel(tuple(p.to_load(groups, inside) for p in self.parallel or []))


def _group(name: str, groups: dict[str, PartSection], inside: tuple[str, ...]) -> PartSection:
    if name not in groups:
        known = ", ".join(groups) or "none"
        raise ValueError(f'no group is called "{name}"; there are: {known}')
    if name in inside:
        loop = " in ".join(f'"{n}"' for n in (*inside[inside.index(name) :], name))
        raise ValueError(f"groups contain each other: {loop}")
    return groups[name]


def _check_size(parts: list[PartSection], groups: dict[str, PartSection]) -> None:
    """Refuse loads of absurdly many parts, without writing them out.

    Raises
    ------
    ValueError
        If there are too many, a group is unknown, or groups contain each other.
    """
    known: dict[str, int] = {}

    def size(part: PartSection, inside: tuple[str, ...]) -> int:
        if part.use is not None:
            if part.use not in known:
                known[part.use] = size(_group(part.use, groups, inside), (*inside, part.use))
            return known[part.use]
        inner = part.bridge or part.series or part.parallel
        return sum(size(p, inside) for p in inner) + 4 if inner else 1

    total = sum(size(part, ()) for part in parts)
    if total > _MOST_PARTS:
        raise ValueError(
            f"the groups add up to {total if total < 10**9 else 'billions of'} parts; at most "
            f'{_MOST_PARTS} are allowed: write equal ones as one part with a "count"'
        )


def _side_by_side(loads: list[Load]) -> Load:
    return loads[0] if len(loads) == 1 else Parallel(tuple(loads))


class LoadSection(Section):
    """What hangs across a coil or a connection of coils."""

    across: Name
    terminals: Annotated[Literal["open", "short"], _word("open", "short")] | None = None
    rectifier: Annotated[Literal["none", "bridge", "single"], _word("none", "bridge", "single")] = (
        "none"
    )
    diode: AnyDiode | None = None
    resistor: Resistance | None = None
    capacitor: AnyCapacitor | None = None
    lamps: LampSection | None = None
    groups: dict[Name, PartSection] = Field(default_factory=dict)
    parts: list[PartSection] = Field(default_factory=list)

    @model_validator(mode="after")
    def _whole(self) -> LoadSection:
        something = self.resistor is not None or self.capacitor is not None
        something = something or self.lamps is not None or bool(self.parts)
        if self.terminals == "short" and (something or self.rectifier != "none"):
            raise problem('"terminals: short" leaves nothing to anything else; remove the rest')
        if self.terminals == "open" and (something or self.rectifier != "none"):
            raise problem('"terminals: open" means nothing is connected; remove the rest')
        if self.terminals is None and not something and self.rectifier == "none":
            raise problem(
                'a load needs "lamps", "resistor", "capacitor" or "parts", or "terminals: open"'
            )
        if self.diode is not None and self.rectifier == "none":
            raise problem('"diode" says what the rectifier is made of, but there is no "rectifier"')
        _made(_check_size, [*self.parts, *self.groups.values()], self.groups)
        _made(self.to_load)
        for name, group in self.groups.items():
            _made(group.to_load, self.groups, (name,))
        return self

    def to_load(self) -> Load:
        """Return the load as dataclasses.

        Examples
        --------
        >>> section = LoadSection.model_validate({"across": "pickup", "resistor": "100 ohm"})
        >>> section.to_load()
        Resistor(resistance_ohm=100.0, name='', rated_W=None)
        """
        if self.terminals == "short":
            return Short()
        found: list[Load] = []
        if self.lamps is not None:
            found.append(self.lamps.to_load())
        if self.resistor is not None:
            found.append(Resistor(self.resistor))
        if self.capacitor is not None:
            found.append(self.capacitor.to_capacitor())
        found += [part.to_load(self.groups) for part in self.parts]
        inner = _side_by_side(found) if found else Open()
        diode = SILICON if self.diode is None else self.diode
        if self.rectifier == "bridge":
            return Bridge(inner, diode)
        return single_rectifier(inner, diode) if self.rectifier == "single" else inner
