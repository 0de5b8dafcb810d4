"""Trials of a visit: watched, reset, followed, closed; and what ends them otherwise."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from conducted import SITTING, Conducted, Times, small_design
from made_operator_scenes import stands

from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput
from posewatch.studio import Doing
from posewatch.trials import acts
from posewatch.trials.conduct_state import StartNeed, TrialPhase
from posewatch.trials.words import RitualMoment
from posewatch.ui.scene import Reset
from posewatch.ui.visit_view import Next, step_of


def test_a_trial_is_watched_in_the_visits_folder_against_its_target(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    chosen = at.studio.chosen
    assert chosen.target is not None
    hands = at.visit.plan.mountings[0].trials[0].hands
    assert chosen.target.hands == hands
    assert chosen.plan.goal_strokes == 60
    # 15 s of reset before 180 s of sit-in.
    assert chosen.plan.first_sit_in_s == 195.0
    folder = at.visit.folder / "trials" / f"m01-t1-{hands}-1"
    assert at.studio.session == folder
    assert at.acts[-1] == acts.TrialBegun(at.visit.clock.now_ns, f"trials/{folder.name}")


def test_the_camera_of_a_preview_closes_first(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.studio.look()
    at.next()
    assert at.engine.post.stop.is_set()
    assert not any(isinstance(one, acts.TrialBegun) for one in at.acts)
    at.engine.finish()
    at.poll()
    assert at.engine.names == [Doing.PREVIEW, Doing.WATCH]
    assert isinstance(at.acts[-1], acts.TrialBegun)


def test_without_a_source_no_trial_begins(at: Conducted) -> None:
    at.studio.choose(source=None)
    at.begin()
    at.mount()
    at.next()
    assert "where the rider is seen" in at.notes[-1][0]
    assert at.visit.state.run is None


def test_what_a_command_rides_with_is_taken_for_each_trial(tmp_path: Path, times: Times) -> None:
    seen: list[str] = []

    def rides(task: Any) -> dict[str, object]:
        seen.append(task.target.hands)
        return {"any_chain": True}

    at = Conducted(tmp_path, times, rides=rides)
    at.studio.choose(source=None)
    at.begin()
    at.mount()
    at.next()
    assert seen == [at.visit.plan.mountings[0].trials[0].hands]
    assert at.studio.chosen.any_chain
    assert "It cannot begin" not in str(at.notes)
    # The studio has no source after all: the trial is closed, and says why.
    assert at.acts[-1] == acts.TrialClosed(at.visit.clock.now_ns, 0, 0, "no source is chosen")


def test_a_planned_power_without_a_sensor_is_told(tmp_path: Path, times: Times) -> None:
    at = Conducted(tmp_path, times, small_design(power_w=200.0))
    at.begin()
    at.mount()
    at.begin_trial()
    assert "no sensor gives it" in at.notes[-1][0]
    assert at.studio.chosen.plan.power_w == 200.0


def test_the_reset_begins_with_the_pictures_and_is_timed_alike(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.poll(seconds=5.0)
    assert at.visit.state.ritual == (), "nobody could have seen it yet"
    assert at.desk.reset is None
    said = []
    for _ in range(200):
        at.poll(SITTING, 0.1)
        if at.desk.reset is not None and (not said or said[-1][0] != at.desk.reset.words):
            said.append((at.desk.reset.words, round(at.desk.reset.left_s, 6)))
    # Practice of the trade: coast 3 s, stand 8 s, sit and hands on 2 s each.
    assert said == [("coast", 3), ("stand", 8), ("sit", 2), ("hands on", 2), ("pedal", 0)]
    assert at.desk.reset is None
    assert at.phase is TrialPhase.SIT_IN
    done = [one for one in at.acts if isinstance(one, acts.RitualDone)]
    after_s = [(one.t_ns - done[0].t_ns) / NS_PER_S for one in done]
    assert after_s == pytest.approx([0.0, 3.0, 11.0, 13.0, 15.0], abs=0.1)


def test_one_key_begins_the_reset_anew(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    for _ in range(6):
        at.poll(SITTING, 1.0)
    assert at.desk.reset is not None
    assert at.desk.reset.words == "stand"
    at.next()
    assert [one.moment for one in at.visit.state.ritual] == [RitualMoment.COAST]
    assert at.desk.reset == Reset("coast", 3.0)


def test_the_reset_can_be_passed_over(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.poll(SITTING, 1.0)
    at.leave_out("reset", "the rider cannot stand today")
    assert at.last == acts.Overridden(0, StartNeed.RESET, "the rider cannot stand today")
    assert at.desk.reset is None
    at.desk.skip()
    assert at.desk.form is None, "nothing else can be left out in a trial"


def test_the_phases_go_into_the_record(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    for standing in (
        *[SITTING] * 17,
        stands(Phase.STEADYING, counted=0),
        stands(counted=12),
        stands(waiting=(Reason.PAUSED,), counted=12),
        stands(Phase.STEADYING, waiting=(Reason.CAMERA,), counted=12),
        stands(Phase.STEADYING, counted=12),
        stands(counted=60),
    ):
        at.poll(standing, 1.0)
    assert at.step is Next.REACHED
    told = [
        replace(one, t_ns=0)
        for one in at.acts
        if isinstance(one, acts.HoldSeen | acts.Waiting | acts.WaitOver)
    ]
    assert told == [
        acts.HoldSeen(0, Phase.STEADYING, 0),
        acts.HoldSeen(0, Phase.IN_POSITION, 12),
        acts.Waiting(0, "paused"),
        acts.Waiting(0, "camera"),
        acts.WaitOver(0),
        acts.HoldSeen(0, Phase.IN_POSITION, 60),
    ]


def test_a_reached_trial_is_closed_by_the_key_for_what_is_next(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride()
    step = step_of(at.desk.now)
    assert step.is_done
    assert step.words == "done: 60 strokes are counted; the rider may ease off"
    at.next()
    assert at.engine.post.stop.is_set()
    at.finish(61)
    assert at.last == acts.TrialClosed(0, 61, 61 * NS_PER_S)
    assert at.step is Next.RATE
    assert at.studio.doing is Doing.NOTHING, "the curtain is drawn"


def test_a_reached_trial_closes_by_itself_once_everybody_has_seen_it(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride()
    reached = next(one for one in at.acts if isinstance(one, acts.HoldSeen))
    while not at.engine.post.stop.is_set():
        at.poll(stands(counted=60), 0.1)
    seen_s = (at.visit.clock.now_ns - reached.t_ns) / NS_PER_S
    assert 6.0 <= seen_s < 7.1
    at.finish()
    assert at.last == acts.TrialClosed(0, 60, 60 * NS_PER_S)


def test_a_trial_is_broken_off_with_a_reason_and_goes_on_until_then(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride(counted=20)
    at.desk.end_trial()
    assert at.keep("").startswith("No reason is given.")
    assert not at.engine.post.stop.is_set()
    at.poll(stands(counted=22), 1.0)
    assert at.keep("doorbell") == ""
    assert at.engine.post.stop.is_set()
    at.desk.end_trial()
    assert at.desk.form is None, "it ends already"
    at.finish(22)
    assert at.last == acts.TrialClosed(0, 22, 22 * NS_PER_S, "doorbell")


def test_the_key_that_ends_closes_a_reached_trial_as_planned(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride()
    at.desk.end_trial()
    assert at.desk.form is None
    at.finish()
    assert at.last == acts.TrialClosed(0, 60, 60 * NS_PER_S)


def test_a_source_that_ends_closes_the_trial(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride(counted=20)
    assert at.studio.session is not None
    at.finish(30, stopped=False)
    assert at.last == acts.TrialClosed(0, 30, 30 * NS_PER_S, "the source ended")


def test_a_trial_that_fails_is_closed_with_what_went_wrong(
    at: Conducted, monkeypatch: pytest.MonkeyPatch
) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    error = BadInput("The camera is in use.", "Close the other program.")
    monkeypatch.setattr(type(at.engine), "error", error)
    at.engine.busy = False
    at.poll()
    assert at.last == acts.TrialClosed(0, 0, 0, "The camera is in use.")
    assert at.step is Next.RATE


def test_a_repeated_trial_is_ridden_with_the_short_sit_in(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.trial()
    at.desk.repeat()
    assert at.keep("doorbell") == ""
    assert at.last == acts.TrialRepeated(0, "doorbell")
    at.begin_trial()
    assert at.studio.session is not None
    assert at.studio.session.name.endswith("-2")
    assert at.studio.chosen.plan.first_sit_in_s == 15.0 + 45.0


def test_closing_in_a_trial_closes_it_with_what_it_came_to(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride(counted=20)
    at.engine.post.stop.set()
    at.engine.finish()
    at.desk.close()
    assert at.last == acts.TrialClosed(0, 0, 0, "the program was closed")
    at.desk.close()
