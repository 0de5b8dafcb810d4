"""Which sensor gives what: given, swapped, paired, forgotten, remembered; and planned numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from made_live_sensors import TRAINER
from made_sensors import CRANK, OTHER, SPEEDO, STRAP

from posewatch.core.needs import SensorFact
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_use import SensorUse
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.remembered import Memory
from posewatch.ui import sensor_plan
from posewatch.ui.sensor_plan import CADENCE_RANGE_RPM, POWER_RANGE_W, Role, SensorPlan

ALL = SensorPlan(CRANK.choice, OTHER.choice, SPEEDO.choice, 180.0, 90.0)


def test_the_watch_is_told_of_sensors_by_their_ids_and_of_the_plan() -> None:
    assert SensorPlan().use == SensorUse()
    use = ALL.use
    assert (use.power, use.cadence) == (CRANK.platform_id, SPEEDO.platform_id)
    assert use.power_other_side == OTHER.platform_id
    assert [(one.name, one.platform_id) for one in use.choices] == [
        ("Crank", CRANK.platform_id),
        ("Other crank", OTHER.platform_id),
        ("Cadence", SPEEDO.platform_id),
    ]
    assert SensorPlan(SensorChoice("Crank")).use == SensorUse("Crank")
    held = ALL.watch_plan(WatchPlan(sit_in_s=5.0, goal_strokes=40))
    assert held == WatchPlan(180.0, 90.0, 5.0, 40)


def test_a_trainer_holds_only_a_power_that_is_planned_and_no_recordings() -> None:
    held = replace(ALL, trainer=TRAINER.choice)
    assert held.held_by == TRAINER.choice
    assert held.use.trainer == TRAINER.platform_id
    assert held.watch_plan(WatchPlan()).trainer_holds_power
    for without in (
        ALL,
        replace(held, power_w=None),
        replace(held, recording=Path("ride.jsonl")),
        sensor_plan.forget(held, TRAINER.choice),
    ):
        assert without.held_by is None
        assert without.use.trainer == ""
        assert not without.watch_plan(WatchPlan(trainer_holds_power=True)).trainer_holds_power


def test_that_a_trainer_holds_is_not_remembered(tmp_path: Path) -> None:
    memory = Memory(tmp_path / "remembered.json")
    memory.keep(**replace(ALL, trainer=TRAINER.choice).remembered())
    again = sensor_plan.of_last_time(Memory(tmp_path / "remembered.json").choices)
    assert again.trainer is None
    assert again.power_w == 180.0


def test_one_sensor_that_gives_two_things_is_followed_once() -> None:
    plan = SensorPlan(power=CRANK.choice, cadence=CRANK.choice)
    assert plan.choices == (CRANK.choice,)
    assert plan.roles_of(CRANK.choice) == (Role.POWER, Role.CADENCE)
    assert sensor_plan.gives(plan, CRANK.choice) == "power and cadence"
    assert sensor_plan.gives(plan, OTHER.choice) == ""


@pytest.mark.parametrize(
    ("role", "of", "said"),
    [
        (Role.POWER, CRANK, ""),
        (Role.CADENCE, CRANK, ""),
        (Role.CADENCE, SPEEDO, ""),
        (Role.POWER, SPEEDO, "offers no"),
        (Role.CADENCE, STRAP, "offers no"),
        (Role.OTHER_SIDE, OTHER, ""),
        (Role.OTHER_SIDE, CRANK, "first let another sensor"),
        (Role.HOLD, TRAINER, ""),
        (Role.HOLD, CRANK, "offers no fitness machine"),
    ],
)
def test_a_sensor_gives_only_what_it_offers(role: Role, of: object, said: str) -> None:
    plan = SensorPlan(power=CRANK.choice)
    why_not = sensor_plan.why_not_give(plan, role, of.choice, of.services)  # type: ignore[attr-defined]
    assert said in why_not
    assert bool(why_not) == bool(said)


def test_no_second_side_without_a_first() -> None:
    why_not = sensor_plan.why_not_give(SensorPlan(), Role.OTHER_SIDE, OTHER.choice, OTHER.services)
    assert why_not


def test_one_sensor_is_put_in_place_of_another() -> None:
    plan = sensor_plan.give(ALL, Role.CADENCE, CRANK.choice)
    assert (plan.cadence, plan.power) == (CRANK.choice, CRANK.choice)
    swapped = sensor_plan.give(ALL, Role.POWER, OTHER.choice)
    assert (swapped.power, swapped.other_side) == (OTHER.choice, None)


def test_a_picked_sensor_gives_what_no_other_gives_yet() -> None:
    both = sensor_plan.give_all(SensorPlan(), CRANK.choice, CRANK.services)
    assert both == SensorPlan(power=CRANK.choice, cadence=CRANK.choice)
    assert sensor_plan.give_all(both, OTHER.choice, OTHER.services) == both
    assert sensor_plan.give_all(SensorPlan(), STRAP.choice, STRAP.services) == SensorPlan()


def test_a_sensor_is_forgotten_wherever_it_was() -> None:
    both = SensorPlan(power=CRANK.choice, cadence=CRANK.choice, power_w=180.0)
    left = sensor_plan.forget(both, CRANK.choice)
    assert left == SensorPlan(power_w=180.0)
    assert left.no_power
    # The second of a pair is left alone: it is the only one then.
    assert sensor_plan.forget(ALL, CRANK.choice).given == {
        Role.POWER: OTHER.choice,
        Role.CADENCE: SPEEDO.choice,
    }


def test_the_next_time_is_as_the_last_one(tmp_path: Path) -> None:
    memory = Memory(tmp_path / "remembered.json")
    memory.keep(**ALL.remembered())
    memory.keep(theme="light")
    again = sensor_plan.of_last_time(Memory(tmp_path / "remembered.json").choices)
    assert again.use == ALL.use
    assert (again.power_w, again.cadence_rpm) == (180.0, 90.0)
    assert [one.name for one in again.choices] == ["Crank", "Other crank", "Cadence"]
    memory.keep(**SensorPlan().remembered())
    assert sensor_plan.of_last_time(memory.choices) == SensorPlan()


def test_what_a_command_asked_for_is_taken_over() -> None:
    use = SensorUse("Crank", CRANK.platform_id, recording=Path("ride.jsonl"))
    plan = sensor_plan.of_chosen(use, WatchPlan(power_w=180.0))
    assert plan.use == use
    assert (plan.power_w, plan.cadence_rpm) == (180.0, None)
    assert sensor_plan.of_chosen(SensorUse(), WatchPlan()) == SensorPlan()
    held = SensorUse("Crank", trainer="Trainer")
    assert sensor_plan.of_chosen(held, WatchPlan(power_w=180.0)).use == held


@pytest.mark.parametrize(
    ("text", "value"),
    [("", None), ("  ", None), ("180", 180.0), (" 92,5 ", 92.5), ("200 W", 200.0)],
)
def test_planned_numbers(text: str, value: float | None) -> None:
    assert sensor_plan.planned(text, "power", "W", POWER_RANGE_W) == value


@pytest.mark.parametrize("text", ["39", "201", "fast", "nan", "inf", "-90"])
def test_a_number_that_cannot_be_held_is_told(text: str) -> None:
    """Slower than 40 rpm, a revolution of 1.5 s, is never judged."""
    with pytest.raises(ValueError, match="the cadence is a number from 40 to 200 rpm, or empty"):
        sensor_plan.planned(text, "cadence", "rpm", CADENCE_RANGE_RPM)


def test_readiness_is_told_how_each_chosen_sensor_stands() -> None:
    live = {sensor_plan.key(CRANK.choice): (True, ""), "aa:00:00:00:00:02": (False, "asleep")}
    assert sensor_plan.facts(ALL, live) == (
        SensorFact("Crank", "power", True),
        SensorFact("Other crank", "the other side's power", False, "asleep"),
        SensorFact("Cadence", "cadence", None),
    )
    played = SensorPlan(CRANK.choice, recording=Path("/tmp/ride.jsonl"))
    assert sensor_plan.facts(played, {}) == (SensorFact("Crank (ride.jsonl)", "power", True),)
