"""The comments in which fixtures state what must be found."""

from __future__ import annotations

import pytest

from isolint.errors import IsolintError
from tests.expectations import Expectation, expectations, states_none

TEXT = """a board
* expect: led-unlimited
* expect: transfer-margin-low margin=0.71 unit=x

* another comment
R1 a b 1k
+ tc=1
  *expect-open: part-unknown
; c
XU1 a b DEMO
* expect: ground-tie
"""


def test_expectations_stand_above_the_card_they_are_about() -> None:
    assert expectations(TEXT) == [
        Expectation("fail", "led-unlimited", {}, 2, 6),
        Expectation("fail", "transfer-margin-low", {"margin": 0.71, "unit": "x"}, 3, 6),
        Expectation("open", "part-unknown", {}, 8, 10),
        Expectation("fail", "ground-tie", {}, 11, 0),
    ]


def test_none_says_that_nothing_may_be_found() -> None:
    assert expectations("* expect: none\nR1 a b 1\n") == []
    assert states_none("* expect: none\n")
    assert not states_none(TEXT)
    assert expectations("R1 a b 1\n* what to expect: nothing\n") == []


@pytest.mark.parametrize(
    "comment",
    ["* expect:", "* expect: Not A Slug", "* expect: led-unlimited margin 0.7", "* expect: none\n* expect: x"],
)
def test_a_comment_that_states_nothing_is_an_error(comment: str) -> None:
    with pytest.raises(IsolintError):
        expectations(comment)
