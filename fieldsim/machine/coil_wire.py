"""The wire of a coil as a builder states it: gauge, enamel, how it lies, how much there is."""

from __future__ import annotations

from dataclasses import fields
from typing import Annotated, Any, ClassVar

from fieldsim.errors import ImpossibleError
from fieldsim.machine.gauge import Gauge, GaugeKind
from fieldsim.machine.kinds import Choice, Kind, Member, Name, Quantity, Whole, problem
from fieldsim.machine.part import ListOf, Part, part, says
from fieldsim.wire.enamel import Enamel
from fieldsim.wire.packing import (
    CopperFill,
    HexagonalLayers,
    Packing,
    RandomWinding,
    SquareLayers,
    WireFill,
)
from fieldsim.wire.round_wire import Wire, awg_wire, metric_wire
from fieldsim.wire.sizes import swg_wire
from fieldsim.wire.winding_spec import Spool as SpoolAtHand

__all__ = ["CoilWire", "SharedSpool", "Spool"]

_BY_WORD: dict[str, Packing] = {
    packing.name: packing for packing in (SquareLayers(), HexagonalLayers(), RandomWinding())
}
_FILLS: dict[str, type[CopperFill | WireFill]] = {
    "copper_fill": CopperFill,
    "wire_fill": WireFill,
}
_PACKINGS = (
    f"{', '.join(_BY_WORD)}, {{copper_fill: 45 %}} or {{wire_fill: 70 %}} "
    "(a share of the winding's section)"
)
_SHARE = Quantity("fraction", "0 %", "100 %")


class PackingKind(Kind):
    """How wire lies: in layers, at random, or as a share of the section."""

    options = tuple(_BY_WORD)
    """The words."""

    def read(self, value: Any, in_file: bool) -> Packing:
        """Return the packing."""
        known = SquareLayers | HexagonalLayers | RandomWinding | CopperFill | WireFill
        if isinstance(value, known):
            return value
        if isinstance(value, str) and value in _BY_WORD:
            return _BY_WORD[value]
        if isinstance(value, dict) and len(value) == 1:
            key, share = next(iter(value.items()))
            if isinstance(key, str) and key in _FILLS:
                return _FILLS[key](_SHARE.read(share, in_file))
        shown = f'"{value[:40]}"' if isinstance(value, str) else "this"
        raise problem(f"{shown} is not a packing; allowed: {_PACKINGS}")

    def plain(self, value: Packing) -> Any:
        """Return the word, or the fill as a key with its share."""
        if isinstance(value, CopperFill | WireFill):
            key = next(key for key, kind in _FILLS.items() if type(value) is kind)
            return {key: value.fraction}
        return value.name

    def written(self, value: Packing) -> Any:
        """Return the packing as a file has it."""
        found = self.plain(value)
        if isinstance(found, str):
            return found
        return {key: _SHARE.written(share) for key, share in found.items()}

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        words = ", ".join(f"`{word}`" for word in self.options)
        return f"{words}, `{{copper_fill: 45 %}}`, `{{wire_fill: 70 %}}`"


class _Filled(Choice):
    """The one word of ``fill``."""

    def read(self, value: Any, in_file: bool) -> str:
        """Return it."""
        if value != "section":
            raise problem('"fill" has one value: section; leave the key out otherwise')
        return "section"


@part
class Spool(Part):
    """A spool of wire, or several alike; new unless it says how much is used or left.

    As an entry of a coil's spools it may also be one that coils share, by its name alone.

    Examples
    --------
    >>> Spool(mass="250 g", used="40 %").at_hand().left
    0.6
    """

    shorthand: ClassVar[str] = "use"
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = (("used", "left"), ("mass", "length"))

    mass: (
        Annotated[
            float,
            Quantity("mass", "0.1 g", "1000 kg"),
            says("of a full spool", "10 g", "`mass` or `length` is needed"),
        ]
        | None
    ) = None
    length: (
        Annotated[
            float,
            Quantity("length", "1 mm", "1000 km"),
            says("wire on a full spool", "10 m", "`mass` or `length` is needed"),
        ]
        | None
    ) = None
    reel: (
        Annotated[
            float,
            Quantity("mass", "0 g", "1000 kg"),
            says(
                "of the empty reel, if `mass` was weighed with it",
                "1 g",
                "0 g",
                "mass, less than `mass`",
            ),
        ]
        | None
    ) = None
    used: (
        Annotated[
            float,
            _SHARE,
            says("share of the wire that is gone", "10 %", "0 %, with something left"),
        ]
        | None
    ) = None
    left: (
        Annotated[
            float,
            _SHARE,
            says("share of the wire that is still there; instead of `used`", "10 %", "100 %"),
        ]
        | None
    ) = None
    count: Annotated[int, Whole(1, 1000), says("so many alike", "1")] = 1
    use: (
        Annotated[
            str,
            Name(),
            says("that spool, shared with other coils; alone", values="a name under `spools`"),
        ]
        | None
    ) = None

    def check_together(self, in_file: bool) -> None:
        """Refuse a spool of which too little or too much is stated."""
        if self.use is not None:
            if any(getattr(self, f.name) != f.default for f in fields(self) if f.name != "use"):
                raise problem("a shared spool says itself what is on it; name it alone")
            return
        if (self.mass is None) == (self.length is None):
            raise problem('a spool needs one of "mass" and "length"')
        if self.used is not None and self.left is not None:
            raise problem('state one of "used" and "left", not both')
        if self._share_left() <= 0:
            raise problem("nothing is left on this spool; leave it out")
        if self.reel is not None:
            if self.mass is None:
                raise problem('"reel" is the mass of the empty reel, and needs "mass"')
            if self.reel >= self.mass:
                raise problem(
                    f"the empty reel, {self.reel * 1e3:.4g} g, must be lighter than the spool, "
                    f"{self.mass * 1e3:.4g} g"
                )

    def _share_left(self) -> float:
        return self.left if self.left is not None else 1.0 - (self.used or 0.0)

    def at_hand(self) -> SpoolAtHand:
        """Return the wire on it; ``reel`` is taken off ``mass``."""
        mass_kg = None if self.mass is None else self.mass - (self.reel or 0.0)
        return SpoolAtHand(mass_kg, self.length, self._share_left(), self.count)


