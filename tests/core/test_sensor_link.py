"""The link's decisions with a clock that only the test moves."""

from __future__ import annotations

import pytest

from posewatch.core import sensor_link
from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_link import (
    OBSTACLES,
    Blocked,
    Came,
    Cause,
    Closed,
    Do,
    Ended,
    LinkLimits,
    LinkState,
    Looked,
    Opened,
    Phase,
    Probed,
    Refused,
)
from posewatch.core.timebase import to_ns

LIMITS = LinkLimits()
POWER, HEART = "2A63", "2A37"


class Told:
    """A link, told what happens at seconds of a made-up clock."""

    def __init__(self) -> None:
        self.state: LinkState = sensor_link.begin(0)

    def at(self, t_s: float, *events: sensor_link.LinkEvent) -> LinkState:
        for event in events:
            self.state = sensor_link.step(self.state, to_ns(t_s), event, LIMITS)
        self.state = sensor_link.tick(self.state, to_ns(t_s), LIMITS)
        return self.state

    def values(
        self, begin_s: float, end_s: float, stream: str = POWER, still: bool = False
    ) -> None:
        """Let a value come each second; still: always the same."""
        n = 0
        while begin_s + n <= end_s:
            self.at(begin_s + n, Came(stream, b"" if still else bytes([n % 256])))
            n += 1


def connected(*streams: str) -> Told:
    told = Told()
    told.at(0.0, Looked(True), Opened(streams or (POWER,)))
    return told


def live(*streams: str) -> Told:
    told = connected(*streams)
    for one in streams or (POWER,):
        told.at(1.0, Came(one, b"first"))
    return told


def test_the_way_from_the_search_to_the_first_value() -> None:
    told = Told()
    assert (told.state.phase, told.state.do) == (Phase.SEARCHING, Do.LOOK)
    assert told.at(0.5, Looked(True)).phase is Phase.CONNECTING
    assert told.state.do is Do.OPEN
    assert told.at(1.0, Opened((POWER,))).phase is Phase.CONNECTING
    assert told.state.do is Do.STAY
    assert told.at(1.5, Came(POWER, b"1")).phase is Phase.LIVE
    assert told.state.live_ns == to_ns(1.5)


def test_the_pauses_between_looks_grow_to_the_last_and_stay_there() -> None:
    told = Told()
    pauses_s = []
    for n in range(6):
        told.at(10.0 * n, Looked(False))
        pauses_s.append((told.state.due_ns - to_ns(10.0 * n)) / NS_PER_S)
    assert pauses_s == [0.2, 0.5, 1.0, 1.5, 1.5, 1.5]
    assert (told.state.phase, told.state.cause) == (Phase.SEARCHING, Cause.NOT_SEEN)


def test_no_value_for_three_seconds_makes_it_silent_and_asks_for_the_battery() -> None:
    told = live()
    assert told.at(3.9).phase is Phase.LIVE
    assert told.at(4.0).phase is Phase.SILENT
    assert (told.state.cause, told.state.do) == (Cause.STOPPED, Do.PROBE)
    told.at(4.1, Probed(True))
    assert (told.state.phase, told.state.do) == (Phase.SILENT, Do.CLOSE)
    told.at(4.2, Closed())
    assert (told.state.do, told.state.due_ns) == (Do.LOOK, to_ns(4.2))


def test_one_that_does_not_answer_either_is_out_of_reach() -> None:
    told = live()
    told.at(4.0)
    told.at(6.0, Probed(False))
    assert (told.state.phase, told.state.cause) == (Phase.LOST, Cause.FADED)
    assert told.state.do is Do.CLOSE


def test_the_shell_is_told_when_to_look_at_the_clock_again() -> None:
    told = live()
    assert told.state.due_ns == to_ns(4.0)
    told.at(2.5, Came(POWER, b"2"))
    assert told.state.due_ns == to_ns(5.5)


def test_a_value_during_the_probe_makes_it_live_and_keeps_the_link() -> None:
    told = live()
    told.at(4.0)
    assert told.state.do is Do.PROBE
    assert told.at(4.05, Came(POWER, b"2")).phase is Phase.LIVE
    told.at(4.1, Probed(True))
    assert told.state.do is Do.STAY


