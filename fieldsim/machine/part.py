"""What every part of a machine stands on: checked when it is made, immutable, one list of keys.

A part is a frozen dataclass whose fields are the keys of its section in a geometry file. Each field
says once, in its annotation, what it may hold (`fieldsim.machine.kinds`), what it means and by what
step it is usefully changed. From that come the checks, the messages, the file that is written, the
parameters, the README's tables and the docstrings.
"""

from __future__ import annotations

import dataclasses
import re
import typing
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Any, ClassVar, TypeVar, dataclass_transform

from pydantic import ConfigDict, ValidationError, ValidationInfo, model_validator
from pydantic.dataclasses import dataclass as checked_dataclass
from pydantic_core import ArgsKwargs, InitErrorDetails, PydanticCustomError

from fieldsim.errors import ImpossibleError
from fieldsim.machine.kinds import IN_FILE, Kind, Name, missing, problem
from fieldsim.machine.paths import Path_, dotted

__all__ = [
    "Inline",
    "Key",
    "ListOf",
    "Named",
    "Part",
    "PartError",
    "Problem",
    "checked_beside",
    "keys_of",
    "made_from",
    "part",
    "problems_of",
    "replaced",
    "says",
    "tree_of",
    "walk_values",
]

T = TypeVar("T")

_NAME = Name()


class PartError(ImpossibleError, ValueError):
    """A part that cannot be.

    Parameters
    ----------
    path
        Keys that lead to the wrong value, below the part that was made.
    problem
        What is wrong and what is allowed, in one line.
    label
        The part in words, if that is known.
    """

    def __init__(self, path: Path_, problem: str, label: str = "") -> None:
        self.path, self.problem = path, problem
        super().__init__(": ".join(text for text in (label, dotted(path), problem) if text))


@dataclass(frozen=True)
class says:  # noqa: N801  (reads as a sentence in an annotation)
    """What a key means.

    Parameters
    ----------
    words
        Its meaning, in the README's table and as a parameter's words.
    step
        A practical change, with its unit, or empty.
    default, values
        What the table says in place of the value that it would work out; or empty.
    """

    words: str
    step: str = ""
    default: str = ""
    values: str = ""


def checked_beside(
    wrong: Sequence[PydanticCustomError],
    check: Callable[[], T],
    is_told: Callable[[tuple[int | str, ...]], bool] = lambda _place: False,
) -> T:
    """Return what a check returns; what it finds wrong is told beside what is known to be wrong.

    Parameters
    ----------
    wrong
        What is known.
    check
        Raises a ValidationError if more is wrong.
    is_told
        Whether what is wrong at a place follows from what is known, and is not told again.

    Raises
    ------
    pydantic.ValidationError
        If anything is wrong.
    """
    if not wrong:
        return check()
    found = [InitErrorDetails(type=each, loc=(), input=None) for each in wrong]
    try:
        check()
    except ValidationError as error:
        found += [
            InitErrorDetails(
                type=problem(_text(item), *item.get("ctx", {}).get("path", ())),
                loc=item["loc"],
                input=None,
            )
            for item in error.errors(include_url=False, include_input=False)
            if not is_told(item["loc"])
        ]
    raise ValidationError.from_exception_data("section", found)


