"""What iron that saturates leaves of the voltage."""

from __future__ import annotations

from fieldsim.operation.saturated_emf import SaturatedEmf
from fieldsim.words.layout import Block, Table
from fieldsim.words.numbers import change, number, share

__all__ = ["saturation_blocks"]

_HEADER = [
    "coil", "peak V", "RMS V", "swing mWb", "peak change", "RMS change", "swing change",
    "RMS give or take",
]  # fmt: skip


def saturation_blocks(found: SaturatedEmf) -> list[Block]:
    """Return the figures with iron that saturates, and by how much they differ, as a table."""
    rows = []
    for name, less in found.changes.items():
        now = found.told[name]
        rows.append(
            [
                name,
                number(now.peak_V, 4),
                number(now.rms_V, 4),
                number(now.peak_to_peak_linkage_Wb * 1e3, 4),
                *(change(each) for each in (less.peak_share, less.rms_share, less.swing_share)),
                share(less.rms_share_error, 2),
            ]
        )
    return [
        "",
        f"With iron that saturates, in {found.cells} cells at {found.angles} angles, and by how "
        "much that changes:",
        "",
        Table(_HEADER, rows),
        "",
        "What saturation takes is that at rest, without the coils' own currents."
        f"{_other_speed(found)}",
    ]


def _other_speed(found: SaturatedEmf) -> str:
    if found.speed_shift == 0.0:
        return ""
    return (
        f" Speeds are taken up to {share(found.speed_shift, 2)} off, so that the rotors soon come "
        "back together."
    )
