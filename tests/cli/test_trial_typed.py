"""``posewatch trial run`` with somebody at the keys."""

from __future__ import annotations

from typing import Any

import pytest
from visit_setting import Setting

from posewatch.store.plan_file import read_plan
from posewatch.store.visit_record import read_visit
from posewatch.trials import acts
from posewatch.trials.check_list import check_list
from posewatch.trials.kinds import Entry

UNRATED = [""] * 8
LEAVE = "l"


def lines(setting: Setting) -> list[str]:
    """The check list: ticks are done, numbers left out."""
    design = read_plan(setting.plan).design
    return ["" if one.entry is Entry.TICK else "- none" for one in check_list(design)]


def of_kind(setting: Setting, kind: type[Any]) -> list[Any]:
    return [act for act in setting.kept() if isinstance(act, kind)]


def test_a_mounting_at_the_keys(setting: Setting) -> None:
    ran = setting.typed(
        *("anna", "n fan on", "", *lines(setting), ""),
        *("7 1", "8", "- 2", "12", "x", "1 2 3", "6,5", "", "", "", ""),
        *("", "b", "6", "it felt firm", LEAVE),
    )()
    assert (ran.status, ran.err) == (0, "")
    assert "A rating cannot be 12. Give 0 to 10." in ran.out
    assert "'x' is no number." in ran.out
    assert "That is too much. Give comfort and pain, a space between." in ran.out
    assert f"posewatch trial run --session {setting.visit} goes on with it" in ran.out
    rated = [(one.region, one.scale, one.value) for one in of_kind(setting, acts.Rated)]
    assert rated[:6] == [
        ("left sit bone", "comfort", 7.0),
        ("left sit bone", "pain", 1.0),
        ("right sit bone", "comfort", 8.0),
        ("right sit bone", "pain", None),
        ("front", "comfort", None),
        ("front", "pain", 2.0),
    ]
    assert rated[6:8] == [("inner thighs", "comfort", 6.5), ("inner thighs", "pain", None)]
    assert len(rated) == 16
    (guess,) = of_kind(setting, acts.Guessed)
    assert (guess.guess, guess.confidence, guess.reason) == ("B", 6, "it felt firm")
    assert of_kind(setting, acts.VisitBegun)[0].operator == "anna"
    assert of_kind(setting, acts.Noted)[0].text == "fan on"
    assert of_kind(setting, acts.VisitEnded) == []


def test_lines_of_the_check_list(setting: Setting) -> None:
    design = read_plan(setting.plan).design
    said: list[str] = []
    for line in check_list(design):
        if line.key == "room_temperature":
            said += ["warm", "", "21,5"]
        elif line.key == "mat_rear_edge":
            said += ["-3"]
        elif line.key == "mat_zero":
            said += ["-", "", "no mat"]
        elif line.entry is Entry.NUMBER:
            said += ["- none"]
        else:
            said += ["as marked" if line.key == "fan_alike" else ""]
    setting.typed("", "", *said, LEAVE)()
    done = {one.line: one.value for one in of_kind(setting, acts.LineDone)}
    left_out = {one.line: one.reason for one in of_kind(setting, acts.LineSkipped)}
    assert (done["room_temperature"], done["mat_rear_edge"]) == ("21.5", "-3")
    assert (done["fan_alike"], done["pad_square"]) == ("as marked", "")
    assert (left_out["mat_zero"], left_out["mat_check_weight"]) == ("no mat", "none")


def test_bench_readings_and_facts(setting: Setting) -> None:
    ran = setting.typed(
        *("", "g", "Z9", "item 1", "", "Shore OO", "sit bone", "left", "x", "3", "glass plate"),
        *("31 33 32 38 32", "11,5", ""),
        # The next time scale, dwell and backing are offered again.
        *("g", "item 1", "", "sit bone", "right", "", "", "32 33", "", "22"),
        *("f", "item 2", "w", "we", "light", "186"),
        LEAVE,
    )()
    assert (ran.status, ran.err) == (0, "")
    # statistics.median and stdev of these five readings.
    assert "median 32, 31 to 38, SD 2.8" in ran.out
    assert "2 readings; ASTM D2240-15 takes 5" in ran.out
    first, second = of_kind(setting, acts.Gauged)
    code = read_visit(setting.visit)[0].codes[0]
    assert (first.code, first.scale, first.zone, first.side) == (
        *(code, "Shore OO", "sit bone", "left"),
    )
    assert (first.dwell_s, first.backing, first.readings, first.thickness_mm) == (
        *(3.0, "glass plate", (31.0, 33.0, 32.0, 38.0, 32.0), 11.5),
    )
    assert (second.scale, second.dwell_s, second.backing, second.temperature_c) == (
        *("Shore OO", 3.0, "glass plate", 22.0),
    )
    (fact,) = of_kind(setting, acts.ItemFact)
    assert (fact.fact, fact.value) == ("weight", 186.0)


