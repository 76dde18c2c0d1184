"""The keys of a file as tables."""

from __future__ import annotations

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.words.key_tables import key_section, key_sections, key_text, markdown_tables
from fieldsim.words.wish_keys import wish_sections


def test_sections_say_how_they_stand_in_a_file():
    headings = {section.path: section.heading for section in key_sections()}
    assert headings[""] == "Top level"
    assert headings["rotors"] == "`rotors: NAME:`"
    assert headings["rotors.magnets"] == "An entry of `rotors.magnets`"
    assert headings["coils.wire"] == "`coils.wire:`"
    assert headings["load.parts"].endswith(", or a group under its name")


def test_a_row_has_key_values_default_and_meaning():
    rows = {row[0]: row for row in key_section("magnets").rows}
    assert rows["`remanence`"][2] == "needed"
    assert "0.001 to 2 T" in rows["`remanence`"][1]
    assert rows["`shape`"][2] == "`block`"


def test_a_terminal_gets_plain_words():
    text = key_text(key_section("magnets"))
    assert "`" not in text
    assert "remanence: strength of the material" in text
    assert "sections:" not in text
    assert "coils.wire" in key_text(key_section()).split("sections:")[1]


def test_what_is_no_section_is_refused_with_the_nearest():
    with pytest.raises(ImpossibleError, match=r'no section "coil.wire"; did you mean "coils.wire"'):
        key_section("coil.wire")


def test_markdown_has_a_table_for_each_section():
    text = markdown_tables()
    assert text.count("| key | value | default | meaning |\n|---|---|---|---|\n") == len(
        [*key_sections(), *wish_sections()]
    )
    assert "`rotors: NAME:`\n\n| key" in text
