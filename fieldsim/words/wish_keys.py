"""The keys of a wish as tables."""

from __future__ import annotations

from fieldsim.studies.wish import IN_NINE_OF_TEN, WANTS
from fieldsim.words.key_section import KeySection

__all__ = ["wish_sections"]

_WISH = (
    (
        "`machine`",
        "a geometry file, or a shipped machine like `lamp_ring`",
        "needed",
        "to start from; a file is seen from the wish's folder",
    ),
    (
        "`crank_speed`",
        "like `90 rpm`, or a list",
        "`120 rpm`",
        "at all of which what must hold holds, and of which the worst counts",
    ),
    (
        "`may_vary`",
        "paths, each `{from: 1 mm, to: 4 mm}`, with `step` if you like, a list, or `stock`",
        "needed",
        "as `parameters` lists them, or `crank_speed`; without `step` a range has 200 or more",
    ),
    ("`stock`", "keys below", "none", "wire and magnets at hand"),
    ("`must`", "keys below", "none", "what must hold"),
    (
        "`want`",
        ", ".join(f"`{want}`" for want in WANTS),
        "needed",
        "one of them, or two in brackets for the trade-off; light is the power into the lamps, or "
        "into resistors without lamps, effort the average torque of the crank",
    ),
    ("`seed`", "0 to 2147483648", "1", "of the random numbers"),
    ("`tries`", "2 to 100000", "1000", "how many machines are looked at, at most"),
)
_STOCK = (
    (
        "`wire`",
        "sizes with lengths, `{AWG 32: 150 m}`",
        "none",
        "for `coils.NAME.wire.gauge: stock`; all coils of a size share its length",
    ),
    (
        "`magnets`",
        "names, each with the keys of `magnets` and `count`",
        "none",
        "for `magnets.NAME: stock`; without `count` there are always enough",
    ),
)
_MUST = (
    ("`lamps_lit`", "`true`", "none", "every lamp is plainly seen"),
    (
        "`lamps_within_ratings`",
        "`true`",
        "none",
        "none has more than its rated current on average",
    ),
    (
        "`clearance_at_least`",
        "like `1.5 mm`",
        "none",
        "between parts that move past each other",
    ),
    (
        "`crank_force_at_most`",
        "like `20 N`",
        "none",
        "at the handle, the most within a turn; needs `crank`",
    ),
    (
        "`glue_margin_at_least`",
        "like `2`",
        "none",
        "strength of the glue over its load; needs `adhesive`",
    ),
    ("`wire_length_at_most`", "like `150 m`", "none", "of all coils together"),
    (
        "`size_at_most`",
        "like `[100 mm, 100 mm, 40 mm]`",
        "none",
        "along x, y and z, of magnets as they turn, windings and iron",
    ),
    (
        f"`{IN_NINE_OF_TEN}`",
        "`true`",
        "none",
        "all of these hold in nine of ten machines built like it, by `uncertain` and what is "
        "usual; takes some forty times as long",
    ),
)


def wish_sections() -> tuple[KeySection, ...]:
    """Return the sections of a wish, in the order of the file."""
    return (
        KeySection("wish", "A wish", _WISH),
        KeySection("wish.stock", "`stock:` of a wish", _STOCK),
        KeySection("wish.must", "`must:` of a wish", _MUST),
    )
