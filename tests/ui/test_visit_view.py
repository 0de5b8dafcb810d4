"""Where a visit is and what is next, in words."""

from __future__ import annotations

from pathlib import Path

import pytest
from conducted import SITTING, Conducted, Times, small_design
from made_operator_scenes import stands

from posewatch.core.outputs import Phase, Reason
from posewatch.trials.words import ConcealmentLevel
from posewatch.ui import visit_view
from posewatch.ui.key_help import with_keys
from posewatch.ui.visit_view import Next, left_words, step_of, timers, where


def told(at: Conducted) -> tuple[str, str, str]:
    step = step_of(at.desk.now)
    return where(at.desk.now), step.words, with_keys(step.todo)


def test_a_visit_from_its_beginning_to_its_end(at: Conducted) -> None:
    first, second = (f"item {one.slot + 1}" for one in at.visit.plan.mountings)
    hands, other = (one.hands for one in at.visit.plan.mountings[0].trials)
    assert told(at) == (
        "visit 1, not begun",
        "visit 1 of 1 is to begin: 2 mountings",
        "Return begins it",
    )
    at.begin()
    assert told(at) == (
        f"mounting 1 of 2  ·  {first}  ·  not begun",
        f"mount {first} afresh",
        "Return as you begin with it",
    )
    at.next()
    assert told(at)[0] == f"mounting 1 of 2  ·  {first}  ·  trial 1 of 2, {hands}  ·  planned"
    assert told(at)[1].startswith("check list 1 of 15: Pad centred and square")
    assert told(at)[2] == "Return ticks it; K leaves it out, with a reason"
    at.desk.move(6)
    assert told(at)[2] == ("Return, then what you read, in mm; K leaves it out, with a reason")
    at.leave_out("check list", "quick")
    assert told(at)[1:] == (
        f"trial on the {hands}: the rider on the bike, cranks turning",
        "Return begins it with the reset",
    )
    at.begin_trial()
    assert told(at)[0].endswith("ready")
    assert told(at)[1] == "the camera opens; then the reset begins"
    at.poll(SITTING, 1.0)
    at.poll(SITTING, 4.0)
    assert told(at)[1] == "reset, tell the rider: stand, 0:08"
    assert told(at)[2].startswith("it goes on by itself; Return begins it anew; Ctrl+Return")
    for _ in range(15):
        at.poll(SITTING, 1.0)
    assert told(at)[1:] == (
        "sit-in: 0 of 60 strokes",
        "Ctrl+Return breaks the trial off, with a reason",
    )
    at.poll(stands(Phase.STEADYING, counted=0), 1.0)
    assert told(at)[0].endswith("steadying")
    at.poll(stands(waiting=(Reason.CAMERA,), counted=12), 1.0)
    assert told(at)[1] == "waiting: camera"
    at.poll(stands(counted=60), 1.0)
    assert told(at)[0].endswith("reached")
    assert told(at)[1].startswith("done: 60 strokes are counted")
    at.next()
    assert told(at)[1:] == ("the trial ends", "")
    at.finish()
    assert told(at)[0].endswith(f"trial 2 of 2, {other}  ·  planned")
    assert told(at)[1:] == ("ask the rider how the trial felt", "Return opens the ratings")
    at.rate()
    at.trial()
    assert told(at)[0] == f"mounting 1 of 2  ·  {first}  ·  trials done"
    assert told(at)[1].startswith(f"all trials on {first} are done")
    at.next()
    at.leave_out("the mounting that is next", "late")
    assert told(at) == (
        "visit 1: all mountings done",
        "all that was planned is done",
        "Return ends the visit",
    )
    at.next()
    assert told(at) == ("visit 1: over", "the visit is over", "Ctrl+Q closes the program")
    assert second not in told(at)[0]


def test_no_word_of_it_is_wanting_a_key_that_is_not_there(at: Conducted) -> None:
    seen = []
    at.begin()
    at.mount()
    at.trial()
    seen.append(told(at)[2])
    assert all("{" not in text for text in seen)


def test_a_mounting_to_get_used_to_is_told_as_such(tmp_path: Path, times: Times) -> None:
    at = Conducted(tmp_path, times, small_design(familiarisation=True))
    at.begin()
    assert "to get used to it (discarded)" in told(at)[1]


def test_timers_and_the_time_that_is_left(at: Conducted) -> None:
    assert left_words(at.desk.now) == ""
    at.next()
    at.keep("")
    # Two mountings: 300 s of work, 180 s sit-in, 13.3 s bridge, twice 25 s reset and 50.4 s of
    # strokes at 90 rpm, 45 s change of hands, 90 s ratings each; 600 s warm-up.
    assert left_words(at.desk.now) == "about 36 min left"
    assert timers(at.desk.now) == (), "nothing runs yet"
    at.next()
    at.poll(seconds=150.0)
    assert timers(at.desk.now) == ("warm-up 7:30",)
    assert left_words(at.desk.now) == "about 33 min left"


def test_the_rest_of_an_item_runs_while_it_is_mounted(tmp_path: Path, times: Times) -> None:
    at = Conducted(tmp_path, times, small_design(mountings=2, hands=("hoods",), n_items=2))
    at.begin()
    slots = [one.slot for one in at.visit.plan.mountings]
    while slots[len(at.visit.state.mounted)] not in slots[: len(at.visit.state.mounted)]:
        at.mount()
        at.trial()
        at.next()
    at.poll(seconds=60.0)
    assert "rests for" in told(at)[1]
    (rest,) = timers(at.desk.now)
    assert rest.startswith("rest of the item ")
    at.next()
    at.poll(seconds=100.0)
    assert timers(at.desk.now) != (rest,)


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0:00"), (0.2, "0:01"), (8.0, "0:08"), (125.0, "2:05")]
)
def test_count_downs_are_rounded_up(seconds: float, text: str) -> None:
    assert visit_view.clock_words(seconds) == text


@pytest.mark.parametrize(
    ("seconds", "text"), [(10.0, "1 min"), (1500.0, "25 min"), (5400.0, "1 h 30 min")]
)
def test_expected_lengths(seconds: float, text: str) -> None:
    assert visit_view.minutes(seconds) == text


def test_unsealed_codes_and_a_missing_target_say_what_to_do(at: Conducted) -> None:
    for path in (at.folder / "data" / "targets").rglob("*.json"):
        path.unlink()
    at.begin()
    at.mount()
    assert at.step is Next.TARGET
    assert told(at)[1].startswith("there is no target rider/bike/")
    assert told(at)[2] == "Capture one first. Or K leaves the trial out, with a reason."


def test_codes_and_nothing_else_are_said_of_concealed_items(tmp_path: Path, times: Times) -> None:
    design = small_design(concealment=ConcealmentLevel.ITEM_COVERED, warm_up_s=0.0)
    at = Conducted(tmp_path, times, design)
    at.begin()
    code = at.visit.next_code
    assert code in at.visit.header.codes
    assert told(at)[1] == f"mount {code} afresh"
