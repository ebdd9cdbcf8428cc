"""The tag code catches what hands and eyes do; python-stdnum's published schemes stand beside it for comparison."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import luhn
from stdnum.iso7064 import mod_37_2, mod_37_36

from inventory.errors import Refused
from inventory.tags import code

bodies = st.text(code.ALPHABET, min_size=code.BODY, max_size=code.BODY)
places = st.integers(0, code.LENGTH - 1)
characters = st.sampled_from(code.ALPHABET)


def swapped(text: str, i: int, j: int) -> str:
    out = list(text)
    out[i], out[j] = out[j], out[i]
    return "".join(out)


def test_no_two_characters_of_the_alphabet_are_those_taken_for_one_another():
    assert len(code.ALPHABET) == len(set(code.ALPHABET)) == 31
    assert not set(code.ALPHABET) & set("0O1IL")


@given(bodies)
def test_a_made_code_is_taken_whatever_way_it_is_typed(body):
    made = code.with_check(body)
    assert code.validate(made) == code.validate(f" {code.format(made).lower()} ") == made
    assert set(made) <= set(code.ALPHABET)


@given(bodies, places, characters)
def test_every_single_wrong_character_is_caught(body, at, wrong):
    made = code.with_check(body)
    typed = made[:at] + wrong + made[at + 1 :]
    assert code.is_valid(typed) == (typed == made)


@given(bodies, places, places)
def test_every_swap_of_any_two_places_is_caught(body, i, j):
    made = code.with_check(body)
    typed = swapped(made, i, j)
    assert code.is_valid(typed) == (typed == made)


@given(bodies, characters, characters, places, places)
def test_every_twin_that_becomes_another_twin_is_caught(body, first, second, i, j):
    if code.BODY in (i, j) or i == j:
        return
    out = list(body)
    out[i] = out[j] = first
    made = code.with_check("".join(out))
    out[i] = out[j] = second
    assert code.is_valid("".join(out) + made[-1]) == (first == second)


def test_all_single_errors_and_all_swaps_of_some_codes_without_sampling():
    rng = random.Random(31)
    for _ in range(20):
        made = code.make(rng)
        wrong = {made[:i] + c + made[i + 1 :] for i in range(code.LENGTH) for c in code.ALPHABET} - {made}
        swaps = {swapped(made, i, j) for i in range(code.LENGTH) for j in range(i)} - {made}
        assert len(wrong) == code.LENGTH * 30
        assert not [typed for typed in wrong | swaps if code.is_valid(typed)]


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("ABCD", "tag-length"),
        ("", "tag-length"),
        ("ABCD-EFGH-32", "tag-length"),
        ("ABCD-EFGO-2", "tag-alphabet"),
        ("ABCD-EFGÉ-2", "tag-alphabet"),
        ("ABCD-EFGH-4", "tag-check"),
    ],
)
def test_a_refusal_says_what_is_wrong(typed, why):
    with pytest.raises(Refused) as refused:
        code.validate(typed)
    assert refused.value.code == why


def test_a_look_alike_is_named_as_such():
    with pytest.raises(Refused, match="never hold 0, O, 1, I or L"):
        code.validate("ABCD-EFG0-2")


def test_the_same_seed_makes_the_same_code_and_two_codes_differ():
    assert code.make(random.Random(7)) == code.make(random.Random(7))
    assert code.make() != code.make()


@pytest.mark.parametrize(
    "scanned",
    [
        "ABCDEFGH3",
        "abcd efgh 3",
        "HTTPS://YARD.EXAMPLE/T/ABCDEFGH3",
        "https://yard.example:8000/t/abcdefgh3/",
        "https://yard.example/gear/t/ABCD-EFGH-3?x=1",
    ],
)
def test_a_scan_gives_the_code_from_an_address_or_bare(scanned):
    assert code.from_scan(scanned) == "ABCDEFGH3"


def test_what_is_printed_is_read_back():
    printed = code.address("https://yard.example/", "abcd-efgh-3")
    assert printed == "HTTPS://YARD.EXAMPLE/T/ABCDEFGH3"
    assert code.validate(code.from_scan(printed)) == "ABCDEFGH3"


# --- beside the schemes of python-stdnum (ISO/IEC 7064 and the Luhn algorithm of ISO/IEC 7812-1)


def missed(calc, bodies_tried, changed):
    """How many of the changed texts the scheme takes for right."""
    return sum(calc(typed[:-1]) == typed[-1] for body in bodies_tried for typed in changed(body + calc(body)))


def jump_swaps(text):
    return {swapped(text, i, i + 2) for i in range(len(text) - 2)} - {text}


def neighbours(text):
    return {swapped(text, i, i + 1) for i in range(len(text) - 1)} - {text}


def sample(count=300):
    rng = random.Random(2026)
    return ["".join(rng.choice(code.ALPHABET) for _ in range(code.BODY)) for _ in range(count)]


def luhn_31(body: str) -> str:
    return luhn.calc_check_digit(body, alphabet=code.ALPHABET)


def test_luhn_misses_every_swap_over_one_that_leaves_the_check_alone_and_ours_none():
    tried = sample()
    within_body = sum(len(jump_swaps(body)) for body in tried)
    assert missed(luhn_31, tried, lambda made: {t + made[-1] for t in jump_swaps(made[:-1])}) == within_body
    assert missed(code.check_character, tried, jump_swaps) == 0


def test_luhn_over_31_characters_misses_some_swaps_of_neighbours_and_ours_none():
    tried = sample(2000)
    assert missed(luhn_31, tried, neighbours) > 0
    assert missed(code.check_character, tried, neighbours) == 0


def test_mod_37_36_misses_some_swaps_over_one_and_ours_none():
    tried = sample(1000)
    assert missed(mod_37_36.calc_check_digit, tried, jump_swaps) > 0
    assert missed(code.check_character, tried, jump_swaps) == 0


def test_mod_37_2_misses_none_of_these_but_its_check_leaves_the_alphabet():
    tried = sample()
    assert missed(mod_37_2.calc_check_digit, tried, lambda t: jump_swaps(t) | neighbours(t)) == 0
    assert {mod_37_2.calc_check_digit(body) for body in tried} - set(code.ALPHABET)
    assert not {code.check_character(body) for body in tried} - set(code.ALPHABET)
