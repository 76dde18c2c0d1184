"""HTML from nested calls; text is always escaped, so that a title can never become markup.

Only what `element` made counts as markup; every plain string is text. That is all a page of tables
and figures needs, so no template language comes along.

Examples
--------
>>> element("p", "a < b & ", element("strong", "c"), class_="note")
'<p class="note">a &lt; b &amp; <strong>c</strong></p>'
"""

from __future__ import annotations

import html
from collections.abc import Iterable
from unicodedata import category

__all__ = ["Markup", "element", "joined", "text"]

_VOID = frozenset({"br", "hr", "img", "link", "meta"})


class Markup(str):
    """A string that is HTML already and goes into a page as it is."""

    __slots__ = ()


def text(value: str) -> Markup:
    """Return plain text as HTML: escaped, and without the control characters that HTML forbids.

    Examples
    --------
    >>> text('<script>"x"</script>')
    '&lt;script&gt;&quot;x&quot;&lt;/script&gt;'
    """
    if isinstance(value, Markup):
        return value
    kept = "".join(
        c if c in "\n\t" or not category(c).startswith("C") else "\N{REPLACEMENT CHARACTER}"
        for c in value
    )
    return Markup(html.escape(kept))


def joined(parts: Iterable[str], between: str = "") -> Markup:
    """Return parts one after the other, plain strings escaped."""
    return Markup(text(between).join(text(part) for part in parts))


def element(name: str, /, *content: str | None, **attributes: str | int | bool | None) -> Markup:
    """Return an element.

    Parameters
    ----------
    name
        Of the tag.
    content
        Markup as it is, plain strings escaped, None left out.
    attributes
        An underscore at the end is dropped and others become hyphens; None and False leave the
        attribute out, True gives it without a value.
    """
    given = "".join(
        f" {key.rstrip('_').replace('_', '-')}"
        + ("" if value is True else f'="{text(str(value))}"')
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    inside = joined(part for part in content if part is not None)
    return Markup(f"<{name}{given}>" if name in _VOID else f"<{name}{given}>{inside}</{name}>")
