"""What iron is made of: by the names of the trade, or by numbers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Annotated, Any

from pydantic import ValidationError

from fieldsim.machine.kinds import Kind, Number, Quantity, problem
from fieldsim.machine.part import Part, made_from, part, problems_of, says, tree_of

__all__ = ["MATERIALS", "Material", "MaterialKind", "material"]


@part
class Material(Part):
    """A magnetic material: linear up to its knee, without hysteresis.

    Examples
    --------
    >>> Material(200, "1.6 T").susceptibility
    199.0
    """

    permeability: Annotated[
        float, Number(1, 1_000_000), says("relative to air, in weak fields", "50 %")
    ]
    saturation: (
        Annotated[
            float,
            Quantity("flux density", "0.01 T", "3 T"),
            says("magnetisation that it cannot pass, as a flux density", "0.1 T", "not checked"),
        ]
        | None
    ) = None
    resistivity: (
        Annotated[
            float,
            Quantity("resistivity", "0.001 uohm*m", "1000 Mohm*m"),
            says("of the metal, for its eddy currents", "10 %", "no eddy currents"),
        ]
        | None
    ) = None

    @property
    def susceptibility(self) -> float:
        """Magnetisation over field inside, in weak fields."""
        return self.permeability - 1


_NUMBERS: dict[str, tuple[float, ...]] = {
    "mild steel": (500, 2.0, 0.15e-6),
    "soft iron": (2000, 2.15, 0.1e-6),
    "ferrite rod": (250, 0.35),
    "laminated steel": (3000, 1.9),
}


@cache
def _named(name: str) -> Material:
    return Material(*_NUMBERS[name])


class _Materials(Mapping[str, Material]):
    """Materials by name, each made when it is first asked for: checking one loads the units."""

    def __getitem__(self, name: str) -> Material:
        return _named(name)

    def __iter__(self) -> Iterator[str]:
        return iter(_NUMBERS)

    def __len__(self) -> int:
        return len(_NUMBERS)


MATERIALS: Mapping[str, Material] = _Materials()
"""Typical values in the weak fields of small machines: common practice, no published source.

A bolt of mild steel lies anywhere between 100 and 1000; how much of that matters depends on the
shape, for the field of its ends limits what a short piece takes up. Sheets of laminated steel are
taken as thin enough to have no eddy currents, ferrite as an insulator.
"""


class MaterialKind(Kind):
    """A material by its name in the trade or by numbers."""

    options = tuple(MATERIALS)

    def read(self, value: Any, in_file: bool) -> str | Material:
        """Return the name, or the numbers."""
        if isinstance(value, Material):
            return value
        if isinstance(value, str):
            if value not in MATERIALS:
                raise problem(
                    f'"{value[:40]}" is not a material; allowed: {", ".join(MATERIALS)}, or '
                    "numbers like {permeability: 200, saturation: 1.6 T}"
                )
            return value
        try:
            return made_from(Material, value, in_file=in_file)
        except ValidationError as error:
            first = problems_of(Material, error)[0]
            raise problem(first.text, *first.path) from None

    def written(self, value: str | Material) -> Any:
        """Return the name, or the numbers with their units."""
        if isinstance(value, str):
            return value
        return tree_of(
            value, lambda key, each: each if key.kind is None else key.kind.written(each)
        )

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        names = ", ".join(f"`{name}`" for name in MATERIALS)
        return f"{names}, `{{permeability: 200, saturation: 1.6 T, resistivity: 0.15 uohm*m}}`"


def material(stated: str | Material) -> Material:
    """Return the material that a part states by name or by numbers."""
    return MATERIALS[stated] if isinstance(stated, str) else stated
