"""core/typed.py: numbers as people type them, read without guessing and kept without changing."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from desorb.core.typed import AT_LEAST, AT_MOST, read_repeats, read_value
from desorb.errors import NotUnderstood


@pytest.mark.parametrize(
    ("text", "number", "bound"),
    [
        ("54", "54", ""), (" 54 ", "54", ""), ("12.5", "12.5", ""), ("12,5", "12.5", ""), (".5", "0.5", ""),
        (",5", "0.5", ""), ("-3", "-3", ""), ("+3", "3", ""), ("\u22123", "-3", ""), ("12.30", "12.30", ""),
        (">5.8", "5.8", AT_LEAST), (">=5.8", "5.8", AT_LEAST), (">= 5.8", "5.8", AT_LEAST), ("\u22655,8", "5.8", AT_LEAST),
        ("\u2265 5.8", "5.8", AT_LEAST), ("<0", "0", AT_MOST), ("<=0.0", "0.0", AT_MOST), ("\u2264 6", "6", AT_MOST),
        ("< -1", "-1", AT_MOST),
    ],
)  # fmt: skip
def test_a_figure_is_read_as_it_was_typed(text: str, number: str, bound: str) -> None:
    value = read_value(text)
    assert (str(value.number), value.bound) == (number, bound)
    assert value.text == text.strip()


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "-", ".", "abc", "54 %", "54%", "5 4", "1e3", "1_000", "1.000.000", "1,000,000", "12.", "12,", "--3", "=5",
        "=>5", "><5", ">=", "nan", "inf", "0x10", "5.8+", "five", "\u0663", "\u22123\u0663", "\uff15", "\u00bd", "1\u00a0000",
        "1" * 25,
    ],
)  # fmt: skip
def test_what_is_no_single_figure_is_refused_with_what_was_got_and_what_is_wanted(text: str) -> None:
    """No unit, exponent, thousands mark or foreign digit is guessed at; the sentence names all three parts."""
    with pytest.raises(NotUnderstood) as refused:
        read_value(text)
    assert refused.value.got == repr(text)
    assert "digits with at most one decimal mark" in refused.value.wanted
    assert refused.value.next_step


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("64 73 65", ["64", "73", "65"]), ("64/73/65", ["64", "73", "65"]), ("64|73|65", ["64", "73", "65"]),
        (" 64 |  73 ", ["64", "73"]), ("12,5 12.6", ["12,5", "12.6"]), ("100 >=100", ["100", ">=100"]),
        (">= 5.8 5.7", [">=5.8", "5.7"]), ("\u2265 5.8", ["\u22655.8"]), ("54\t55\n56", ["54", "55", "56"]),
    ],
)  # fmt: skip
def test_repeats_of_one_spot(text: str, wanted: list[str]) -> None:
    """Spaces, bars and strokes part the repeats; '\u2265 5.8', as desorb prints it itself, is one of them."""
    assert [value.text for value in read_repeats(text)] == wanted


@pytest.mark.parametrize("text", ["", "  ", "|", " / "])
def test_no_value_is_not_a_reading(text: str) -> None:
    """A spot that was not read stays visible as not read; an empty cell is no zero."""
    with pytest.raises(NotUnderstood, match="there is no value") as refused:
        read_repeats(text)
    assert "not read" in refused.value.next_step


def test_one_bad_repeat_spoils_the_row() -> None:
    with pytest.raises(NotUnderstood):
        read_repeats("64 x 65")


@given(st.decimals(-1000, 1000, places=2), st.sampled_from([".", ","]))
def test_every_plain_figure_comes_back_with_its_digits(number: Decimal, mark: str) -> None:
    text = str(number).replace(".", mark)
    assert read_value(text).number == number
    assert read_value(text).text == text


@given(st.text(max_size=30))
def test_any_text_is_a_figure_or_a_refusal(text: str) -> None:
    """Nothing else comes out, whatever is typed: no other error, no infinite or missing number."""
    try:
        value = read_value(text)
    except NotUnderstood:
        return
    assert value.number.is_finite()
    assert value.text.isascii() or set(value.text) & set("\u2212\u2264\u2265")
