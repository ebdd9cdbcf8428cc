"""GIAI by the rules GS1 publishes: General Specifications, application identifier (8004)."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from stdnum import gs1_128

from inventory.errors import Refused
from inventory.tags import giai

identifiers = st.builds(
    lambda prefix, rest: (prefix + rest)[:30],
    st.text("0123456789", min_size=4, max_size=12),
    st.text(sorted(giai.CSET_82), max_size=26),
)


def test_character_set_82_has_82_characters():
    assert len(giai.CSET_82) == 82


@given(identifiers)
def test_what_is_valid_here_is_valid_to_python_stdnum(identifier):
    assert giai.validate(identifier) == identifier
    assume(not set(identifier) & set("()"))  # python-stdnum drops brackets even inside a value
    assert gs1_128.info(f"(8004){identifier}")["8004"] == identifier


@given(identifiers)
def test_a_digital_link_leads_back(identifier):
    assert giai.validate(giai.digital_link(identifier)) == identifier


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "giai-length"),
        ("0614141" + "A" * 24, "giai-length"),
        ("0614141 FW7", "giai-characters"),
        ("0614141é", "giai-characters"),
        ("0614141#1", "giai-characters"),
        ("061FW7K3F9", "giai-prefix"),
        ("https://yard.example/t/ABCDEFGH3", "giai-link"),
        ("https://yard.example/8004", "giai-link"),
    ],
)
def test_a_refusal_says_what_is_wrong(text, why):
    with pytest.raises(Refused) as refused:
        giai.validate(text)
    assert refused.value.code == why


def test_python_stdnum_takes_a_space_that_the_character_set_forbids_so_the_check_is_ours():
    assert gs1_128.is_valid("(8004)0614141 FW7")
    assert not giai.is_valid("0614141 FW7")