@dataclass(frozen=True)
class Named:
    """The field holds parts by name: keys of the file, a tuple in Python."""

    what: str
    most: int = 100
    least: int = 1
    by: str = "name"

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        from pydantic_core import core_schema

        (kind, _) = typing.get_args(source)
        inner = core_schema.dict_schema(core_schema.any_schema(), handler(kind))
        return core_schema.with_info_wrap_validator_function(self._checked, inner)

    def _checked(
        self, value: Any, check: Callable[[Any], dict[str, Any]], info: ValidationInfo
    ) -> tuple[Any, ...]:
        sections = self._by_name(value, info.context == IN_FILE)
        wrong = {
            name: error
            for name, section in sections.items()
            if isinstance(section, dict) and (error := self._wrong_name(name, section)) is not None
        }
        named = {
            name: {self.by: name, **section} if isinstance(section, dict) else section
            for name, section in sections.items()
            if name not in wrong
        }
        return tuple(checked_beside(tuple(wrong.values()), lambda: check(named)).values())

    def _by_name(self, value: Any, in_file: bool) -> Mapping[str, Any]:
        if in_file and not isinstance(value, dict):
            raise problem(f"must be named keys, one for each {self.what}")
        by_name: Mapping[str, Any] = (
            value if isinstance(value, dict) else self._parts_by_name(value)
        )
        if len(by_name) < self.least:
            raise problem(f"needs at least one {self.what}")
        if len(by_name) > self.most:
            raise problem(f"has {len(by_name)} entries; allowed: at most {self.most}")
        return by_name

    def _parts_by_name(self, value: Any) -> dict[str, Any]:
        if not isinstance(value, list | tuple) or not all(hasattr(v, self.by) for v in value):
            raise problem(f"must be a tuple with a part for each {self.what}")
        names = [getattr(v, self.by) for v in value]
        twice = next((n for n in names if names.count(n) > 1), None)
        if twice is not None:
            raise problem(f'two are called "{twice}"')
        return dict(zip(names, value, strict=True))

    def _wrong_name(self, name: Any, section: Mapping[str, Any]) -> PydanticCustomError | None:
        """Return what is wrong with a part's name, or None."""
        try:
            _NAME.read(name, in_file=True)
        except PydanticCustomError as error:
            return problem(error.message(), str(name))
        if self.by in section:
            said = f"unknown key; the {self.what} is called by the key above"
            return problem(said, str(name), self.by)
        return None


@dataclass(frozen=True)
class ListOf:
    """The field holds a list of parts."""

    what: str
    most: int = 1000
    least: int = 1

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        from pydantic_core import core_schema

        return core_schema.no_info_before_validator_function(self._checked, handler(source))

    def _checked(self, value: Any) -> Any:
        if not isinstance(value, list | tuple):
            raise problem(f"must be a list, one entry for each {self.what}")
        if len(value) < self.least:
            raise problem(f"needs at least one {self.what}")
        if len(value) > self.most:
            raise problem(f"has {len(value)} entries; allowed: at most {self.most}")
        return value


@dataclass(frozen=True)
class Inline:
    """The field holds one of several parts, whose keys stand in the same section of the file.

    Parameters
    ----------
    kinds
        The part by its word in the file; several words may mean the same.
    default
        The word that may be left out.
    what
        The whole, for messages: "magnet".
    """

    kinds: Mapping[str, type[Part]]
    default: str
    what: str

    def __hash__(self) -> int:
        """Return a hash, so that annotations can hold it."""
        return hash((*self.kinds, self.default))

    def __get_pydantic_core_schema__(self, source: Any, handler: Callable[[Any], Any]) -> Any:
        from pydantic_core import core_schema

        del source, handler

        def checked(value: Any, info: ValidationInfo) -> Any:
            if isinstance(value, tuple(self.kinds.values())):
                return value
            if isinstance(value, Part):
                raise problem(f"a {value.label()} is not one of: {', '.join(self.kinds)}")
            word, section = value
            return _validated(self.kinds[word], section, info.context)

        return core_schema.with_info_plain_validator_function(checked)

    def word(self, value: Part) -> str:
        """Return the word of the file for a part."""
        return next(word for word, kind in self.kinds.items() if type(value) is kind)

    @property
    def names(self) -> frozenset[str]:
        """The keys of all kinds."""
        return frozenset(name for kind in self.kinds.values() for name in keys_of(kind))

    def wrong_keys(
        self, key: str, data: Mapping[str, Any], own: Iterable[str]
    ) -> Iterator[tuple[str, PydanticCustomError]]:
        """Yield each key that a section should not have, or lacks, and what to say of it."""
        word = data.get(key, self.default)
        if not isinstance(word, str) or word not in self.kinds:
            shown = f'"{word[:40]}"' if isinstance(word, str) else "this"
            yield key, problem(f"{shown} is not one of: {', '.join(self.kinds)}", key)
            return
        theirs = keys_of(self.kinds[word])
        has = ", ".join((*theirs, *(n for n in own if n not in (key, "name"))))
        for name in data:
            if name in self.names and name not in theirs:
                yield name, problem(f'a {word} {self.what} has no "{name}"; it has: {has}', name)
        for name, found in theirs.items():
            if found.needed and name not in data:
                yield name, problem(f'a {word} {self.what} needs "{name}"', name)

    def gathered(self, key: str, data: Mapping[str, Any]) -> dict[str, Any]:
        """Return the section with the inline keys put together under ``key``."""
        word = data.get(key, self.default)
        section = {name: data[name] for name in keys_of(self.kinds[word]) if name in data}
        rest = {name: value for name, value in data.items() if name not in self.names}
        return {**rest, key: (word, section)}


