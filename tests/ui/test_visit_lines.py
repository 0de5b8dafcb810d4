"""The lists of the visit panel: check list, trials, what is missing, what can be left out."""

from __future__ import annotations

from pathlib import Path

from conducted import SITTING, Conducted, Times, small_design

from posewatch.trials.words import ConcealmentLevel
from posewatch.ui.visit_lines import Row, Sign, can_repeat, missing, rows, skips, title


def names(at: Conducted) -> list[str]:
    return [one.name for one in skips(at.desk.now)]


def test_the_trials_of_the_visit_and_what_they_came_to(at: Conducted) -> None:
    one, other = (f"item {planned.slot + 1}" for planned in at.visit.plan.mountings)
    hands, second = (planned.hands for planned in at.visit.plan.mountings[0].trials)
    assert title(at.desk.now) == "trials of this visit"
    assert rows(at.desk.now) == (
        Row(Sign.OPEN, f"1  {one}  {hands}"),
        Row(Sign.OPEN, f"1  {one}  {second}"),
        Row(Sign.OPEN, f"2  {other}  {hands}"),
        Row(Sign.OPEN, f"2  {other}  {second}"),
    )
    at.begin()
    at.mount()
    assert rows(at.desk.now)[0] == Row(Sign.HERE, f"1  {one}  {hands}", True)
    at.begin_trial()
    at.poll(SITTING, 1.0)
    assert rows(at.desk.now)[0].text.endswith("   ready")
    at.ride(20)
    at.desk.end_trial()
    at.keep("doorbell")
    at.finish(20)
    told = "20 strokes, 20 s, broken off: doorbell"
    assert rows(at.desk.now)[0] == Row(Sign.DONE, f"1  {one}  {hands}   {told}")
    assert can_repeat(at.desk.now)
    at.rate()
    at.desk.repeat()
    at.keep("once more")
    assert not can_repeat(at.desk.now)
    here = Row(Sign.HERE, f"1  {one}  {hands}   {told}, ridden again: once more", True)
    assert rows(at.desk.now)[0] == here
    at.leave_out("the trial that is next", "late")
    assert [row.sign for row in rows(at.desk.now)] == [Sign.LEFT_OUT, Sign.HERE, *[Sign.OPEN] * 2]
    at.leave_out("rest of this mounting", "late")
    assert [row.sign for row in rows(at.desk.now)] == [*[Sign.LEFT_OUT] * 2, *[Sign.OPEN] * 2]
    at.leave_out("the mounting that is next", "late")
    assert {row.sign for row in rows(at.desk.now)} == {Sign.LEFT_OUT}


def test_the_check_list_tells_open_done_and_left_out_apart_by_shape(at: Conducted) -> None:
    at.begin()
    at.next()
    assert title(at.desk.now) == "check list"
    at.desk.next()
    at.leave_out("this line", "has none")
    at.desk.move(4)
    at.desk.next()
    assert at.keep("12") == ""
    found = rows(at.desk.now)
    assert len(found) == 15
    assert found[0].line == (
        "\u2713  Pad centred and square: its middle seam on the body's middle line"
    )
    assert found[1] == Row(Sign.LEFT_OUT, "Shoulder straps flat, not twisted  (left out: has none)")
    assert found[6].sign is Sign.DONE
    assert found[6].text.endswith("  = 12 mm")
    assert [row.is_marked for row in found].index(True) == 7
    assert found[7].sign is Sign.OPEN


def test_what_is_missing_is_told_by_name(at: Conducted) -> None:
    assert missing(at.desk.now) == ()
    at.next()
    at.keep("")
    assert missing(at.desk.now) == (
        "warm-up: the warm-up of 10 min 00 s has not begun",
        "mounting: mounting 1 has not begun",
    )
    at.leave_out("warm-up", "warm")
    at.next()
    (line,) = missing(at.desk.now)
    assert line.startswith("check list: the check list has 15 to go, next: Pad centred")
    at.leave_out("check list", "quick")
    assert missing(at.desk.now) == ()
    at.begin_trial()
    at.ride()
    at.next()
    at.finish()
    assert missing(at.desk.now) == ("ratings: the last trial is not rated",)
    at.leave_out("rest of the visit", "rider ill")
    assert missing(at.desk.now) == ("ratings: the last trial is not rated",)
    at.rate()
    assert missing(at.desk.now) == ()


def test_what_can_be_left_out_where(tmp_path: Path, times: Times) -> None:
    design = small_design(concealment=ConcealmentLevel.ITEM_COVERED)
    at = Conducted(tmp_path, times, design)
    assert names(at) == []
    at.next()
    at.keep("")
    ends = ["the mounting that is next", "the rest of the visit"]
    assert names(at) == ["the warm-up, or the rest of it", *ends]
    at.leave_out("warm-up", "warm")
    at.next()
    rest = ["the trial that is next", "the rest of this mounting", "the rest of the visit"]
    assert names(at)[0].startswith("this line: Pad centred")
    assert names(at)[1:] == ["the whole rest of the check list", *rest]
    at.leave_out("check list", "quick")
    assert names(at) == rest
    at.begin_trial()
    assert names(at) == ["the rest of the reset"]
    at.ride()
    assert names(at) == []
    at.next()
    at.finish()
    assert names(at) == ["the ratings of the last trial", *rest]
    at.rate()
    at.leave_out("rest of this mounting", "strap broke")
    assert names(at) == ["the guess", *ends]
