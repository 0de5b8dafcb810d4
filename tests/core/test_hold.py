"""The hold, rule by rule, on strokes written as letters (see ``exact_rider.LETTERS``).

g = good, o and k = out by position, e = out by effort, u = unknown for 0.6 s, U = for 1 s.
"""

from __future__ import annotations

import pytest
from exact_rider import strokes
from hypothesis import Phase as Stage
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import hold
from posewatch.core.hold import HoldOutput, HoldState
from posewatch.core.outputs import BriefDrift, HoldGained, HoldLost, Phase, Reason
from posewatch.core.records import Channel
from posewatch.core.timebase import to_ns

STROKE_NS = to_ns(0.6)
ALL_REASONS = (
    Reason.OUT_OF_SADDLE,
    Reason.HAND_OFF,
    Reason.COASTED,
    Reason.BACK_PEDALLED,
    Reason.NOT_SEEN,
    Reason.CAMERA,
    Reason.PAUSED,
)
WITH_SIT_IN = {Reason.OUT_OF_SADDLE, Reason.COASTED, Reason.BACK_PEDALLED}


def ride(
    letters: str, state: HoldState | None = None, start_ns: int = 0
) -> tuple[HoldState, str, list[HoldOutput]]:
    """Return the state, one letter a stroke (x = it counts, . = not) and what changed."""
    state = HoldState() if state is None else state
    marks = ""
    outputs: list[HoldOutput] = []
    for stroke in strokes(letters, start_ns):
        state, counts, found = hold.step(state, stroke)
        marks += "x" if counts else "."
        outputs += found
    return state, marks, outputs


def counted(letters: str) -> str:
    return ride(letters)[1]


def in_position() -> HoldState:
    state = ride("ggggg")[0]
    assert state.phase is Phase.IN_POSITION
    return state


def losses(letters: str) -> list[Reason]:
    return [o.reason for o in ride(letters)[2] if isinstance(o, HoldLost)]


# --- steadying -------------------------------------------------------------------------------


def test_five_good_strokes_in_a_row_steady_the_hold_and_do_not_count() -> None:
    state, marks, outputs = ride("gggggggg")
    assert marks == ".....xxx"
    assert outputs == [HoldGained(5 * STROKE_NS)]
    assert state.phase is Phase.IN_POSITION


@pytest.mark.parametrize("other", "oeuU")
def test_any_other_stroke_begins_the_steadying_anew(other: str) -> None:
    assert counted(f"gggg{other}gggggg") == "." * 10 + "x"


def test_four_good_strokes_are_not_enough() -> None:
    assert counted("ggggogggg") == "." * 9


def test_after_a_loss_by_drift_three_good_strokes_are_enough_within_ten_seconds() -> None:
    assert counted("ggggg" + "ooo" + "gggg") == "........" + "...x"


@pytest.mark.parametrize(
    ("bad_between", "needed"),
    # The loss is at the third stroke out; 13 more of 0.6 s and three good ones end 9.6 s later,
    # 14 more and three good ones 10.2 s later.
    [(13, 3), (14, 5)],
)
def test_after_ten_seconds_five_are_needed_again(bad_between: int, needed: int) -> None:
    marks = counted("ggggg" + "ooo" + "o" * bad_between + "gggggggg")
    assert marks[-8:] == "." * needed + "x" * (8 - needed)


def test_after_a_loss_by_unknown_strokes_five_are_needed() -> None:
    assert counted("ggggg" + "uu" + "gggggg") == "......." + ".....x"


# --- in position: brief drift -----------------------------------------------------------------


@pytest.mark.parametrize("departure", ["o", "oo", "k", "ok", "e", "ee", "eee", "eeee", "oeeo"])
def test_a_brief_drift_does_not_count_and_keeps_the_hold(departure: str) -> None:
    state, marks, outputs = ride("ggggg" + "gg" + departure + "gg")
    assert marks == ".....xx" + "." * len(departure) + "xx"
    assert state.phase is Phase.IN_POSITION
    (drift,) = outputs[1:]
    assert isinstance(drift, BriefDrift)
    assert drift.start_ns == 7 * STROKE_NS
    assert drift.end_ns == (7 + len(departure)) * STROKE_NS
    assert drift.n_strokes == len(departure)