@dataclass(frozen=True)
class Key:
    """One key of a part's section.

    Parameters
    ----------
    name
        As in the file and as the attribute.
    kind
        What it may hold; None where it holds parts.
    form
        ``"value"``, or how it holds parts: ``"part"``, ``"named"``, ``"list"``, ``"inline"``.
    holds
        The kind of part, where it holds one kind.
    inline
        The choice of parts, where their keys stand in the same section.
    said
        What it means.
    needed
        Whether the section must have it.
    default
        Where it is not needed.
    """

    name: str
    kind: Kind | None
    form: str
    holds: type[Part] | None
    inline: Inline | None
    said: says
    needed: bool
    default: Any


@dataclass_transform(frozen_default=True, field_specifiers=(field, dataclasses.field))
def part(cls: type[T]) -> type[T]:
    """Make a class of annotated fields a part: frozen, compared by value, checked when made."""
    config = ConfigDict(arbitrary_types_allowed=True)
    made: Any = checked_dataclass(frozen=True, repr=False, config=config)(cls)
    plain_init = made.__init__

    def __init__(self: Any, *args: Any, **named: Any) -> None:  # noqa: N807
        try:
            plain_init(self, *args, **named)
        except ValidationError as error:
            first = problems_of(made, error)[0]
            name = named.get("name", args[0] if args and "name" in made.__annotations__ else None)
            label = made.label() + (f' "{name}"' if isinstance(name, str) else "")
            raise PartError(first.path, first.text, label) from None

    __init__.__wrapped__ = plain_init  # type: ignore[attr-defined]
    made.__init__ = __init__
    if dataclasses.fields(made):
        made.__doc__ = _Docstring(made.__doc__ or "")
    return typing.cast("type[T]", made)


@dataclass(frozen=True)
class _Docstring:
    """A part's docstring, completed with its keys when somebody reads it."""

    written: str

    def __get__(self, item: object, cls: type) -> str:
        return _with_parameters(cls, self.written)


def _with_parameters(cls: Any, written: str) -> str:
    """Return a part's docstring with its keys: meaning, unit and what is allowed."""
    told = []
    for key in _keys_of(cls).values():
        unit = key.kind.unit if key.kind is not None else ""
        allowed = key.said.values or (key.kind.values if key.kind is not None else "a part")
        if key.inline is not None:
            allowed = ", ".join(dict.fromkeys(k.__name__ for k in key.inline.kinds.values()))
        told += [
            f"    {key.name}",
            f"        {key.said.words[:1].upper()}{key.said.words[1:]}"
            f"{f' [{unit}]' if unit else ''}; in a file {allowed.replace('`', '')}.",
        ]
    before, examples, after = written.partition("    Examples\n    --------\n")
    section = "    Parameters\n    ----------\n" + "\n".join(told) + "\n\n" if told else ""
    return f"{before.rstrip()}\n\n{section}{examples}{after}"


