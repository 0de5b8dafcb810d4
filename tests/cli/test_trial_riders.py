"""Which hand position is ridden with which source."""

from __future__ import annotations

import pytest

from posewatch.cli.trial_riders import by_hands
from posewatch.errors import BadInput

HANDS = ("hoods", "drops")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ((), {}),
        (("0",), {"hoods": "0", "drops": "0"}),
        (("hoods=a.mp4", "drops=b.mp4"), {"hoods": "a.mp4", "drops": "b.mp4"}),
        (("0", "drops=b.mp4"), {"hoods": "0", "drops": "b.mp4"}),
        (("drops=b.mp4",), {"drops": "b.mp4"}),
        # An address may hold the sign, too.
        (("http://camera/?q=1",), {"hoods": "http://camera/?q=1", "drops": "http://camera/?q=1"}),
        (("hoods=http://camera/?q=1",), {"hoods": "http://camera/?q=1"}),
        (("aero=c.mp4",), {"hoods": "aero=c.mp4", "drops": "aero=c.mp4"}),
    ],
)
def test_for_one_hand_position_or_for_all(words: tuple[str, ...], found: dict[str, str]) -> None:
    assert by_hands("--source", words, HANDS) == found


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("0", "1"), "--source is given 2 times without a hand position."),
        (("hoods=a", "hoods=b"), "--source is given twice for hoods."),
    ],
)
def test_one_too_many(words: tuple[str, ...], said: str) -> None:
    with pytest.raises(BadInput) as raised:
        by_hands("--source", words, HANDS)
    assert said in str(raised.value)