def test_a_brief_drift_names_the_channel_and_the_way_back() -> None:
    (drift,) = ride("ggggg" + "g" + "kk" + "g")[2][1:]
    assert isinstance(drift, BriefDrift)
    assert (drift.channel, drift.direction) == (Channel.KNEE, "heels higher")


@pytest.mark.parametrize(
    ("departure", "reason"),
    [
        ("ooo", Reason.DRIFT),
        ("kok", Reason.DRIFT),
        ("oeoeo", Reason.DRIFT),
        ("eeeee", Reason.EFFORT),
        ("eeeoe", Reason.EFFORT),
    ],
)
def test_a_longer_departure_loses_the_hold(departure: str, reason: Reason) -> None:
    _, marks, outputs = ride("ggggg" + "gg" + departure)
    assert marks == ".....xx" + "." * len(departure)
    lost = outputs[-1]
    assert isinstance(lost, HoldLost)
    assert lost.reason is reason
    assert lost.t_ns == (7 + len(departure)) * STROKE_NS


def test_a_loss_names_the_channel_and_the_way_back() -> None:
    lost = ride("ggggg" + "ooo")[2][-1]
    assert isinstance(lost, HoldLost)
    assert (lost.channel, lost.direction) == (Channel.TORSO, "lower, bend elbows")


def test_over_five_bad_among_the_last_twenty_lose_the_hold() -> None:
    assert losses("ggggg" + "go" * 5 + "g") == []
    assert losses("ggggg" + "go" * 6) == [Reason.TOO_OFTEN]


def test_bad_strokes_further_back_than_twenty_are_forgotten() -> None:
    # Five bad ones, then so many good ones that the first has left the window when the sixth comes.
    assert losses("ggggg" + "og" * 5 + "g" * 10 + "og") == []
    assert losses("ggggg" + "og" * 5 + "g" * 9 + "og") == [Reason.TOO_OFTEN]


def test_skipped_unknown_strokes_are_bad_ones_too() -> None:
    assert losses("ggggg" + "gu" * 3 + "go" * 3) == [Reason.TOO_OFTEN]


def test_only_good_strokes_count() -> None:
    letters = "ggggg" + "ggoggeuggkggg"
    marks = counted(letters)
    assert "x" in marks
    assert all(letter == "g" for letter, mark in zip(letters, marks, strict=True) if mark == "x")


# --- in position: unknown strokes ---------------------------------------------------------------


def test_one_unknown_stroke_under_a_second_is_skipped() -> None:
    state, marks, outputs = ride("ggggg" + "gg" + "u" + "gg")
    assert marks == ".....xx.xx"
    assert state.phase is Phase.IN_POSITION
    assert len(outputs) == 1


@pytest.mark.parametrize("unknown", ["uu", "U", "uU"])
def test_two_unknown_strokes_or_a_whole_second_lose_the_hold(unknown: str) -> None:
    assert losses("ggggg" + "gg" + unknown) == [Reason.UNKNOWN]
    assert counted("ggggg" + "gg" + unknown + "gg")[-2:] == ".."


def test_unknown_strokes_apart_are_each_skipped() -> None:
    assert counted("ggggg" + "gugug") == ".....x.x.x"


@pytest.mark.parametrize("departure", ["ouo", "oou", "uoo", "uou"])
def test_an_unknown_stroke_within_a_departure_is_no_better_than_one_out(departure: str) -> None:
    # Three strokes out lose the hold; not seeing one of them must not save it.
    state, _, outputs = ride("ggggg" + "gg" + departure)
    assert isinstance(outputs[-1], HoldLost)
    assert state.phase is Phase.STEADYING


# --- gross events -------------------------------------------------------------------------------


@pytest.mark.parametrize("reason", ALL_REASONS)
def test_a_gross_event_loses_the_hold_at_once_for_its_own_reason(reason: Reason) -> None:
    t_ns = 6 * STROKE_NS
    state, outputs = hold.begin_event(in_position(), t_ns, reason)
    assert outputs == (HoldLost(t_ns, reason),)
    expected = Phase.SIT_IN if reason in WITH_SIT_IN else Phase.STEADYING
    assert state.phase is expected
    assert ride("gggggggg", state, t_ns)[1] == "........"