def test_ridden_again_skipped_and_ended_with_reasons(setting: Setting) -> None:
    ran = setting.typed(
        *("", "", *lines(setting), "", *UNRATED),
        *("r doorbell", "", *UNRATED, "", ""),
        *("s", "", "no time", "e", "closing time"),
    )()
    assert (ran.status, ran.err) == (0, "")
    assert [one.reason for one in of_kind(setting, acts.TrialRepeated)] == ["doorbell"]
    assert [one.reason for one in of_kind(setting, acts.MountingSkipped)] == ["no time"]
    assert [one.reason for one in of_kind(setting, acts.VisitEnded)] == ["closing time"]
    # Nothing was said of the guess: that is kept, too.
    assert [one.reason for one in of_kind(setting, acts.Overridden)] == ["not asked"]
    assert ran.last_line == "counted 10 strokes in 1 trials of 1 mountings"


def test_a_guess_is_asked_until_it_can_be(setting: Setting) -> None:
    ran = setting.typed(
        *("", "", *lines(setting), "s cramp", "", LEAVE),
    )()
    assert "on the rider's card" not in ran.out  # nothing was ridden
    ran = setting.typed(
        "", "", *lines(setting), "", *UNRATED, "", *("d", "?", "x", "11", "0", "")
    )()
    assert "The rider's card has no D. Its letters are A, B, C." in ran.out
    assert "'x' is no whole number. Type 0 to 10." in ran.out
    (guess,) = of_kind(setting, acts.Guessed)
    assert (guess.guess, guess.confidence) == (None, 0)


def test_one_that_was_left_is_offered(setting: Setting) -> None:
    setting.typed("anna", LEAVE)()
    assert "left as it is" in setting.typed("l")().out
    assert of_kind(setting, acts.Reopened) == []
    ran = setting.typed("", LEAVE)()
    assert f"left before it ended: {setting.visit}: visit 1, 0 of 3 trials ridden" in ran.out
    assert len(of_kind(setting, acts.Reopened)) == 1
    ran = setting.typed("c", "rider is ill")()
    assert ran.last_line.endswith(f"closed: {setting.visit}")
    assert [one.reason for one in of_kind(setting, acts.VisitEnded)] == ["rider is ill"]
    assert "is over" in setting.typed("")().err


def test_those_in_the_data_folder_are_offered_without_a_name(setting: Setting) -> None:
    def conduct(*typed: str) -> Any:
        setting.typed(*typed)
        return setting.run(
            *("trial", "run", "--plan", setting.plan, "--codes", setting.codes),
            *("--source", setting.recording, "--fast"),
        )

    assert "Visits that were left" not in conduct("anna", LEAVE).out
    ran = conduct("n", "bert", LEAVE)
    assert "Visits that were left before they ended:\n  1  " in ran.out
    ran = conduct("9")
    assert (ran.status, "There is no visit '9'." in ran.err) == (2, True)
    ran = conduct("2", "", LEAVE)
    assert ran.out.count("stopped for now") == 1
    assert ran.out.splitlines().count("  1  ") == 0


def test_without_codes_it_is_asked_whether_that_is_meant(setting: Setting) -> None:
    def conduct(*typed: str) -> Any:
        setting.typed(*typed)
        return setting.run(
            *("trial", "run", "--plan", setting.plan, "--session", setting.visit),
            *("--source", setting.recording, "--fast"),
        )

    ran = conduct("n")
    assert (ran.status, setting.visit.exists()) == (2, False)
    assert "The items' codes are not sealed." in ran.err
    conduct("y", "anna", "a quick look", LEAVE)
    assert [one.reason for one in of_kind(setting, acts.Overridden)] == ["a quick look"]


def test_the_end_of_what_is_typed_stops_for_now(setting: Setting) -> None:
    ran = setting.typed("anna")()
    assert (ran.status, ran.err) == (0, "")
    assert "stopped for now" in ran.out
    assert of_kind(setting, acts.VisitEnded) == []


@pytest.mark.parametrize("typed", ["zz", "m", "r"])
def test_what_cannot_be_done_now_is_asked_again(setting: Setting, typed: str) -> None:
    ran = setting.typed("", typed, LEAVE)()
    assert f"'{typed}' is none of these." in ran.out
    assert ran.status == 0


@pytest.mark.parametrize(
    "typed", ["everything fine", "right hand numb", "seat post checked", "left foot asleep"]
)
def test_a_remark_is_no_command(setting: Setting, typed: str) -> None:
    ran = setting.typed("anna", typed, LEAVE)()
    assert f"'{typed}' is none of these." in ran.out
    assert [type(act) for act in setting.kept()] == [acts.VisitBegun]


def test_brackets_that_were_typed_are_shown_as_they_are(setting: Setting) -> None:
    setting.typed("anna", "n strap [/] slipped", "e out of [left] time")()
    shown = setting.run("session", "show", setting.visit)
    assert (shown.status, shown.err) == (0, "")
    assert "out of [left] time" in shown.out
