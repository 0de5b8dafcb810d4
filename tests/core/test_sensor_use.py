"""Which sensors are followed, what they give, and what they are called."""

from __future__ import annotations

from posewatch.core.effort_sources import EffortSources
from posewatch.core.sensor_choice import SensorChoice
from posewatch.core.sensor_use import SensorUse

CRANK, TRAINER = "F1:00:00:00:00:01", "F1:00:00:00:00:02"


def test_each_sensor_is_followed_once_and_the_trainer_too() -> None:
    use = SensorUse("Crank", "Crank", trainer=TRAINER)
    assert use.choices == (SensorChoice("Crank"), SensorChoice(TRAINER, TRAINER))
    assert SensorUse(trainer="Trainer").is_any
    assert not SensorUse().is_any


def test_a_sensor_of_a_known_name_is_followed_and_told_by_it() -> None:
    use = SensorUse(CRANK, CRANK.lower(), names=((CRANK, "Crank"),))
    assert {choice.name for choice in use.choices} == {"Crank"}
    assert use.choices[0] == SensorChoice("Crank", CRANK)
    assert use.called(TRAINER) == TRAINER


def test_a_name_stands_for_its_device_once_that_is_known() -> None:
    use = SensorUse("Crank", TRAINER)
    assert use.sources({}) == EffortSources("Crank", TRAINER)
    assert use.sources({"Crank": CRANK}) == EffortSources(CRANK, TRAINER)


def test_what_each_gives_is_said_with_name_and_id_as_far_as_known() -> None:
    names = ((CRANK, "Crank"),)
    assert SensorUse(CRANK, "Crank", trainer=TRAINER, names=names).words() == (
        f"power from Crank ({CRANK})",
        f"cadence from Crank ({CRANK})",
        f"power held by {TRAINER}",
    )
    assert SensorUse("Left", "", "Right").words() == (
        "power from Left",
        "the other side's power from Right",
    )
