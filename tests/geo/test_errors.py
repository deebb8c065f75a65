"""The one error of a user: one line, safe to show, never endless."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.errors import InputError, near_matches, one_line


@given(st.text(max_size=400))
def test_whatever_was_typed_the_error_is_one_printable_line(typed):
    said = str(InputError(f"'{typed}' is not known"))
    assert said.isprintable()
    assert len(said) <= 1000
    said.encode()


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("a\nb", r"a\nb"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("\udcff", r"\udcff"),
        ("\u202egnp", r"\u202egnp"),
        ("山 é ²", "山 é ²"),
    ],
)
def test_what_a_terminal_would_act_on_is_escaped(typed, shown):
    assert one_line(typed) == shown


def test_what_is_endless_is_cut():
    assert one_line("x" * 5000) == "x" * 197 + "..."
    assert len(one_line("word " * 5000)) == 1000
    path = "/a/" + "b" * 150 + "/hill.toml"
    assert one_line(f"cannot read {path}") == f"cannot read {path}"


def test_no_near_match_is_looked_for_in_a_novel():
    """The search takes time with the square of the length."""
    start = time.process_time()
    assert near_matches("x" * 100_000, ["height_m"] * 1000) == ""
    assert time.process_time() - start < 0.5


def test_a_slip_in_another_word_is_met_too():
    meant = {"efhw": ("end-fed",), "efrw": ("random",), "rock": ("poor",)}
    assert near_matches("efwh", ["end-fed", "random"], meant) == (
        "did you mean 'end-fed'?"
    )
    assert near_matches("rocck", ["dry", "poor"], meant) == "did you mean 'poor'?"
    assert near_matches("rocck", ["dry"], meant) == ""