@part
class Part:
    """Base of all parts: refuses unknown keys, with the nearest known one."""

    # Whether a machine may be without it; such a part is false where it is empty.
    optional: ClassVar[bool] = False
    # Keys that the section of an optional part needs once it is there.
    needed_if_given: ClassVar[tuple[str, ...]] = ()
    # The key that a bare value stands for: `capacitor: 470 uF`.
    shorthand: ClassVar[str] = ""
    # Keys of other sections that are easily put here, and where they belong.
    elsewhere: ClassVar[Mapping[str, str]] = {}
    # Groups of paths below it of which one decides: who sets one removes the others.
    rivals: ClassVar[tuple[tuple[str, ...], ...]] = ()
    # The field that is the key above the section; empty if there is none.
    identity: ClassVar[str] = ""

    def __bool__(self) -> bool:
        """Return whether it is there."""
        if not self.optional:
            return True
        return any(getattr(self, n) != value for n, value in _defaults_of(_any(type(self))).items())

    def __repr__(self) -> str:
        """Return what differs from the defaults, as it could be written."""
        shown = (
            f"{item.name}={getattr(self, item.name)!r}"
            for item in dataclasses.fields(self)
            if item.repr and getattr(self, item.name) != item.default
        )
        return f"{type(self).__name__}({', '.join(shown)})"

    @classmethod
    def label(cls) -> str:
        """Return the kind of part in words."""
        return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", cls.__name__).lower()

    def check_together(self, in_file: bool) -> None:
        """Refuse values that do not go together, each of them allowed; put directions right.

        Raises
        ------
        pydantic_core.PydanticCustomError, pydantic.ValidationError
            With what is wrong.
        """

    @classmethod
    @cache
    def allowed_keys(cls) -> tuple[str, ...]:
        """Return the keys of its section in a file, the inline ones included."""
        found: list[str] = []
        for key in keys_of(cls).values():
            if key.name == cls.identity:
                continue
            found.append(key.name)
            if key.inline is not None:
                inner = (n for kind in key.inline.kinds.values() for n in keys_of(kind))
                found += dict.fromkeys(inner)
        return tuple(found)

    @model_validator(mode="wrap")
    @classmethod
    def _checked(cls, data: Any, check: Callable[[Any], Any], info: ValidationInfo) -> Any:
        """Check a section; a key that is wrong hides nothing that is wrong with the others."""
        if isinstance(data, cls):
            return check(data)  # which has checked itself when it was made
        section, in_file = cls._section(data), info.context == IN_FILE
        if cls.optional and not in_file and section in ({}, _defaults_of(_any(cls))):
            section = {}  # an empty part, and as `dataclasses.replace` repeats it
            made = check(section)
        else:
            made = cls._made(section, check, in_file)
        made.check_together(in_file)
        return made

    @classmethod
    def _made(cls, section: dict[str, Any], check: Callable[[Any], Any], in_file: bool) -> Any:
        """Return what a section makes, or say all that is wrong with its keys."""
        wrong = dict(cls._wrong_keys(section, in_file))
        # A key that is misspelt is not missing, too.
        meant = {close for name in wrong if name in section for close in cls._near(name)}
        wrong = {n: error for n, error in wrong.items() if n in section or n not in meant}
        section = {name: value for name, value in section.items() if name not in wrong}
        inline = _inline_of(_any(cls))
        for name, choice in inline.items():
            if name in wrong:
                meant |= {name, *choice.names}
            elif not isinstance(section.get(name), Part):
                section = choice.gathered(name, section)

        def is_told(place: tuple[int | str, ...]) -> bool:
            if not place:
                return True  # what goes together is asked once all keys are right
            key = place[1] if place[0] in inline and len(place) > 1 else place[0]
            return key in wrong or key in meant

        return checked_beside(tuple(wrong.values()), lambda: check(section), is_told)

    @classmethod
    def _section(cls, data: Any) -> dict[str, Any]:
        """Return keys with values."""
        if isinstance(data, ArgsKwargs):
            order = tuple(_defaults_of(_any(cls)))
            if len(data.args) > len(order):
                raise problem(f"{len(data.args)} values; it has: {', '.join(order)}")
            return {**dict(zip(order, data.args, strict=False)), **(data.kwargs or {})}
        if cls.shorthand and isinstance(data, str):
            return {cls.shorthand: data}
        if not isinstance(data, dict):
            raise problem(f"must be keys with values: {', '.join(cls.allowed_keys())}")
        return data

    @classmethod
    def _wrong_keys(
        cls, section: Mapping[str, Any], in_file: bool
    ) -> Iterator[tuple[str, PydanticCustomError]]:
        """Yield each key that the section should not have, or lacks, and what to say of it."""
        allowed = cls.allowed_keys()
        # What a program alone may give, such as the file that a machine is from, is no key.
        hidden = {cls.identity} if in_file else _defaults_of(_any(cls))
        for name in section:
            if name not in allowed and name not in hidden:
                said = f"unknown key{cls._hint(name)} Allowed here: {', '.join(allowed)}"
                yield str(name), problem(said, str(name))
        for name in cls.needed_if_given:
            if (section or in_file) and name not in section:
                yield name, missing(name)
        for name, choice in _inline_of(_any(cls)).items():
            if not isinstance(section.get(name), Part):
                yield from choice.wrong_keys(name, section, keys_of(cls))

    @classmethod
    def _hint(cls, name: Any) -> str:
        if name in cls.elsewhere:
            return f"; {name} belongs {cls.elsewhere[name]}."
        return "".join(f'; did you mean "{close}"?' for close in cls._near(name)) or "."

    @classmethod
    def _near(cls, name: Any) -> list[str]:
        """Return the key that a name was probably meant to be, if there is one."""
        if name in cls.elsewhere:
            return []
        return get_close_matches(str(name), cls.allowed_keys(), n=1, cutoff=0.5)