def test_one_that_stays_silent_is_connected_anew_only_now_and_then() -> None:
    told = live()
    told.at(4.0)
    told.at(4.1, Probed(True), Closed(), Looked(True), Opened((POWER,)))
    told.at(7.2)
    assert told.state.phase is Phase.SILENT
    assert told.state.do is Do.STAY
    assert told.at(34.0).do is Do.STAY
    assert told.at(34.1).do is Do.PROBE


def test_a_value_gives_the_right_to_be_connected_anew_at_once() -> None:
    told = live()
    told.at(4.0)
    told.at(4.1, Probed(True), Closed(), Looked(True), Opened((POWER,)), Came(POWER, b"2"))
    assert told.at(7.2).do is Do.PROBE


def test_one_stream_that_stops_beside_another_is_connected_anew_once() -> None:
    told = live(POWER, HEART)
    told.values(2.0, 4.0, POWER)
    assert told.state.phase is Phase.SILENT
    assert told.state.do is Do.PROBE
    told.at(4.1, Probed(True), Closed(), Looked(True), Opened((POWER, HEART)))
    told.values(5.0, 100.0, POWER)
    assert told.state.phase is Phase.LIVE
    assert told.state.do is Do.STAY


def test_a_stream_that_never_says_anything_beside_others_is_no_fault() -> None:
    told = connected(POWER, HEART)
    told.values(1.0, 100.0, POWER)
    assert told.state.phase is Phase.LIVE


def test_no_first_value_makes_it_silent_too() -> None:
    told = connected()
    assert told.at(2.9).phase is Phase.CONNECTING
    told.at(3.0)
    assert (told.state.phase, told.state.cause) == (Phase.SILENT, Cause.NO_FIRST_VALUE)


@pytest.mark.parametrize(
    ("last_s", "still", "ended_s", "cause"),
    [
        (40.0, False, 40.4, Cause.SUDDEN),
        (40.0, True, 40.4, Cause.AT_REST),
        (40.0, False, 42.0, Cause.FADED),
    ],
)
def test_the_likely_cause_of_a_loss_is_read_from_the_last_values(
    last_s: float, still: bool, ended_s: float, cause: Cause
) -> None:
    told = connected()
    told.values(1.0, last_s, still=still)
    told.at(ended_s, Ended())
    assert (told.state.phase, told.state.cause, told.state.do) == (Phase.LOST, cause, Do.CLOSE)
    told.at(ended_s, Closed())
    assert told.state.do is Do.LOOK
    assert told.at(ended_s + 4.0, Looked(False)).cause is cause


def test_seen_twice_and_refused_twice_is_taken() -> None:
    told = Told()
    assert told.at(0.0, Looked(True), Refused()).phase is Phase.CONNECTING
    assert told.at(1.0, Closed(), Looked(True), Refused()).phase is Phase.TAKEN
    assert told.state.do is Do.CLOSE
    told.at(2.0, Closed())
    assert told.state.due_ns > to_ns(2.0)
    assert told.at(3.0, Looked(False)).phase is Phase.SEARCHING


def test_a_link_that_ends_before_its_first_value_is_a_refusal() -> None:
    told = connected()
    told.at(0.5, Ended(), Closed(), Looked(True), Opened((POWER,)), Ended())
    assert told.state.phase is Phase.TAKEN


def test_one_without_anything_to_read_is_let_go() -> None:
    told = Told()
    told.at(0.0, Looked(True), Opened(()))
    assert (told.state.cause, told.state.do) == (Cause.NOTHING_TO_READ, Do.CLOSE)


@pytest.mark.parametrize("phase", OBSTACLES)
def test_without_bluetooth_it_looks_again_every_two_seconds(phase: Phase) -> None:
    told = Told()
    told.at(1.0, Blocked(phase))
    assert (told.state.phase, told.state.do, told.state.due_ns) == (phase, Do.LOOK, to_ns(3.0))
    told.at(3.0, Blocked(phase))
    assert told.state.since_ns == to_ns(1.0)


def test_bluetooth_that_goes_off_while_connected_closes_the_link_first() -> None:
    told = live()
    assert told.at(2.0, Blocked(Phase.OFF)).do is Do.CLOSE


def test_what_an_old_link_still_says_changes_nothing() -> None:
    told = live()
    told.at(2.0, Ended())
    lost = told.state
    told.at(2.1, Came(POWER, b"late"), Ended())
    assert told.state == lost


def test_values_of_other_characteristics_do_not_make_it_live() -> None:
    told = connected()
    assert told.at(1.0, Came("2A64", b"vector")).phase is Phase.CONNECTING