@pytest.mark.parametrize("reason", ALL_REASONS)
def test_after_it_the_sit_in_comes_first_where_the_body_settles_anew(reason: Reason) -> None:
    began_ns, ended_ns = 6 * STROKE_NS, 10 * STROKE_NS
    state, _ = hold.begin_event(in_position(), began_ns, reason)
    state = hold.end_event(state, ended_ns, reason, sit_in_ns=10 * STROKE_NS)
    waits = 10 if reason in WITH_SIT_IN else 0
    assert ride("g" * 20, state, ended_ns)[1] == "." * (waits + 5) + "x" * (15 - waits)


def test_a_stroke_that_began_within_the_sit_in_does_not_steady() -> None:
    state, _ = hold.begin_event(in_position(), 0, Reason.COASTED)
    state = hold.end_event(state, 0, Reason.COASTED, sit_in_ns=STROKE_NS + 1)
    assert ride("g" * 9, state)[1] == "." * 7 + "xx"


def test_a_gross_event_takes_the_short_steadying_away() -> None:
    lost = ride("ggggg" + "ooo")[0]
    state, outputs = hold.begin_event(lost, 8 * STROKE_NS, Reason.HAND_OFF)
    assert outputs == ()
    state = hold.end_event(state, 8 * STROKE_NS, Reason.HAND_OFF, 0)
    assert ride("gggggg", state, 8 * STROKE_NS)[1] == ".....x"


def test_all_events_must_be_over_before_steadying() -> None:
    state, _ = hold.begin_event(in_position(), 0, Reason.HAND_OFF)
    state, _ = hold.begin_event(state, 0, Reason.NOT_SEEN)
    state = hold.end_event(state, 0, Reason.NOT_SEEN, 0)
    assert ride("gggggg", state)[1] == "......"
    state = hold.end_event(state, 0, Reason.HAND_OFF, 0)
    assert ride("gggggg", state)[1] == ".....x"


def test_a_later_event_does_not_cut_a_sit_in_short() -> None:
    state, _ = hold.begin_event(in_position(), 0, Reason.OUT_OF_SADDLE)
    state = hold.end_event(state, 0, Reason.OUT_OF_SADDLE, 10 * STROKE_NS)
    state, _ = hold.begin_event(state, STROKE_NS, Reason.HAND_OFF)
    state = hold.end_event(state, 2 * STROKE_NS, Reason.HAND_OFF, 10 * STROKE_NS)
    assert ride("g" * 14, state, 2 * STROKE_NS)[1] == "." * 13 + "x"


# --- properties ---------------------------------------------------------------------------------

any_ride = st.text("ggggggoukeU", max_size=60).map(lambda letters: "ggggg" + letters)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(any_ride)
def test_gained_and_lost_take_turns_and_nothing_counts_outside(letters: str) -> None:
    state, held = HoldState(), False
    for stroke in strokes(letters):
        was_held = held
        state, counts, outputs = hold.step(state, stroke)
        for output in outputs:
            if isinstance(output, BriefDrift):
                assert held
            else:
                assert held == isinstance(output, HoldLost)
                held = not held
        assert counts <= was_held
        assert counts <= (stroke.verdict.value == "good")
        assert (state.phase is Phase.IN_POSITION) == held


@settings(max_examples=150, derandomize=True, deadline=None, phases=(Stage.generate,))
@given(st.text("ggggoke", min_size=1, max_size=30), st.data())
def test_a_stroke_not_seen_never_makes_the_hold_last_longer(
    letters: str, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(letters) - 1))
    blinded = letters[:at] + "u" + letters[at + 1 :]
    seen, unseen = (
        [o.t_ns for o in ride("ggggg" + some)[2] if isinstance(o, HoldLost)]
        for some in (letters, blinded)
    )
    if seen:
        assert unseen
        assert unseen[0] <= seen[0]
