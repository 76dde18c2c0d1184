"""HTML from calls: text is text, whatever it holds."""

from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.report.markup import Markup, element, joined, text


class Reader(HTMLParser):
    """Keeps tags and text as a browser would see them."""

    def __init__(self):
        super().__init__()
        self.tags, self.words, self.attributes = [], "", []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.words += data


def read(markup):
    reader = Reader()
    reader.feed(markup)
    reader.close()
    return reader


@settings(max_examples=200, deadline=None)
@given(st.text(st.characters(exclude_categories=["C"])))
def test_any_text_comes_back_and_makes_no_tag(value):
    seen = read(element("p", value, title=value))
    assert seen.tags == ["p"]
    assert seen.words == value
    assert seen.attributes == [("title", value)]


@pytest.mark.parametrize("bad", ["\0", "\x1b", "\u202e", "\ud800", "\x7f"])
def test_control_characters_are_replaced(bad):
    assert text(f"a{bad}b") == "a\N{REPLACEMENT CHARACTER}b"


def test_lines_and_no_break_spaces_stay():
    assert text("a\n\tb\N{NO-BREAK SPACE}%") == "a\n\tb\N{NO-BREAK SPACE}%"


def test_markup_goes_in_once():
    inner = element("b", "1 < 2")
    assert element("p", inner, " & ", None) == "<p><b>1 &lt; 2</b> &amp; </p>"
    assert text(inner) is inner
    assert joined([inner, "<"], between=">") == "<b>1 &lt; 2</b>&gt;&lt;"


def test_attributes():
    given = element(
        "a", "x", href="?a=1&b=2", download=True, hidden=False, class_="c", aria_label="l"
    )
    assert given == '<a href="?a=1&amp;b=2" download class="c" aria-label="l">x</a>'
    assert element("meta", name="n", content="c") == '<meta name="n" content="c">'
    assert element("td", tabindex=0) == '<td tabindex="0"></td>'


def test_text_added_to_markup_is_no_markup_any_more():
    assert not isinstance(Markup("<b>") + "x", Markup)
