"""What hangs on the coils, as a builder describes it.

Everything a load holds stands side by side behind its rectifier. What that cannot say goes into
``parts``, a tree of ``series`` and ``parallel`` groups; ``groups`` names parts of the tree that are
wanted more than once. `Load.tree` turns it all into circuit parts.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal

from pydantic import ValidationError

from fieldsim.machine.kinds import Choice, Flag, Kind, Name, Quantity, Whole, problem
from fieldsim.machine.load.circuit_parts import (
    SCHOTTKY,
    SILICON,
    Bridge,
    Capacitor,
    Diode,
    Led,
    Open,
    Parallel,
    Resistor,
    Series,
    Short,
    anti_parallel,
    lamp_strings,
    single_rectifier,
)
from fieldsim.machine.load.circuit_parts import Load as Tree
from fieldsim.machine.load.led_colours import GENERIC_VOLTAGES_V, generic_led
from fieldsim.machine.part import ListOf, Named, Part, made_from, part, problems_of, says

__all__ = ["DiodeSheet", "Lamps", "Load", "LoadCapacitor", "LoadGroup", "LoadPart"]

_CURRENT = Quantity("current", "1 uA", "1000 A")
_FORWARD = Quantity("voltage", "0.1 V", "12 V")
_RATED_VOLTAGE = Quantity("voltage", "0.1 V", "100 kV")
_SERIES_RESISTANCE = Quantity("resistance", "0 ohm", "1 Mohm")
_RESISTANCE = Quantity("resistance", "1 uohm", "1000 Mohm")
_MANY = Whole(1, 10_000)
_MOST_PARTS = 300
_GENERIC = {"silicon": SILICON, "schottky": SCHOTTKY}


def _made(build: Any, *arguments: Any) -> Any:
    """Return ``build(...)``; what it finds impossible becomes a problem of the part."""
    try:
        return build(*arguments)
    except ValueError as error:
        raise problem(str(error)) from error


@part
class DiodeSheet(Part):
    """A rectifier diode by its forward voltage."""

    forward: Annotated[float, _FORWARD, says("forward voltage", "0.05 V")]
    at: Annotated[float, _CURRENT, says("at this current", "10 mA")]

    def check_together(self, in_file: bool) -> None:
        """Refuse values that no diode has."""
        _made(self.diode)

    def diode(self) -> Diode:
        """Return the diode."""
        return Diode.from_forward(self.forward, self.at, series_ohm=0.02 * self.forward / self.at)


class DiodeKind(Kind):
    """A diode by its generic name or by its data sheet."""

    def read(self, value: Any, in_file: bool) -> str | DiodeSheet:
        """Return the name, or the sheet's values."""
        if isinstance(value, DiodeSheet):
            return value
        if isinstance(value, str):
            if value not in _GENERIC:
                raise problem(
                    f'"{value[:40]}" is not a diode; allowed: silicon, schottky, or '
                    "{forward: 0.7 V, at: 100 mA}"
                )
            return value
        try:
            return made_from(DiodeSheet, value, in_file=in_file)
        except ValidationError as error:
            first = problems_of(DiodeSheet, error)[0]
            raise problem(first.text, *first.path) from None

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "`silicon`, `schottky`, `{forward: 0.7 V, at: 100 mA}`"


def _diode(stated: str | DiodeSheet) -> Diode:
    return _GENERIC[stated] if isinstance(stated, str) else stated.diode()


@part
class LoadCapacitor(Part):
    """A capacitor; empty where there is none."""

    optional: ClassVar[bool] = True
    needed_if_given: ClassVar[tuple[str, ...]] = ("value",)
    shorthand: ClassVar[str] = "value"

    value: Annotated[
        float, Quantity("capacitance", "1e-6 uF", "1000 F"), says("capacitance", "10 %", "needed")
    ] = 0.0
    esr: Annotated[float, _SERIES_RESISTANCE, says("resistance in series", "0.1 ohm")] = 0.0
    initial: Annotated[
        float,
        Quantity("voltage", "-10 kV", "10 kV"),
        says("voltage at the start of `--start-up`", "0.5 V"),
    ] = 0.0
    rated: (
        Annotated[float, _RATED_VOLTAGE, says("above it there is a caution", "1 V", "not checked")]
        | None
    ) = None
    polarised: Annotated[
        bool, Flag(), says("whether voltage the wrong way round gives a caution")
    ] = False

    def capacitor(self, name: str = "") -> Capacitor:
        """Return it as a circuit part."""
        return Capacitor(self.value, self.esr, self.initial, self.rated, self.polarised, name)


