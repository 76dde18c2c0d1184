"""Screens of any width: nothing sticks out, no word is broken, nothing is lost."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.words.layout import Table, laid_out

LAMPS = Table(
    ["lamp", "number", "average mA", "seen from mA", "flicker Hz", "depth"],
    [["white LED", "6", "7.33", "0.500", "96.0", "71 %"], ["reversed red LED", "2", "14.6", "0.500",
     "27.0", "100 %"]],
)  # fmt: skip


def lines(*blocks, width):
    return laid_out(blocks, width).split("\n")


def test_a_wide_screen_has_headings_on_one_line():
    heading, rule, *rows = lines(LAMPS, width=100)
    assert heading.split("   ")[-1] == "depth"
    assert set(rule) == {"─"}
    assert len(rule) == len(heading) == len(rows[0]) == len(rows[1])
    assert rows[0].startswith("white LED ")
    assert rows[1].endswith("100 %")


def test_headings_break_between_words_first():
    found = lines(LAMPS, width=60)
    assert [line.split() for line in found[:2]] == [
        ["average", "seen", "flicker"],
        ["lamp", "number", "mA", "from", "mA", "Hz", "depth"],
    ]
    assert "reversed red LED" in found[-1]


def test_a_table_too_wide_is_told_in_pieces_that_name_their_rows():
    text = laid_out([LAMPS], 40)
    pieces = text.split("\n\n")
    assert len(pieces) == 2
    for piece in pieces:
        assert "lamp" in piece
        assert "white LED" in piece
    assert max(map(len, text.split("\n"))) <= 40
    columns = [len(piece.split("─\n")[1].split("\n")[0].split()) for piece in pieces]
    assert max(columns) - min(columns) <= 1  # much the same size


def test_words_of_a_column_are_folded_before_a_table_is_split():
    table = Table(["path", "what it is"], [["magnets.bar.remanence", "strength of it all"]], 2, 1)
    found = lines(table, width=40)
    assert [line.strip() for line in found[2:]] == [
        "magnets.bar.remanence  strength of it", "all"
    ]  # fmt: skip


def test_prose_is_folded_and_set_in_but_never_between_number_and_unit():
    words = "the open coil reaches a peak of thirty volts or 31.4 V, which is more than most"
    found = lines(words, f"  {words}", width=49)
    assert found[0].endswith("thirty volts or")
    assert found[1].startswith("    31.4 V, which")
    assert found[2].startswith("  the open")
    assert found[3].startswith("      ")
    assert "\N{NO-BREAK SPACE}" not in "".join(found)


def test_letters_of_double_width_fit():
    from rich.cells import cell_len

    table = Table(["design", "V"], [["磁石 " * 30, "3.0"]])
    assert max(map(cell_len, lines(table, width=40))) <= 40


def test_a_table_without_rows_has_its_heading():
    assert lines(Table(["wire", "ohm"], []), width=80) == ["wire   ohm", "──────────"]


WORD = st.text("abcdefgh0123456789.", min_size=1, max_size=12)
CELL = st.lists(WORD, min_size=1, max_size=3).map(" ".join)


@settings(max_examples=60, deadline=None)
@given(st.data(), st.integers(40, 150), st.integers(1, 12), st.integers(0, 4))
def test_nothing_is_lost_whatever_the_width(data, width, columns, rows):
    header = data.draw(st.lists(CELL, min_size=columns, max_size=columns))
    body = data.draw(st.lists(st.lists(CELL, min_size=columns, max_size=columns),
                              min_size=rows, max_size=rows))  # fmt: skip
    text = laid_out([Table(header, body)], width)
    assert max(map(len, text.split("\n"))) <= width
    found = text.split()
    for cell in (*header, *(cell for row in body for cell in row)):
        for word in cell.split():
            assert word in found


@pytest.mark.parametrize("width", [0, 1, 39])
def test_narrower_than_any_terminal_is_taken_as_narrow(width):
    assert laid_out([LAMPS], width) == laid_out([LAMPS], 40)
