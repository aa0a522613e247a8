"""What an error says: name, value, unit and what is expected, as one sentence."""

from __future__ import annotations

import pytest

from topout.errors import OutOfRange


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (OutOfRange("bore", 0.002, "m", 0.01, 0.1), "bore = 0.002 m: 0.01 to 0.1 m is expected."),
        (OutOfRange("bore", 0.002, "m", low=0.01), "bore = 0.002 m: at least 0.01 m is expected."),
        (OutOfRange("bore", 0.2, "m", high=0.1), "bore = 0.2 m: at most 0.1 m is expected."),
        (OutOfRange("share", 2.0, "", 0.0, 1.0), "share = 2: 0 to 1 is expected."),
    ],
)
def test_a_number_out_of_range_is_one_sentence(error: OutOfRange, says: str) -> None:
    assert str(error) == says