def _any(cls: type) -> Any:
    """Return a class as what caches take: to the type checker parts have no hash of their own."""
    return cls


def keys_of(cls: type[Part]) -> dict[str, Key]:
    """Return the keys of a part by name, in order; fields that no file has are left out."""
    return _keys_of(_any(cls))


@cache
def _defaults_of(cls: Any) -> dict[str, Any]:
    """Return a part's fields with their defaults, those that no file has included."""
    return {item.name: item.default for item in dataclasses.fields(cls)}


@cache
def _inline_of(cls: Any) -> dict[str, Inline]:
    """Return the choices of parts whose keys stand in a part's own section."""
    return {key.name: key.inline for key in _keys_of(cls).values() if key.inline is not None}


@cache
def _hints_of(cls: Any) -> dict[str, Any]:
    # A part that holds others of its kind names itself before its module does.
    return typing.get_type_hints(cls, None, {cls.__name__: cls}, include_extras=True)


@cache
def _keys_of(cls: Any) -> dict[str, Key]:
    hints, found = _hints_of(cls), {}
    for item in dataclasses.fields(cls):
        key = _key(cls, item, hints[item.name])
        if key is not None:
            found[item.name] = key
    return found


def _key(cls: type[Part], item: dataclasses.Field[Any], hint: Any) -> Key | None:
    inner, notes = _unpacked(hint)
    said = next((n for n in notes if isinstance(n, says)), None)
    if said is None:
        return None
    given: Any = item.default
    needed = given is dataclasses.MISSING or item.name in cls.needed_if_given
    kind = next((n for n in notes if isinstance(n, Kind)), None)
    inline = next((n for n in notes if isinstance(n, Inline)), None)
    form, holds = "value", None
    if inline is not None:
        form = "inline"
    elif kind is None:
        if any(isinstance(n, Named) for n in notes):
            form, holds = "named", typing.get_args(inner)[0]
        elif any(isinstance(n, ListOf) for n in notes):
            form, holds = "list", typing.get_args(inner)[0]
        else:
            form, holds = "part", inner
    return Key(item.name, kind, form, holds, inline, said, needed, given)


def _unpacked(hint: Any) -> tuple[Any, list[Any]]:
    """Return an annotation's bare type and all notes on it, None as an alternative left out."""
    notes: list[Any] = []
    while True:
        if typing.get_origin(hint) is Annotated:
            hint, *more = typing.get_args(hint)
            notes += more
            continue
        alternatives = [a for a in typing.get_args(hint) if a is not type(None)]
        if type(None) in typing.get_args(hint) and len(alternatives) == 1:
            hint = alternatives[0]
            continue
        return hint, notes


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: where, below the part, and what."""

    path: Path_
    text: str


def problems_of(cls: type[Part], error: ValidationError) -> list[Problem]:
    """Return what a check found, each with its path as the file has it."""
    found = []
    for item in error.errors(include_url=False):
        context = item.get("ctx", {})
        path = (*_file_path(cls, item["loc"]), *context.get("path", ()))
        found.append(Problem(path, " ".join(_text(item).split())))
    return found


def _text(item: Any) -> str:
    """Return what is wrong in words, of one thing that a check found."""
    if item["type"] == "missing":
        return "this key is missing"
    message: str = item["msg"]
    ours = item["type"] in ("wrong_value", "missing_key")
    return message if ours else message[:1].lower() + message[1:]


def _file_path(cls: type[Part] | None, loc: tuple[str | int, ...]) -> Path_:
    """Return a location inside a part as the file's path: inline parts have no key of their own."""
    path: list[str | int] = []
    below: type[Part] | None = cls
    skip_name = False
    for step in loc:
        if step == "[key]":
            continue
        if below is not None and not skip_name and isinstance(step, str):
            key = keys_of(below).get(step)
            if key is not None and key.form == "inline":
                below = None
                continue
            path.append(step)
            below = key.holds if key is not None else None
            skip_name = key is not None and key.form in ("named", "list")
            continue
        path.append(step)
        skip_name = False
    return tuple(path)


def _validated(cls: type[Part], section: Any, context: Any) -> Any:
    return _adapter(_any(cls)).validate_python(section, context=context)


@cache
def _adapter(cls: Any) -> Any:
    from pydantic import TypeAdapter

    return TypeAdapter(cls)


