"""What is said of a sensor, and that it is said once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.records import SourceCondition
from posewatch.core.sensor_link import OBSTACLES, Cause, Do, LinkState, Phase
from posewatch.core.sensor_streams import Stream
from posewatch.core.sensor_words import Told, describe, tell
from posewatch.core.timebase import to_ns

LIVE = LinkState(Phase.LIVE, do=Do.STAY, streams=(Stream("2A63", 1),))
SUDDEN = LinkState(Phase.LOST, Cause.SUDDEN)
TAKEN = LinkState(Phase.TAKEN, Cause.REFUSED)


def test_a_loss_and_a_return_are_each_told_once() -> None:
    told, said = tell(Told(), LIVE, "Crank", to_ns(1.0))
    assert [one.condition for one in said] == [SourceCondition.RUNNING]
    assert tell(told, LIVE, "Crank", to_ns(2.0)) == (told, ())
    told, said = tell(told, SUDDEN, "Crank", to_ns(3.0))
    assert [(one.source, one.condition) for one in said] == [("Crank", SourceCondition.LOST)]
    assert tell(told, SUDDEN, "Crank", to_ns(4.0)) == (told, ())
    told, said = tell(told, TAKEN, "Crank", to_ns(5.0))
    assert "another program" in said[0].text
    told, said = tell(told, LIVE, "Crank", to_ns(9.5))
    assert said[0].text == "Crank gives values again after 6.5 s."


def test_a_first_search_and_connecting_are_not_losses() -> None:
    assert tell(Told(), LinkState(), "Crank", 0)[1] == ()
    assert tell(Told(), LinkState(Phase.CONNECTING), "Crank", 0)[1] == ()
    _, said = tell(Told(), LinkState(cause=Cause.NOT_SEEN), "Crank", 0)
    assert said[0].condition is SourceCondition.LOST


@pytest.mark.parametrize("phase", Phase)
@pytest.mark.parametrize("cause", Cause)
def test_every_state_has_words(phase: Phase, cause: Cause) -> None:
    text = describe(LinkState(phase, cause), "Crank")
    assert text.endswith(".")
    assert "Crank" in text or phase in OBSTACLES


def test_a_service_that_says_nothing_is_named_beside_those_that_do() -> None:
    both = replace(LIVE, streams=(Stream("2A63", 1), Stream("2A37")))
    assert describe(both, "Crank") == "Crank gives values. It sends no heart rate."