@part
class Lamps(Part):
    """LEDs: strings of ``series``, ``parallel`` strings, each with a ``resistor``; or none.

    Examples
    --------
    >>> Lamps(colour="white", parallel=6).led().rated_A
    0.02
    """

    optional: ClassVar[bool] = True

    colour: (
        Annotated[
            str,
            Choice(*GENERIC_VOLTAGES_V),
            says(
                "an ordinary 5 mm LED: 2.0 V at 20 mA for red, 3.2 V for white (common practice); "
                "beside `forward` only a name",
                default="`colour`, or `forward` with `at`, is needed",
            ),
        ]
        | None
    ) = None
    forward: (
        Annotated[
            float, _FORWARD, says("forward voltage on its data sheet", "0.1 V", "from `colour`")
        ]
        | None
    ) = None
    at: Annotated[float, _CURRENT, says("at this current", "1 mA", "from `colour`")] | None = None
    rated: (
        Annotated[
            float,
            _CURRENT,
            says("greatest lasting current", "1 mA", "`at`, or 20 mA of a colour"),
        ]
        | None
    ) = None
    peak: (
        Annotated[float, _CURRENT, says("greatest momentary current", "10 mA", "5 times `rated`")]
        | None
    ) = None
    visible: (
        Annotated[
            float,
            _CURRENT,
            says("average current from which it plainly glows", "0.1 mA", "0.5 mA"),
        ]
        | None
    ) = None
    reverse_limit: (
        Annotated[float, _RATED_VOLTAGE, says("reverse voltage that it bears", "1 V", "5 V")] | None
    ) = None
    inner_resistance: (
        Annotated[
            float,
            _SERIES_RESISTANCE,
            says(
                "of each LED; only with `forward` and `at`",
                "1 ohm",
                "such that a tenth of `forward` falls across it",
            ),
        ]
        | None
    ) = None
    series: Annotated[int, _MANY, says("LEDs in each string", "1")] = 1
    parallel: Annotated[int, _MANY, says("strings side by side", "1")] = 1
    resistor: Annotated[float, _SERIES_RESISTANCE, says("in series with each string", "10 ohm")] = (
        0.0
    )
    polarity: Annotated[
        Literal["forward", "reverse", "both"],
        Choice("forward", "reverse", "both"),
        says("`both`: each string has an opposed twin, for both halves of the wave"),
    ] = "forward"

    def check_together(self, in_file: bool) -> None:
        """Refuse lamps whose diode is not known, or twice."""
        if not self and not in_file:
            return
        if self.colour is None and self.forward is None:
            raise problem('lamps need a "colour", or "forward" and "at" from the data sheet')
        if (self.forward is None) != (self.at is None):
            raise problem('"forward" and "at" belong together: a voltage at a current')
        if self.inner_resistance is not None and self.forward is None:
            raise problem(
                '"inner_resistance" goes with "forward" and "at", not with a colour alone'
            )
        _made(self.led)

    def led(self, name: str = "") -> Led:
        """Return one of the LEDs."""
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
        own = {
            "peak_A": self.peak,
            "visible_A": self.visible,
            "reverse_limit_V": self.reverse_limit,
        }
        stated: dict[str, Any] = {key: value for key, value in own.items() if value is not None}
        return replace(led, **stated)

    def tree(self, name: str = "") -> Tree:
        """Return the lamps as circuit parts."""
        led = self.led(name)
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


_PARTS = ListOf("part", _MOST_PARTS)


