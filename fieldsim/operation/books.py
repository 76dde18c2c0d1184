"""What is known already of other machines."""

from __future__ import annotations

from dataclasses import dataclass, field

from fieldsim.field.inductance.matrix import InductanceBook
from fieldsim.field.linkage.curve_book import CurveBook

__all__ = ["Books"]


@dataclass(frozen=True)
class Books:
    """Linkage curves and inductances, by what stands how; they grow as they are asked.

    Parameters
    ----------
    curves
        Of tracks and coils.
    inductances
        Of windings and between them.
    """

    curves: CurveBook = field(default_factory=CurveBook, repr=False)
    inductances: InductanceBook = field(default_factory=InductanceBook, repr=False)
