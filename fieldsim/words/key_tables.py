"""The keys of a geometry file as tables, made from the parts themselves, and those of a wish."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches

from fieldsim.errors import ImpossibleError
from fieldsim.machine.machine import Machine
from fieldsim.machine.magnet_grades import magnet_grades
from fieldsim.machine.part import Key, Part, keys_of
from fieldsim.words.key_section import KeySection
from fieldsim.words.layout import PLAIN_WIDTH, laid_out
from fieldsim.words.numbers import plain_number
from fieldsim.words.wish_keys import wish_sections

__all__ = ["key_section", "key_sections", "key_text", "markdown_tables"]

_HEADER = ("key", "value", "default", "meaning")


def key_sections() -> tuple[KeySection, ...]:
    """Return all sections of a geometry file, each once, in the order of the file."""
    return tuple(_sections(Machine, "", "Top level", set()))


def _sections(
    cls: type[Part], path: str, heading: str, seen: set[type[Part]]
) -> Iterator[KeySection]:
    if cls in seen:
        return
    seen.add(cls)
    yield KeySection(path, heading, tuple(_rows(cls)))
    for key in keys_of(cls).values():
        if key.holds is None or _is_more_of(key.holds, keys_of(cls).values()):
            continue
        below = f"{path}.{key.name}" if path else key.name
        heading = {
            "named": f"`{below}: NAME:`",
            "list": f"An entry of `{below}`",
        }.get(key.form, f"`{below}:`")
        if below == "load.parts":
            heading += ", or a group under its name"
        yield from _sections(key.holds, below, heading, seen)


def _is_more_of(cls: type[Part], others: Iterable[Key]) -> bool:
    """Return whether a part is one of the others with a name of its own: its keys are theirs."""
    return any(o.holds not in (None, cls) and issubclass(cls, o.holds) for o in others if o.holds)


def _rows(cls: type[Part]) -> Iterator[tuple[str, str, str, str]]:
    seen: set[str] = set()
    for key in keys_of(cls).values():
        if key.name == cls.identity:
            continue
        if key.inline is None:
            yield _row(key)
            continue
        words = ", ".join(f"`{word}`" for word in key.inline.kinds)
        yield f"`{key.name}`", words, f"`{key.inline.default}`", key.said.words
        for kind in key.inline.kinds.values():
            for inner in keys_of(kind).values():
                if inner.name not in seen:
                    seen.add(inner.name)
                    yield _row(inner)


def _row(key: Key) -> tuple[str, str, str, str]:
    values = key.said.values or (key.kind.values if key.kind is not None else "keys below")
    return f"`{key.name}`", values, key.said.default or _default(key), key.said.words


def _default(key: Key) -> str:
    if key.needed:
        return "needed"
    if key.default is None or key.kind is None:
        return "none"
    written = key.kind.written(key.default)
    if isinstance(written, bool):
        return f"`{str(written).lower()}`"
    return f"`{written}`" if key.kind.values.startswith("`") else str(written)


def markdown_tables() -> str:
    """Return all sections as Markdown, and the grades of magnets."""
    lines = []
    for section in (*key_sections(), *wish_sections()):
        heading = section.heading if section.heading.endswith("`") else f"{section.heading}:"
        lines += [heading, "", f"| {' | '.join(_HEADER)} |", "|---|---|---|---|"]
        lines += [f"| {' | '.join(_escaped(cell) for cell in row)} |" for row in section.rows]
        lines.append("")
    return "\n".join([*lines, *_grade_table()]) + "\n"


def _grade_table() -> list[str]:
    """Return the grades that `remanence` may name, as Markdown."""
    lines = [
        "Grades that `remanence` may name; the middle of the range is reckoned with:",
        "",
        "| grade | material | range T | reckoned with T | range from |",
        "|---|---|---|---|---|",
    ]
    for grade in magnet_grades().values():
        least, most, middle = (
            plain_number(each, 4) for each in (grade.least_T, grade.most_T, grade.middle_T)
        )
        cells = (f"`{grade.name}`", grade.material, f"{least} to {most}", middle, grade.source)
        lines.append(f"| {' | '.join(cells)} |")
    return lines


def _escaped(cell: str) -> str:
    """Return a cell whose stars outside of code are no emphasis."""
    pieces = cell.split("`")
    return "`".join(p if i % 2 else p.replace("*", "\\*") for i, p in enumerate(pieces))


def key_section(path: str = "") -> KeySection:
    """Return one section.

    Parameters
    ----------
    path
        Of the section, like ``coils.wire``; empty for the top level, ``wish`` for a wish.

    Raises
    ------
    ImpossibleError
        If there is no such section, with the nearest one.
    """
    sections = {section.path: section for section in (*key_sections(), *wish_sections())}
    if path not in sections:
        close = get_close_matches(path, sections, n=1, cutoff=0.4)
        hint = f'did you mean "{close[0]}"? ' if close else ""
        known = ", ".join(name for name in sections if name)
        raise ImpossibleError(f'no section "{path[:60]}"; {hint}There are: {known}')
    return sections[path]


def key_text(section: KeySection, width: int = PLAIN_WIDTH) -> str:
    """Return the keys of a section for a terminal; at the top level all other sections too."""
    lines = [section.heading.replace("`", ""), ""]
    for key, values, default, meaning in section.rows:
        lines.append(f"{key.strip('`')}: {meaning.replace('`', '')}")
        lines.append(f"    {values.replace('`', '')}; default: {default.replace('`', '')}")
    if not section.path:
        below = ", ".join(each.path for each in key_sections() if each.path)
        wishes = ", ".join(each.path for each in wish_sections())
        lines += ["", f"sections: {below}", f"of a wish, for `search`: {wishes}"]
    return laid_out(lines, width)