@part
class LoadPart(Part):
    """A part of a load's tree: exactly one of its kinds, ``count`` times.

    Copies of a ``series`` group follow one another; copies of anything else stand side by side.
    """

    name: Annotated[str, Name(), says("what results call it")] | None = None
    resistor: Annotated[float, _RESISTANCE, says("one resistor", "10 %")] | None = None
    capacitor: Annotated[LoadCapacitor, says("one capacitor", values="as above")] = LoadCapacitor()
    lamps: Annotated[Lamps, says("LEDs", values="as above")] = Lamps()
    diode: Annotated[str | DiodeSheet, DiodeKind(), says("one diode")] | None = None
    bridge: Annotated[
        tuple[LoadPart, ...],
        _PARTS,
        says("side by side behind four silicon diodes", values="a list of parts", default="none"),
    ] = ()
    series: Annotated[
        tuple[LoadPart, ...],
        _PARTS,
        says("one after the other", values="a list of parts", default="none"),
    ] = ()
    parallel: Annotated[
        tuple[LoadPart, ...],
        _PARTS,
        says("side by side", values="a list of parts", default="none"),
    ] = ()
    use: Annotated[str, Name(), says("that group", values="a name under `groups`")] | None = None
    count: Annotated[
        int,
        _MANY,
        says("so many alike: a `series` one after the other, all else side by side", "1"),
    ] = 1
    reverse: Annotated[bool, Flag(), says("turns a `diode` round")] = False
    rated: (
        Annotated[
            float,
            Quantity("power", "1 uW", "1000 kW"),
            says("power that a `resistor` may turn into heat", "0.1 W", "not checked"),
        ]
        | None
    ) = None

    def check_together(self, in_file: bool) -> None:
        """Refuse what is not one kind of part."""
        kinds = ("resistor", "capacitor", "lamps", "diode", "bridge", "series", "parallel", "use")
        given = [kind for kind in kinds if getattr(self, kind)]
        if len(given) != 1:
            found = " and ".join(given) if given else "none"
            raise problem(f"a part is one of {', '.join(kinds)}; here is {found}")
        if self.reverse and self.diode is None:
            raise problem('"reverse" turns a diode; for lamps write "polarity: reverse"')
        if self.rated is not None and self.resistor is None:
            raise problem('"rated" here is a resistor\'s power; nothing else has it')

    def tree(self, groups: dict[str, LoadGroup], inside: tuple[str, ...] = ()) -> Tree:
        """Return the part; ``inside`` are the named groups that it stands in."""
        load = self._single(groups, inside)
        if self.count == 1:
            return load
        return Series((load,), self.count) if self.series else Parallel((load,), self.count)

    def _single(self, groups: dict[str, LoadGroup], inside: tuple[str, ...]) -> Tree:
        name = self.name or ""
        if self.resistor is not None:
            return Resistor(self.resistor, name, self.rated)
        if self.capacitor:
            return self.capacitor.capacitor(name)
        if self.lamps:
            return self.lamps.tree(name)
        if self.use is not None:
            group = _group(self.use, groups, inside)
            return group.tree(groups, (*inside, self.use))
        if self.diode is not None:
            diode = _diode(self.diode)
            return replace(diode, name=name or diode.name, reverse=self.reverse)
        if self.bridge:
            return Bridge(_side_by_side([p.tree(groups, inside) for p in self.bridge]))
        if self.series:
            return Series(tuple(p.tree(groups, inside) for p in self.series))
        return Parallel(tuple(p.tree(groups, inside) for p in self.parallel))


@part
class LoadGroup(LoadPart):
    """A part of the tree under a name, to be used any number of times."""

    identity: ClassVar[str] = "called"

    called: Annotated[str, Name(), says("what the tree uses it by")] = ""


def _group(name: str, groups: dict[str, LoadGroup], inside: tuple[str, ...]) -> LoadGroup:
    if name not in groups:
        known = ", ".join(groups) or "none"
        raise ValueError(f'no group is called "{name}"; there are: {known}')
    if name in inside:
        loop = " in ".join(f'"{n}"' for n in (*inside[inside.index(name) :], name))
        raise ValueError(f"groups contain each other: {loop}")
    return groups[name]


def _check_size(parts: tuple[LoadPart, ...], groups: dict[str, LoadGroup]) -> None:
    """Refuse loads of absurdly many parts, without writing them out.

    Raises
    ------
    ValueError
        If there are too many, a group is unknown, or groups contain each other.
    """
    known: dict[str, int] = {}

    def size(each: LoadPart, inside: tuple[str, ...]) -> int:
        if each.use is not None:
            if each.use not in known:
                known[each.use] = size(_group(each.use, groups, inside), (*inside, each.use))
            return known[each.use]
        inner = each.bridge or each.series or each.parallel
        return sum(size(p, inside) for p in inner) + 4 if inner else 1

    total = sum(size(each, ()) for each in parts)
    if total > _MOST_PARTS:
        raise ValueError(
            f"the groups add up to {total if total < 10**9 else 'billions of'} parts; at most "
            f'{_MOST_PARTS} are allowed: write equal ones as one part with a "count"'
        )


