"""What of a text can be seen."""

import pytest

from app.base.seen import find_unseen


@pytest.mark.parametrize("text", ["", "Ana Lind", "علی رضا", "7/b", "王小明"])
def test_what_is_printed_is_seen(text: str) -> None:
    assert find_unseen(text, is_name=True) is None
    assert find_unseen(text, is_name=False) is None


@pytest.mark.parametrize("sign", ["\n", "\x1b", "\N{NO-BREAK SPACE}", "\N{RIGHT-TO-LEFT OVERRIDE}", "\0"])
def test_the_first_that_is_not_is_found(sign: str) -> None:
    assert find_unseen(f"A{sign}b\x07", is_name=True) == sign


@pytest.mark.parametrize("joiner", ["\N{ZERO WIDTH NON-JOINER}", "\N{ZERO WIDTH JOINER}"])
def test_letters_of_a_name_may_be_joined_and_no_number_is(joiner: str) -> None:
    assert find_unseen(f"علی{joiner}رضا", is_name=True) is None
    assert find_unseen(f"7{joiner}1", is_name=False) == joiner
