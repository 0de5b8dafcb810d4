"""What the weave holds: cells, fates, cuts; painted elsewhere."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from exact_rider import target
from made_operator_scenes import live

from posewatch.core.cues import LiveChannel
from posewatch.core.intervals import MIN_RUN_STROKES
from posewatch.core.outputs import (
    BriefDrift,
    ChannelValue,
    HoldLost,
    Output,
    Phase,
    Reason,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import (
    BODY_CHANNELS,
    NS_PER_S,
    VIEW,
    Channel,
    Command,
    CommandKind,
    SourceCondition,
    SourceState,
    Tick,
    Verdict,
)
from posewatch.core.watch_plan import WatchPlan
from posewatch.ui import weave_view
from posewatch.ui.weave_view import KEPT, Cell, Column, Cut, Fate, Shade, WeaveView

TORSO_ROW = 0


def stroke(
    index: int,
    counted: bool = False,
    phase: Phase = Phase.IN_POSITION,
    verdict: Verdict = Verdict.GOOD,
    torso: float = 0.0,
) -> StrokeJudged:
    values = tuple(
        ChannelValue(
            channel,
            torso if channel is Channel.TORSO else 0.0,
            0.0,
            verdict if channel is Channel.TORSO else Verdict.GOOD,
            channel is not Channel.PELVIS_HEIGHT,
        )
        for channel in BODY_CHANNELS
    )
    begin_ns = index * NS_PER_S
    return StrokeJudged(begin_ns, begin_ns + NS_PER_S, verdict, counted, phase, values, None)


def woven(*outputs: Output, view: WeaveView | None = None) -> WeaveView:
    view = weave_view.start(target(), WatchPlan()) if view is None else view
    for output in outputs:
        view = weave_view.step(view, Tick(0), (output,))
    return view


def fates(view: WeaveView) -> str:
    """One letter a column: c p s g d n, and | for a cut."""
    letters = {
        Fate.COUNTED: "c",
        Fate.PENDING: "p",
        Fate.SHORT: "s",
        Fate.STEADYING: "g",
        Fate.DRIFT: "d",
        Fate.NOT: "n",
    }
    return "".join("|" if isinstance(c, Cut) else letters[c.fate] for c in view.columns)


def test_required_rows_come_first_then_planned_effort_then_advice() -> None:
    view = weave_view.start(target(), WatchPlan(power_w=200.0))
    assert [row.channel for row in view.rows] == [
        Channel.TORSO,
        Channel.KNEE,
        Channel.HIP,
        Channel.SITTING_PLACE,
        Channel.HAND_PLACE,
        Channel.POWER,
        Channel.PELVIS_HEIGHT,
    ]
    assert [row.limit for row in view.rows][:2] == ["±3°", "±4°"]
    assert view.rows[5].limit == "200 ±14 W"


@pytest.mark.parametrize(
    ("deviation", "verdict", "restless", "shade", "place"),
    [
        (0.0, Verdict.GOOD, False, Shade.INSIDE, 0.0),
        # Inner limit 2.55, outer 3, reach 4.5.
        (2.5, Verdict.GOOD, False, Shade.INSIDE, 2.5 / 4.5),
        (-2.7, Verdict.GOOD, False, Shade.EDGE, -2.7 / 4.5),
        (3.2, Verdict.OUT, False, Shade.OUTSIDE, 3.2 / 4.5),
        # Out by the way back: within the limit, not inside the inner one.
        (2.7, Verdict.OUT, False, Shade.OUTSIDE, 2.7 / 4.5),
        (-9.0, Verdict.OUT, False, Shade.OUTSIDE, -1.0),
        (1.0, Verdict.OUT, True, Shade.RESTLESS, 1.0 / 4.5),
    ],
)
def test_a_cell_tells_shade_and_direction(
    deviation: float, verdict: Verdict, restless: bool, shade: Shade, place: float
) -> None:
    row = weave_view.start(target(), WatchPlan()).rows[TORSO_ROW]
    value = ChannelValue(Channel.TORSO, deviation, 0.0, verdict, True, restless=restless)
    assert weave_view.cell(row, value) == Cell(shade, pytest.approx(place))


def test_a_cell_that_is_not_known_has_no_place() -> None:
    row = weave_view.start(target(), WatchPlan()).rows[TORSO_ROW]
    unknown = ChannelValue(Channel.TORSO, math.nan, math.nan, Verdict.UNKNOWN, True)
    for value in (unknown, None):
        found = weave_view.cell(row, value)
        assert found.shade is Shade.UNKNOWN
        assert math.isnan(found.place)


def test_the_hands_distance_points_the_way_of_its_larger_part() -> None:
    row = weave_view.start(target(), WatchPlan()).rows[4]
    assert row.channel is Channel.HAND_PLACE
    value = ChannelValue(Channel.HAND_PLACE, 0.03, 0.0, Verdict.GOOD, True, along=-0.028, up=0.01)
    assert weave_view.cell(row, value).place == pytest.approx(-0.03 / (1.5 * row.tol))


def test_a_run_is_pending_until_it_is_long_enough() -> None:
    assert MIN_RUN_STROKES == 8
    view = woven(*(stroke(i, phase=Phase.STEADYING) for i in range(5)))
    view = woven(*(stroke(i, counted=True) for i in range(5, 12)), view=view)
    assert fates(view) == "gggggppppppp"
    view = woven(stroke(12, counted=True), view=view)
    assert fates(view) == "gggggcccccccc"
    view = woven(stroke(13, counted=True), view=view)
    assert fates(view) == "gggggccccccccc"


def test_a_run_that_ends_too_early_is_told_apart() -> None:
    view = woven(*(stroke(i, counted=True) for i in range(3)))
    view = woven(ValidInterval(0, 3 * NS_PER_S, 3, False), view=view)
    assert fates(view) == "sss"


def test_a_confirmed_runs_end_changes_nothing() -> None:
    view = woven(*(stroke(i, counted=True) for i in range(8)))
    view = woven(ValidInterval(0, 8 * NS_PER_S, 8, True), view=view)
    assert fates(view) == "c" * 8


def test_a_new_run_after_a_brief_drift_is_pending_again() -> None:
    out = stroke(8, verdict=Verdict.OUT, torso=4.0)
    view = woven(*(stroke(i, counted=True) for i in range(8)), out)
    assert fates(view) == "c" * 8 + "n"
    back = stroke(9, counted=True)
    drift = BriefDrift(8 * NS_PER_S, 9 * NS_PER_S, 1, Channel.TORSO, "lower, bend elbows")
    view = weave_view.step(view, Tick(0), (back, drift))
    assert fates(view) == "c" * 8 + "dp"


def test_a_lost_hold_cuts_the_weave_and_says_why() -> None:
    view = woven(stroke(0), HoldLost(NS_PER_S, Reason.DRIFT, Channel.TORSO), stroke(1))
    assert fates(view)[1] == "|"
    cut = view.columns[1]
    assert isinstance(cut, Cut)
    assert cut.lost
    assert cut.why == "lost: position drifted, torso"


def test_missing_strokes_cut_the_weave_once() -> None:
    view = woven(stroke(0), stroke(5), stroke(6))
    assert fates(view) == "g|gg"
    cut = view.columns[1]
    assert isinstance(cut, Cut)
    assert not cut.lost
    lost = woven(stroke(0), HoldLost(NS_PER_S, Reason.COASTED), stroke(5))
    assert fates(lost) == "g|g"


def test_strokes_in_a_pause_steady_nothing() -> None:
    pause = Command(NS_PER_S, CommandKind.PAUSE, "rest")
    view = weave_view.step(woven(stroke(0)), pause, ())
    view = woven(stroke(2, phase=Phase.STEADYING), view=view)
    assert fates(view) == "g|n"
    cut = view.columns[1]
    assert isinstance(cut, Cut)
    assert cut.why == "rest"
    view = weave_view.step(view, Command(3 * NS_PER_S, CommandKind.RESUME), ())
    assert fates(woven(stroke(3, phase=Phase.STEADYING), view=view)) == "g|ng"


def test_strokes_while_the_view_is_moved_steady_nothing() -> None:
    moved = SourceState(0, VIEW, SourceCondition.VIEW_MOVED)
    view = weave_view.step(woven(stroke(0)), moved, ())
    view = woven(stroke(1), view=view)
    back = SourceState(0, VIEW, SourceCondition.RUNNING)
    view = woven(stroke(2), view=weave_view.step(view, back, ()))
    assert fates(view) == "gng"


def test_strokes_of_a_sit_in_do_not_count() -> None:
    assert fates(woven(stroke(0, phase=Phase.SIT_IN))) == "n"


def test_only_so_many_columns_are_kept_and_all_are_counted() -> None:
    view = woven(*(stroke(i, counted=True) for i in range(KEPT + 30)))
    assert len(view.columns) == KEPT
    assert view.n_columns == KEPT + 30
    assert set(fates(view)) == {"c"}
    last = view.columns[-1]
    assert isinstance(last, Column)
    assert last.start_ns == (KEPT + 29) * NS_PER_S


def test_columns_that_stay_as_they_are_are_the_same_objects() -> None:
    """What is painted anew is told by this."""
    before = woven(*(stroke(i, counted=True) for i in range(9)))
    after = woven(stroke(9, counted=True), view=before)
    assert all(a is b for a, b in zip(before.columns, after.columns[:-1], strict=True))


def test_live_values_are_whole_numbers_and_blanks_are_dashes() -> None:
    view = weave_view.start(target(), WatchPlan())
    torso, sitting = view.rows[0], view.rows[3]
    assert weave_view.live_text(torso, (live(deviation=2.5),)) == "+3°"
    assert weave_view.live_text(torso, (live(deviation=-0.4),)) == "0°"
    assert weave_view.live_text(torso, (live(deviation=-1.6),)) == "\N{MINUS SIGN}2°"
    assert weave_view.live_text(torso, ()) == "\N{EN DASH}"
    assert weave_view.live_text(torso, (live(deviation=math.nan),)) == "\N{EN DASH}"
    # 0.01 of the thigh is nominally 4.3 mm.
    forward = live(Channel.SITTING_PLACE, 0.01)
    assert weave_view.live_text(sitting, (forward,)) == "+4 mm"
    hand = live(Channel.HAND_PLACE, 0.02)
    hand = replace(hand, value=replace(hand.value, along=-0.02, up=0.0))
    assert weave_view.live_text(view.rows[4], (hand,)) == "\N{MINUS SIGN}9 mm"


def test_effort_is_shown_as_it_is_and_the_body_by_how_far_it_is_off() -> None:
    rows = weave_view.start(target(), WatchPlan(power_w=200.0, cadence_rpm=87.5)).rows
    by_channel = {row.channel: row for row in rows}
    assert by_channel[Channel.CADENCE].limit == "87.5 ±4 rpm"

    def shown(channel: Channel, deviation: float) -> str:
        verdict = Verdict.UNKNOWN if math.isnan(deviation) else Verdict.GOOD
        value = ChannelValue(channel, deviation, 0.0, verdict, True)
        return weave_view.live_text(by_channel[channel], (LiveChannel(value, 14.0, 14.0),))

    assert shown(Channel.POWER, -12.4) == "188 W"
    assert shown(Channel.CADENCE, 1.0) == "89 rpm"
    assert shown(Channel.POWER, math.nan) == "\N{EN DASH}"
    assert shown(Channel.TORSO, 2.0) == "+2°"