def _side_by_side(loads: list[Tree]) -> Tree:
    return loads[0] if len(loads) == 1 else Parallel(tuple(loads))


@part
class Load(Part):
    """What hangs across a coil or a connection of coils; empty where nothing does.

    Examples
    --------
    >>> Load("pickup", resistor="100 ohm").tree
    Resistor(resistance_ohm=100.0, name='', rated_W=None)
    >>> bool(Load())
    False
    """

    optional: ClassVar[bool] = True
    needed_if_given: ClassVar[tuple[str, ...]] = ("across",)

    across: Annotated[
        str,
        Name(),
        says(
            "what feeds the load",
            default="needed",
            values="a coil or connection that is in no other connection",
        ),
    ] = ""
    terminals: (
        Annotated[
            Literal["open", "short"],
            Choice("open", "short"),
            says(
                "nothing connected, or the ends joined; instead of all below",
                default="what the other keys say",
            ),
        ]
        | None
    ) = None
    rectifier: Annotated[
        Literal["none", "single", "bridge"],
        Choice("none", "single", "bridge"),
        says("no diode, one, or four"),
    ] = "none"
    diode: (
        Annotated[
            str | DiodeSheet,
            DiodeKind(),
            says("of the rectifier; by name 0.75 V or 0.32 V at 100 mA", default="`silicon`"),
        ]
        | None
    ) = None
    resistor: Annotated[float, _RESISTANCE, says("one resistor", "10 %")] | None = None
    capacitor: Annotated[
        LoadCapacitor,
        says("one capacitor", default="none", values="`470 uF`, or keys below"),
    ] = LoadCapacitor()
    lamps: Annotated[Lamps, says("LEDs", default="none", values="keys below")] = Lamps()
    groups: Annotated[
        tuple[LoadGroup, ...],
        Named("group", _MOST_PARTS, least=0, by="called"),
        says(
            "parts to be used by name, any number of times",
            default="none",
            values="names, each a part",
        ),
    ] = ()
    parts: Annotated[
        tuple[LoadPart, ...],
        ListOf("part", _MOST_PARTS, least=0),
        says(
            "what the keys above cannot say",
            default="none",
            values=f"a list, keys below; up to {_MOST_PARTS} parts in all",
        ),
    ] = ()

    def check_together(self, in_file: bool) -> None:
        """Refuse a load of nothing, or that cannot be connected."""
        if not self:
            return
        something = self.resistor is not None or bool(self.capacitor or self.lamps or self.parts)
        if self.terminals is not None and (something or self.rectifier != "none"):
            means = {
                "short": "leaves nothing to anything else",
                "open": "means nothing is connected",
            }[self.terminals]
            raise problem(f'"terminals: {self.terminals}" {means}; remove the rest')
        if self.terminals is None and not something and self.rectifier == "none":
            raise problem(
                'a load needs "lamps", "resistor", "capacitor" or "parts", or "terminals: open"'
            )
        if self.diode is not None and self.rectifier == "none":
            raise problem('"diode" says what the rectifier is made of, but there is no "rectifier"')
        groups = self._groups
        _made(_check_size, (*self.parts, *self.groups), groups)
        _made(lambda: self.tree)
        for group in self.groups:
            _made(group.tree, groups, (group.called,))

    @property
    def _groups(self) -> dict[str, LoadGroup]:
        return {group.called: group for group in self.groups}

    @cached_property
    def tree(self) -> Tree:
        """The load as circuit parts; open terminals where nothing hangs."""
        if self.terminals == "short":
            return Short()
        found: list[Tree] = []
        if self.lamps:
            found.append(self.lamps.tree())
        if self.resistor is not None:
            found.append(Resistor(self.resistor))
        if self.capacitor:
            found.append(self.capacitor.capacitor())
        found += [each.tree(self._groups) for each in self.parts]
        inner = _side_by_side(found) if found else Open()
        diode = _diode("silicon" if self.diode is None else self.diode)
        if self.rectifier == "bridge":
            return Bridge(inner, diode)
        return single_rectifier(inner, diode) if self.rectifier == "single" else inner
