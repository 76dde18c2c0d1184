"""The ``connections`` section of a geometry file.

::

    connections:
      pair: {series: [left, -right]}     # one after the other; -right: its ends swapped (opposing)
      bank: {parallel: [pair, third]}    # ends joined; members are coils or other connections
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import BeforeValidator, TypeAdapter, model_validator

from fieldsim.machine.connections import (
    CoilConnection,
    Connections,
    Joining,
    Member,
    make_connections,
)
from fieldsim.machine_file.section import Name, Section, problem

__all__ = ["ConnectionSection", "ConnectionsSection", "connections_from_sections"]

_MOST_MEMBERS = 1000


def _member(value: Any) -> Member:
    reverse = isinstance(value, str) and value.startswith("-")
    bare = value[1:].strip() if reverse else value
    return Member(TypeAdapter(Name).validate_python(bare), reverse)


def _members(value: Any) -> Any:
    if not isinstance(value, list):
        raise problem("must be a list of at least two names, like [left, -right]")
    if not 2 <= len(value) <= _MOST_MEMBERS:
        raise problem(
            f"has {len(value)} names; allowed: a list of 2 to {_MOST_MEMBERS}, like [left, -right]"
        )
    return value


Members = Annotated[list[Annotated[Member, BeforeValidator(_member)]], BeforeValidator(_members)]


class ConnectionSection(Section):
    """Coils, or other connections, joined in series or in parallel."""

    series: Members | None = None
    parallel: Members | None = None

    @model_validator(mode="after")
    def _one_way(self) -> ConnectionSection:
        if (self.series is None) == (self.parallel is None):
            raise problem('a connection needs one of "series" and "parallel"; nest them by name')
        return self

    def to_connection(self, name: str) -> CoilConnection:
        """Return the connection under the name it has in the file."""
        joining = Joining.PARALLEL if self.series is None else Joining.SERIES
        return CoilConnection(name, joining, tuple(self.series or self.parallel or ()))


ConnectionsSection = dict[Name, ConnectionSection]


def connections_from_sections(
    sections: Mapping[str, ConnectionSection], coils: Sequence[str]
) -> Connections:
    """Return the connections of a file, checked against the names of its coils.

    Raises
    ------
    BadConnectionError
        As `fieldsim.machine.connections.make_connections`; its ``path`` is below ``connections``.

    Examples
    --------
    >>> section = ConnectionSection.model_validate({"parallel": ["left", "-right"]})
    >>> connections_from_sections({"both": section}, ["left", "right"]).outermost
    ('both',)
    """
    stated = [section.to_connection(name) for name, section in sections.items()]
    return make_connections(stated, coils)