@part
class SharedSpool(Spool):
    """A spool under a name, for coils to be wound from.

    Examples
    --------
    >>> SharedSpool(length="300 m", left="50 %", called="red").at_hand().wire_m(3e-4)
    150.0
    """

    shorthand: ClassVar[str] = ""
    identity: ClassVar[str] = "called"

    use: str | None = None  # of a coil's entry alone
    called: Annotated[str, Name(), says("what coils use it by")] = ""


@part
class CoilWire(Part):
    """What a coil is wound with; empty where the wire is not known.

    Examples
    --------
    >>> CoilWire("AWG 32", fill="section").wire.name
    'AWG 32 single'
    >>> bool(CoilWire())
    False
    """

    optional: ClassVar[bool] = True
    needed_if_given: ClassVar[tuple[str, ...]] = ("gauge",)
    elsewhere: ClassVar[dict[str, str]] = dict.fromkeys(
        ("turns", "build", "opening", "centre", "axis", "side"), "beside wire, in the coil itself"
    )
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = (("enamel", "overall"),)

    gauge: Annotated[Gauge, GaugeKind(), says("size of the copper", "1 gauge", "needed")] | None = (
        None
    )
    enamel: (
        Annotated[
            Enamel,
            Member({grade.value: grade for grade in Enamel}),
            says("how thick the enamel is", default="`single` for AWG, else `grade 1`"),
        ]
        | None
    ) = None
    overall: (
        Annotated[
            float,
            Quantity("length", "0.04 mm", "5 mm"),
            says(
                "diameter over the enamel as measured; instead of `enamel`",
                "0.01 mm",
                "from `enamel`",
            ),
        ]
        | None
    ) = None
    packing: (
        Annotated[
            Packing,
            PackingKind(),
            says(
                "how the wire lies; `random` is wound by hand without care, 60 % wire (common "
                "practice); a fill is the share of the section that is copper, or wire with its "
                "enamel",
                default="evenly spread if `turns` and `build` are both given, else `square layers`",
            ),
        ]
        | None
    ) = None
    fill: (
        Annotated[str, _Filled("section"), says("as many turns as `build` holds", default="not")]
        | None
    ) = None
    length: (
        Annotated[
            float,
            Quantity("length", "1 mm", "1000 km"),
            says("wire at hand", "10 m", "not limited"),
        ]
        | None
    ) = None
    spools: Annotated[
        tuple[Spool, ...],
        ListOf("spool", least=0),
        says(
            "wire at hand, instead of `length`; by name those that coils share",
            default="not limited",
            values="a list, keys below",
        ),
    ] = ()

    def check_together(self, in_file: bool) -> None:
        """Refuse wire that is not known, or in two ways."""
        if self.gauge is None and (self or in_file):
            raise problem('an empty value; write the gauge like "AWG 32" or "0.2 mm"', "gauge")
        if self.enamel is not None and self.overall is not None:
            raise problem('state one of "enamel" and "overall" (diameter as measured), not both')
        if self.length is not None and self.spools:
            raise problem('state the wire at hand by one of "length" and "spools", not both')
        if self.shared and len(self.shared) < len(self.spools):
            raise problem("name shared spools, or state spools of its own, not both", "spools")
        if len(set(self.shared)) < len(self.shared):
            raise problem("a shared spool is named twice", "spools")
        if self.gauge is not None:
            try:
                _ = self.wire
            except ImpossibleError as error:
                raise problem(str(error)) from None

    @property
    def shared(self) -> tuple[str, ...]:
        """Names of the shared spools that it comes from."""
        return tuple(spool.use for spool in self.spools if spool.use is not None)

    @property
    def wire(self) -> Wire:
        """The wire itself; enamel not stated is ``single`` for AWG, else ``grade 1``.

        Raises
        ------
        ImpossibleError
            If no wire is stated, or its overall diameter is not above the copper's.
        """
        if self.gauge is None:
            raise ImpossibleError("no wire is stated; add for instance wire: {gauge: AWG 32}")
        gauge, bare_m = self.gauge, self.gauge.bare_diameter_m
        if self.overall is not None:
            size = str(gauge) if gauge.series else f"{bare_m * 1e3:.4g} mm"
            return Wire(f"{size}, {self.overall * 1e3:.4g} mm overall", bare_m, self.overall)
        if gauge.awg is not None:
            return awg_wire(gauge.awg, self.enamel or Enamel.SINGLE)
        if gauge.swg is not None:
            return swg_wire(gauge.swg, self.enamel or Enamel.GRADE_1)
        return metric_wire(bare_m, self.enamel or Enamel.GRADE_1)