def made_from(cls: type[T], section: Any, *, in_file: bool) -> T:
    """Return the part that a section describes.

    Parameters
    ----------
    cls
        The kind of part.
    section
        Keys with values.
    in_file
        Whether every quantity must be text with a unit, as in a file.

    Raises
    ------
    pydantic.ValidationError
        With all that is wrong; `problems_of` says it with paths.
    """
    made: T = _adapter(_any(cls)).validate_python(section, context=IN_FILE if in_file else None)
    return made


P = TypeVar("P", bound="Part")


def replaced(item: P, **changes: Any) -> P:
    """Return a part with other values in some fields, as `dataclasses.replace` does, but sooner.

    What stays has been checked; only the new values are, and that they go with the others.

    Parameters
    ----------
    item
        Any part.
    changes
        New values by field.

    Raises
    ------
    PartError
        If there is no such part, with the words of a part that is made.

    Examples
    --------
    >>> from fieldsim.machine.shaft import Shaft
    >>> replaced(Shaft((0, 0, 0), (0, 0, 1)), through=(0, 0, "8 mm"))
    Shaft(through=(0.0, 0.0, 0.008), along=(0.0, 0.0, 1.0))
    """
    cls: Any = type(item)
    fields = _defaults_of(cls)
    # An empty part may lack what it needs once there is something in it.
    if item and changes.keys() <= fields.keys():
        made = object.__new__(cls)
        try:
            known = {name: getattr(item, name) for name in fields}
            known |= {name: _check_of(cls, name)(value) for name, value in changes.items()}
            made.__dict__.update(known)
            made.check_together(in_file=False)
        except ValueError:
            pass  # said below
        else:
            return typing.cast("P", made)
    return dataclasses.replace(item, **changes)


@cache
def _check_of(cls: Any, name: str) -> Callable[[Any], Any]:
    """Return what checks a value of one field of a part."""
    from pydantic import TypeAdapter

    check = TypeAdapter(_hints_of(cls)[name]).validate_python
    if name not in _inline_of(cls):
        return check

    def check_part(value: Any) -> Any:
        if not isinstance(value, Part):
            raise problem("keys of this section, not a part")
        return check(value)

    return check_part


def tree_of(
    item: Part,
    leaf: Callable[[Key, Any], Any] = lambda _key, value: value,
    opened: Collection[str | int] | None = None,
) -> dict[str, Any]:
    """Return a part as nested keys and lists, what equals its default left out.

    Parameters
    ----------
    item
        Any part.
    leaf
        Turns the value of a key that holds no parts into what the tree is to hold.
    opened
        Keys of the part, and names below them, that are opened; the others hold the parts
        themselves, which need no check when the tree is made a part again. By default all are.
    """
    found: dict[str, Any] = {}
    lists_last = sorted(keys_of(type(item)).values(), key=lambda key: key.form == "list")
    for key in lists_last:
        value = getattr(item, key.name)
        if (key.name == item.identity) or (not key.needed and value == key.default):
            continue
        if key.kind is None and opened is not None and key.name not in opened:
            found[key.name] = value
        elif key.form == "inline" and key.inline is not None:
            word = key.inline.word(value)
            if word != key.inline.default:
                found[key.name] = word
            found |= tree_of(value, leaf)
        elif key.form == "part":
            found[key.name] = tree_of(value, leaf)
        elif key.form == "named":
            named = {getattr(each, each.identity): each for each in value}
            found[key.name] = {
                name: each if opened is not None and name not in opened else tree_of(each, leaf)
                for name, each in named.items()
            }
        elif key.form == "list":
            found[key.name] = [tree_of(each, leaf) for each in value]
        elif isinstance(value, Part):
            found[key.name] = tree_of(value, leaf)
        else:
            found[key.name] = leaf(key, value)
    return found


def walk_values(item: Part, path: Path_ = ()) -> Iterator[tuple[Path_, Key, Any]]:
    """Yield path, key and value of all that holds no parts, defaults included."""
    for key in keys_of(type(item)).values():
        value = getattr(item, key.name)
        if key.name == item.identity:
            continue
        if key.form == "inline":
            yield from walk_values(value, path)
        elif key.form == "part":
            if value:
                yield from walk_values(value, (*path, key.name))
        elif key.form == "named":
            for each in value:
                yield from walk_values(each, (*path, key.name, getattr(each, each.identity)))
        elif key.form == "list":
            for i, each in enumerate(value):
                yield from walk_values(each, (*path, key.name, i))
        else:
            yield (*path, key.name), key, value
