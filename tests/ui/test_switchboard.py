"""Switches, and what is remembered of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from posewatch.core.envelope import Target
from posewatch.store.remembered import Memory
from posewatch.ui.switchboard import LEAST_BRIGHTNESS, Switchboard
from posewatch.ui.theme import DARK, LIGHT


@pytest.fixture
def memory(tmp_path: Path) -> Memory:
    return Memory(tmp_path / "remembered.json")


def test_theme_and_brightness_are_those_of_last_time(memory: Memory) -> None:
    board = Switchboard(memory)
    assert (board.switches.theme, board.switches.brightness) == (DARK, 1.0)
    board.toggle_theme()
    board.brighten(-3)
    again = Switchboard(Memory(memory.path)).switches
    assert (again.theme, again.brightness) == (LIGHT, 0.7)


def test_it_is_never_too_dim_to_see_nor_brighter_than_bright(memory: Memory) -> None:
    board = Switchboard(memory)
    board.brighten(5)
    assert board.switches.brightness == 1.0
    board.brighten(-50)
    assert board.switches.brightness == LEAST_BRIGHTNESS


def test_speech_follows_the_hand_position_until_it_is_switched(
    memory: Memory, ridden_target: Target
) -> None:
    board = Switchboard(memory)
    board.follow(ridden_target, "")
    assert not board.switches.speech
    drops = replace(ridden_target, hands="drops")
    board.follow(drops, "")
    assert board.switches.speech
    board.toggle_speech()
    board.follow(drops, "no output")
    assert not board.switches.speech
    assert board.switches.no_sound == "no output"


def test_cues_and_sound_go_off_and_on(memory: Memory) -> None:
    board = Switchboard(memory)
    for toggle, name in ((board.toggle_cues, "cues"), (board.toggle_sound, "sound")):
        assert getattr(board.switches, name)
        toggle()
        assert not getattr(board.switches, name)
        toggle()
        assert getattr(board.switches, name)
