"""The last choices come back; whatever is wrong with their file, the program goes on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

from posewatch.store.remembered import (
    Memory,
    Remembered,
    RememberedSensor,
    read_remembered,
    remembered_path,
)


def test_without_a_file_nothing_is_remembered_and_none_is_made() -> None:
    memory = Memory()
    assert (memory.choices, memory.note) == (Remembered(), "")
    assert not remembered_path().exists()


def test_the_file_is_in_the_users_state_folder(tmp_path_factory: pytest.TempPathFactory) -> None:
    assert remembered_path().name == "remembered.json"
    assert remembered_path().is_relative_to(tmp_path_factory.getbasetemp())


def test_choices_come_back(tmp_path: Path) -> None:
    path = tmp_path / "state" / "remembered.json"
    Memory(path).keep(camera="cam-1", camera_name="Side camera", target="r17/road/hoods/v2")
    Memory(path).keep(theme="light", brightness=0.5)
    again = Memory(path)
    assert again.note == ""
    assert again.choices == Remembered(
        camera="cam-1",
        camera_name="Side camera",
        target="r17/road/hoods/v2",
        theme="light",
        brightness=0.5,
    )
    assert [one.name for one in path.parent.iterdir()] == ["remembered.json"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "it is not JSON"),
        ("[1]", 'it does not say "format"'),
        ('{"format": "posewatch remembered choices", "format_version": 9}', "format version 9"),
        (
            '{"format": "posewatch remembered choices", "format_version": 1, "brightness": 7}',
            "brightness",
        ),
        (
            '{"format": "posewatch remembered choices", "format_version": 1, "colour": "red"}',
            "this key is not known",
        ),
    ],
)
def test_a_file_of_no_use_is_left_out_with_a_note(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "remembered.json"
    path.write_text(text, encoding="utf-8")
    choices, note = read_remembered(path)
    assert choices == Remembered()
    assert said in note
    assert "not known" in note
    assert path.read_text(encoding="utf-8") == text


def test_bytes_that_are_no_text_are_left_out(tmp_path: Path) -> None:
    path = tmp_path / "remembered.json"
    path.write_bytes(b"\xff\xfe\x00")
    assert read_remembered(path)[0] == Remembered()


def test_a_file_of_no_use_is_replaced_by_the_next_choice(tmp_path: Path) -> None:
    path = tmp_path / "remembered.json"
    path.write_text("{", encoding="utf-8")
    Memory(path).keep(camera="cam-2")
    assert json.loads(path.read_text(encoding="utf-8"))["camera"] == "cam-2"


def test_what_cannot_be_written_is_a_note(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("a file where the folder should be", encoding="utf-8")
    memory = Memory(tmp_path / "state" / "remembered.json")
    memory.keep(camera="cam-1")
    assert memory.choices.camera == "cam-1"
    assert "cannot be written" in memory.note


def test_an_unknown_choice_is_a_mistake_of_the_program(tmp_path: Path) -> None:
    with pytest.raises(ValidationError):
        Memory(tmp_path / "remembered.json").keep(colour="red")


def test_sensors_and_planned_effort_come_back(tmp_path: Path) -> None:
    path = tmp_path / "remembered.json"
    crank = RememberedSensor(name="Crank", platform_id="AA:00:00:00:00:01")
    Memory(path).keep(power_sensor=crank, power_w=180.0, cadence_rpm=90.0)
    Memory(path).keep(theme="light")
    last = Memory(path).choices
    assert (last.power_sensor, last.cadence_sensor) == (crank, None)
    assert (last.power_w, last.cadence_rpm) == (180.0, 90.0)


def test_a_file_from_before_there_were_sensors_is_still_known(tmp_path: Path) -> None:
    path = tmp_path / "remembered.json"
    Memory(path).keep(camera="cam-1")
    old = json.loads(path.read_text(encoding="utf-8"))
    for key in ("power_sensor", "power_other_side", "cadence_sensor", "power_w", "cadence_rpm"):
        del old[key]
    path.write_text(json.dumps(old), encoding="utf-8")
    memory = Memory(path)
    assert (memory.note, memory.choices.camera, memory.choices.power_w) == ("", "cam-1", None)


def test_a_planned_effort_that_cannot_be_is_not_taken(tmp_path: Path) -> None:
    with pytest.raises(ValidationError):
        Memory(tmp_path / "remembered.json").keep(power_w=0.0)
