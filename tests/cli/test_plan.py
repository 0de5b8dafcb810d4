"""``posewatch plan``: made, shown and checked from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run

from posewatch.store.plan_file import read_plan
from posewatch.trials.plan import make_plan
from posewatch.trials.words import ConcealmentLevel, OrderKind, SaddleMode, Stamp


def test_a_first_look_with_nothing_said(run: Run) -> None:
    ran = run("plan", "new")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("first look, indication only: 3 pairs in 1 visit; a full answer ")
    assert "2 items, each mounted 3 times, reversed pairs, seed " in ran.out
    assert ran.last_line.startswith("not kept; -o FILE keeps it, and --seed ")


def test_the_seed_that_was_drawn_gives_the_same_again(run: Run) -> None:
    drawn = run("plan", "new", "--items", 5)
    seed = drawn.last_line.split("--seed ")[1].split()[0]
    assert run("plan", "new", "--items", 5, "--seed", seed).out == drawn.out


def test_everything_that_can_be_said(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p [1].json"
    said = (
        "--kind saddle --saddle re-set --items 3 --full --visits 3 --hands hoods --hands drops "
        "--order williams --concealment operator --rider r17 --bike road --strokes 40 "
        "--warm-up 300 --sit-in 120 --hand-change 30 --item-rest 900 --power 200 --cadence 85 "
        "--no-familiarisation --seed 7"
    )
    ran = run("plan", "new", *said.split(), "-o", path)
    assert (ran.status, ran.err) == (0, "")
    assert ran.last_line == f"wrote {path}"
    plan = read_plan(path)
    design = plan.design
    assert (design.saddle_mode, design.order) == (SaddleMode.RESET, OrderKind.WILLIAMS)
    assert design.concealment is ConcealmentLevel.OPERATOR_BLIND
    assert (design.n_items, design.mountings, design.n_visits) == (3, 6, 3)
    assert (design.rider, design.bike, design.hands) == ("r17", "road", ("hoods", "drops"))
    assert (design.warm_up_s, design.sit_in_s) == (300.0, 120.0)
    assert (design.hand_change_s, design.item_rest_s) == (30.0, 900.0)
    assert (design.goal_strokes, design.power_w, design.cadence_rpm) == (40, 200.0, 85.0)
    assert not design.familiarisation
    assert design.stamp is Stamp.FULL_ANSWER
    assert plan.visits == make_plan(design).visits


def test_show_adds_the_check_list(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    run("plan", "new", "--kind", "insoles", "--seed", 1, "-o", path)
    ran = run("plan", "show", path)
    assert (ran.status, ran.err) == (0, "")
    for words in (
        "insoles and shoes: 2 items",
        "stack height is logged with each mounting",
        "the saddle stays untouched from first to last",
        "targets: rider/bike/hoods",
        "power not held, cadence not held",
        "discarded",
        "Stack height, left: middle of the pedal axle",
    ):
        assert words in ran.out


def test_check_of_a_first_look(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    run("plan", "new", "--kind", "shorts", "--hands", "hoods", "--hands", "drops", "-o", path)
    ran = run("plan", "check", path)
    assert (ran.status, ran.err) == (0, "")
    for words in (
        "first look, indication only: 3 pairs in 1 visit",
        "A steady drift does not cancel out: up to 0.33 of what it changes",
        "With 2 mountings of each item, or a multiple of that, it does.",
        "3 pairs can show a difference of 3.3 SD",
        "A difference of 1 SD takes 10 pairs, one of half an SD 34.",
        "can at best give p = 0.25, never 0.05; for that it takes 6 pairs.",
        "Hand positions are ridden in reversed order from block to block",
        "waiting for an item to rest",
        "The visit is expected to take 1 h 4",
        "Assumed, not planned: 90 rpm, 5 min to mount",
    ):
        assert words in ran.out


def test_check_of_a_full_answer(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    run("plan", "new", "--items", 3, "--full", "--cadence", 90, "-o", path)
    out = run("plan", "check", path).out
    for words in (
        "full answer: 6 pairs of any two items in 2 visits",
        "Each item comes equally often at each place of a block.",
        "A steady drift through a visit cancels out",
        "Inside blocks each item directly follows each other one 2 times.",
        "6 pairs of any two items can show a difference of 1.4 SD",
        "can at best give p = 0.031.",
        "3 items make 3 comparisons",
        "The longest visit, 1, is expected to take ",
        "Assumed, not planned: 5 min to mount",
    ):
        assert words in out


def test_a_single_pair_is_planned_and_told(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    ran = run("plan", "new", "--mountings", 1, "--order", "random", "-o", path)
    assert ran.out.startswith("first look, indication only: 1 pair in 1 visit")
    assert "One pair shows no difference" in run("plan", "check", path).out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ("--kind gloves", "--kind cannot be 'gloves'. Choose of: shorts, saddle, insoles and"),
        ("--kind s", "--kind cannot be 's'."),
        ("--kind saddle", "it is not said which. For saddles choose 're-set to the same position'"),
        ("--order abba", "--order cannot be 'abba'."),
        ("--concealment none", "--concealment cannot be 'none'."),
        ("--hands a/b", "The hands cannot be called 'a/b'"),
        ("--rider a/b", "The rider cannot be called 'a/b'"),
        ("--items 9", "The number of items cannot be 9. Give 2 to 8."),
        ("--power nan", "The power in W cannot be nan."),
        ("--visits 9", "3 mountings of each item cannot be ridden in 9 visits."),
    ],
)
def test_what_cannot_be_planned(run: Run, tmp_path: Path, options: str, said: str) -> None:
    path = tmp_path / "p.json"
    ran = run("plan", "new", *options.split(), "-o", path)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert not path.exists()


def test_nothing_is_overwritten(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    path.write_text("mine", encoding="utf-8")
    ran = run("plan", "new", "-o", path)
    assert (ran.status, ran.out) == (2, "")
    assert "exists already and was left as it is" in ran.err
    assert path.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("command", ["show", "check"])
def test_what_is_no_plan(run: Run, tmp_path: Path, command: str) -> None:
    ran = run("plan", command, tmp_path / "none.json")
    assert ran.status == 2
    assert "There is no plan file" in ran.err
    assert "posewatch plan new" in ran.err


@pytest.mark.parametrize("command", ["", "new", "show", "check"])
def test_help_is_whole(run: Run, command: str) -> None:
    ran = run("plan", *command.split(), "--help")
    assert (ran.status, ran.err) == (0, "")
    assert f"Usage: posewatch plan {command}".strip() in ran.out
