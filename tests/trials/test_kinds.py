"""Check lists are whole, and kinds bring what they should."""

from __future__ import annotations

import pytest

from posewatch.core.records import Channel
from posewatch.trials.kinds import Entry, KindDefaults, kind_defaults
from posewatch.trials.words import ComparisonKind, SaddleMode

ALL = [
    *(kind_defaults(kind) for kind in ComparisonKind if kind is not ComparisonKind.SADDLE),
    *(kind_defaults(ComparisonKind.SADDLE, mode) for mode in SaddleMode),
]
#: What every mounting is checked for, whatever is compared.
ALWAYS = {"axle_clamped", "tyre_pressure", "fan_alike", "room_temperature"}
PLACE = {"saddle_height", "saddle_setback", "saddle_tilt", "nose_straight", "saddle_clamp_torque"}
MAT = {"mat_centred", "mat_rear_edge", "mat_taut", "mat_zero", "mat_check_weight"}


def keys(kind: KindDefaults) -> set[str]:
    return {line.key for line in kind.check_list}


@pytest.mark.parametrize("kind", ALL)
def test_check_lists_are_whole(kind: KindDefaults) -> None:
    assert len(keys(kind)) == len(kind.check_list)
    assert keys(kind) >= ALWAYS
    assert keys(kind) & {"same_shoes", "closure_alike"}
    for line in kind.check_list:
        assert line.text
        assert (line.entry is Entry.NUMBER) == bool(line.unit)
    assert kind.work_s > 0


def test_shorts_leave_the_saddle_and_may_move_the_pelvis() -> None:
    shorts = kind_defaults(ComparisonKind.SHORTS)
    assert shorts.outcomes == (Channel.PELVIS_HEIGHT,)
    assert shorts.saddle_untouched
    assert keys(shorts) >= {"pad_square", "straps_untwisted", "seams_flat", "saddle_untouched"}
    assert keys(shorts) >= MAT
    assert not keys(shorts) & PLACE


def test_saddles_are_measured_from_named_points() -> None:
    reset, swap = (kind_defaults(ComparisonKind.SADDLE, mode) for mode in SaddleMode)
    for kind in (reset, swap):
        assert keys(kind) >= PLACE | MAT
        assert not kind.saddle_untouched
        texts = {line.key: line.text for line in kind.check_list}
        assert "80 mm wide" in texts["saddle_height"]
        assert "80 mm wide" in texts["saddle_setback"]
    assert reset.outcomes == ()
    assert swap.outcomes == (Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT)
    with pytest.raises(ValueError, match="say which"):
        kind_defaults(ComparisonKind.SADDLE)


def test_stack_height_is_logged_where_it_changes() -> None:
    insoles = kind_defaults(ComparisonKind.INSOLES_AND_SHOES)
    assert insoles.stack_height_logged
    stack = [line for line in insoles.check_list if line.key.startswith("stack_height")]
    assert [line.unit for line in stack] == ["mm", "mm"]
    assert sum(kind.stack_height_logged for kind in ALL) == 1
