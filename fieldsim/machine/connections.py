"""How coils are joined, by name: in series or in parallel, either way round, nested.

Seen from outside a coil has two ends, the first and the second; current that enters its load from
the first end runs along the coil's axis sense. Swapping the ends reverses it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Annotated, Any, ClassVar

from pydantic_core import PydanticCustomError

from fieldsim.errors import ImpossibleError
from fieldsim.machine.kinds import Kind, Name, problem
from fieldsim.machine.part import Part, part, says

__all__ = [
    "BadConnectionError",
    "CoilRef",
    "Connection",
    "Connections",
    "InParallel",
    "InSeries",
    "Member",
    "Source",
    "coil_refs",
    "make_connections",
]

_DEEPEST = 20


@dataclass(frozen=True)
class Member:
    """A coil or another connection by name; ``reverse`` swaps its ends."""

    name: str
    reverse: bool = False

    def __str__(self) -> str:
        """Return it as a file has it."""
        return f"-{self.name}" if self.reverse else self.name


class Members(Kind):
    """Names of coils or connections, each with ``-`` in front if its ends are swapped."""

    _most = 1000
    _name = Name()

    def read(self, value: Any, in_file: bool) -> tuple[Member, ...]:
        """Return the members."""
        if not isinstance(value, list | tuple):
            raise problem("must be a list of at least two names, like [left, -right]")
        if not value and not in_file:
            return ()
        if not 2 <= len(value) <= self._most:
            raise problem(
                f"has {len(value)} names; allowed: a list of 2 to {self._most}, like [left, -right]"
            )
        return tuple(self._member(each, in_file, place) for place, each in enumerate(value))

    def _member(self, value: Any, in_file: bool, place: int) -> Member:
        if isinstance(value, Member):
            return value
        reverse = isinstance(value, str) and value.startswith("-")
        try:
            name = self._name.read(value[1:].strip() if reverse else value, in_file)
        except PydanticCustomError as error:
            raise problem(error.message(), place) from None
        return Member(name, reverse)

    def written(self, value: tuple[Member, ...]) -> list[str]:
        """Return the names."""
        return [str(member) for member in value]

    @property
    def values(self) -> str:
        """What is allowed, for the table of keys."""
        return "a list like `[left, -right]`"


_NEEDED = "`series` or `parallel` is needed"


@part
class Connection(Part):
    """Coils, or other connections, joined in series or in parallel.

    Examples
    --------
    >>> [str(member) for member in Connection("pair", series=["left", "-right"]).members]
    ['left', '-right']
    """

    identity: ClassVar[str] = "name"
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = (("series", "parallel"),)

    name: Annotated[str, Name(), says("as the load and other connections call it")]
    series: Annotated[
        tuple[Member, ...],
        Members(),
        says("one after the other; `-` swaps the ends of a member", default=_NEEDED),
    ] = ()
    parallel: Annotated[tuple[Member, ...], Members(), says("ends joined", default=_NEEDED)] = ()

    def check_together(self, in_file: bool) -> None:
        """Refuse what is not joined in one way."""
        if bool(self.series) == bool(self.parallel):
            raise problem('a connection needs one of "series" and "parallel"; nest them by name')

    @property
    def joining(self) -> str:
        """The key that holds its members: ``"series"`` or ``"parallel"``."""
        return "series" if self.series else "parallel"

    @property
    def members(self) -> tuple[Member, ...]:
        """What it joins."""
        return self.series or self.parallel


@dataclass(frozen=True)
class CoilRef:
    """One coil by name; ``reverse`` swaps its ends."""

    coil: str
    reverse: bool = False


@dataclass(frozen=True)
class InSeries:
    """Coils or connections one after the other; the first member holds the first end."""

    members: tuple[Source, ...]
    reverse: bool = False


@dataclass(frozen=True)
class InParallel:
    """Coils or connections with their ends joined, first to first and second to second."""

    members: tuple[Source, ...]
    reverse: bool = False


Source = CoilRef | InSeries | InParallel


class BadConnectionError(ImpossibleError):
    """A connection that cannot be made.

    Parameters
    ----------
    path
        Where it is stated, below ``connections``: name of the connection, then, if one member is
        at fault, ``series`` or ``parallel`` and the member's place from 0.
    problem
        What is wrong and what is allowed, in one line.
    """

    def __init__(self, path: tuple[str | int, ...], problem: str) -> None:
        self.path = path
        super().__init__(problem)


@dataclass(frozen=True)
class Connections:
    """All connections of a machine, checked; see `make_connections`.

    Parameters
    ----------
    coils
        Names of all coils, in the order of the file.
    stated
        The connections, in the order of the file.
    """

    coils: tuple[str, ...]
    stated: tuple[Connection, ...]

    @property
    def outermost(self) -> tuple[str, ...]:
        """Names of what has free ends: connections that no other uses, then unconnected coils."""
        used = {member.name for connection in self.stated for member in connection.members}
        names = (*(connection.name for connection in self.stated), *self.coils)
        return tuple(name for name in names if name not in used)

    def source(self, name: str) -> Source:
        """Return the coil or connection of that name, with every coil in it.

        Raises
        ------
        ImpossibleError
            If there is none.
        """
        if name in self.coils:
            return CoilRef(name)
        for connection in self.stated:
            if connection.name == name:
                members = tuple(
                    replace(self.source(member.name), reverse=True)
                    if member.reverse
                    else self.source(member.name)
                    for member in connection.members
                )
                joined = InSeries if connection.series else InParallel
                return joined(members)
        known = (*(c.name for c in self.stated), *self.coils)
        raise ImpossibleError(_unknown(name, known))


def make_connections(stated: Sequence[Connection], coils: Sequence[str]) -> Connections:
    """Return the connections, checked.

    Parameters
    ----------
    stated
        The connections, in any order: one may name another that comes later.
    coils
        Names of all coils.

    Raises
    ------
    BadConnectionError
        If a name is unknown, taken or used twice, a connection has fewer than two members, or
        connections contain each other.

    Examples
    --------
    >>> pair = Connection("pair", series=["left", "-right"])
    >>> connections = make_connections([pair], ["left", "right", "spare"])
    >>> connections.outermost
    ('pair', 'spare')
    >>> connections.source("pair").members
    (CoilRef(coil='left', reverse=False), CoilRef(coil='right', reverse=True))
    """
    known = dict.fromkeys(coils)  # a set that keeps its order
    for name in (connection.name for connection in stated):
        if name in known:
            taken = "already the name of a coil" if name in coils else "the name of two connections"
            raise BadConnectionError((name,), f'"{name}" is {taken}')
        known[name] = None
    user: dict[str, str] = {}
    for connection in stated:
        _check_members(connection, known, user)
    for connection in stated:
        _check_nesting(connection.name, user)
    return Connections(tuple(coils), tuple(stated))


def coil_refs(source: Source) -> Iterator[CoilRef]:
    """Yield every coil of a source, in order.

    Examples
    --------
    >>> [ref.coil for ref in coil_refs(InSeries((CoilRef("a"), InParallel((CoilRef("b"),)))))]
    ['a', 'b']
    """
    if isinstance(source, CoilRef):
        yield source
    else:
        for member in source.members:
            yield from coil_refs(member)


def _check_members(connection: Connection, known: Collection[str], user: dict[str, str]) -> None:
    """Check one connection's members, and note in ``user`` which connection uses each name."""
    if len(connection.members) < 2:
        raise BadConnectionError(
            (connection.name,),
            f'connection "{connection.name}" has {len(connection.members)} members; it needs at '
            "least two",
        )
    for place, member in enumerate(connection.members):
        path = (connection.name, connection.joining, place)
        if member.name not in known:
            raise BadConnectionError(path, _unknown(member.name, known))
        if member.name in user:
            first = user[member.name]
            where = (
                f'in "{first}"'
                if first == connection.name
                else f'in "{first}" and in "{connection.name}"'
            )
            raise BadConnectionError(
                path,
                f'"{member.name}" is used twice, {where}; it has only two ends and can be used '
                "once",
            )
        user[member.name] = connection.name


def _check_nesting(name: str, user: dict[str, str]) -> None:
    """Follow who uses a connection outward: it must not come back, nor go on for long."""
    chain = [name]
    while (outer := user.get(chain[-1])) is not None:
        if outer in chain:
            loop = [*chain[chain.index(outer) :], outer]
            text = " in ".join(f'"{part}"' for part in loop[:_DEEPEST])
            raise BadConnectionError((name,), f"connections contain each other: {text}")
        chain.append(outer)
        if len(chain) > _DEEPEST:
            raise BadConnectionError(
                (name,), f"connections are nested deeper than {_DEEPEST} levels"
            )


def _unknown(name: str, known: Collection[str]) -> str:
    close = get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f'; did you mean "{close[0]}"?' if close else f"; there are: {', '.join(known)}"
    return f'no coil or connection is called "{name}"{hint}'
