"""What the page asks: a machine's text, what is changed about it, and how it is run."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field
from typing import Any, Literal

from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine_file.reader import read_text

__all__ = ["PARTS", "Draft", "Part", "draft_of_json"]

Part = Literal["light", "meters", "effort", "iron", "advice"]
"""What of the answer is wanted: at once, soon after, and when the hand rests."""

PARTS: tuple[Part, ...] = ("light", "meters", "effort", "iron", "advice")
_MOST_CHANGES = 100
_RPM = 0.1, 10_000.0


@dataclass(frozen=True)
class Draft:
    """A machine on the page.

    Parameters
    ----------
    text
        Of its file.
    changes
        By path, as `fieldsim.machine.parameters.changed` takes them.
    crank_rpm
        Speed of the crank [turns a minute].
    """

    text: str = field(repr=False)
    changes: dict[str, Any] = field(default_factory=dict)
    crank_rpm: float = 90.0

    @property
    def crank_rad_per_s(self) -> float:
        """Speed of the crank [rad/s]."""
        return self.crank_rpm * math.pi / 30

    def changed(self, machine: Machine) -> Machine:
        """Return the machine of the text with what is changed about it; parts may collide.

        Raises
        ------
        ImpossibleError
            If a change is not allowed.
        """
        return machine.changed(self.changes) if self.changes else machine

    def machine(self) -> Machine:
        """Return the machine, changed; parts may collide.

        Raises
        ------
        GeometryError
            If the text is wrong.
        ImpossibleError
            If a change is not allowed.
        """
        return self.changed(read_text(self.text))


def draft_of_json(body: bytes) -> tuple[Draft, dict[str, Any]]:
    """Return the draft that a page sent, and what else it sent.

    Raises
    ------
    ImpossibleError
        If it is not of this form; in one line.
    """
    try:
        sent = json.loads(body)
    except (ValueError, RecursionError):
        raise ImpossibleError("what was sent is not JSON") from None
    if not isinstance(sent, dict) or not isinstance(sent.get("text"), str):
        raise ImpossibleError("what was sent has no machine's text")
    changes, rpm = sent.get("changes", {}), sent.get("crank_rpm", 90.0)
    if not isinstance(changes, dict) or len(changes) > _MOST_CHANGES:
        raise ImpossibleError(f"changes must be up to {_MOST_CHANGES} values by path")
    if isinstance(rpm, bool) or not isinstance(rpm, int | float) or not math.isfinite(rpm):
        raise ImpossibleError("the crank speed must be a number of turns a minute")
    if not _RPM[0] <= abs(rpm) <= _RPM[1]:
        raise ImpossibleError(
            f"a crank speed of {rpm:g} rpm is not allowed: {_RPM[0]:g} to {_RPM[1]:,.0f} either way"
        )
    return Draft(sent["text"], {**changes}, float(rpm)), sent
