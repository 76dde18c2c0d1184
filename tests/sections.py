"""Single parts from the text of their section, and what is said of a section that is wrong."""

from __future__ import annotations

from typing import TypeVar

import pytest
import yaml
from pydantic import ValidationError

from fieldsim.machine.part import Part, Problem, made_from, problems_of

P = TypeVar("P", bound=Part)


def section(kind: type[P], text: str) -> P:
    """Return the part that a section of a file describes."""
    return made_from(kind, yaml.safe_load(text), in_file=True)


def complaint(kind: type[Part], text: str) -> Problem:
    """Return the first thing that is wrong with a section of a file; its text is one line."""
    with pytest.raises(ValidationError) as caught:
        section(kind, text)
    first = problems_of(kind, caught.value)[0]
    assert first.text
    assert "\n" not in first.text
    return first
