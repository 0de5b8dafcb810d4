"""The check list of a design: which lines are open, and what may be entered."""

from __future__ import annotations

import pytest
from made_acts import Walk, made_plan
from made_plans import made_design

from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.check_list import check_list, find_line, open_lines, require_value
from posewatch.trials.kinds import Entry
from posewatch.trials.words import ComparisonKind


def test_lines_are_open_until_they_are_done_or_left_out() -> None:
    plan = made_plan()
    walk = Walk(plan)
    walk.do(acts.VisitBegun, 1)
    walk.do(acts.MountingBegun)
    assert walk.state.mounting is not None
    lines = check_list(plan.design)
    assert open_lines(plan, walk.state.mounting) == lines
    walk.do(acts.LineDone, lines[1].key)
    walk.do(acts.LineSkipped, lines[0].key, "has none")
    assert walk.state.mounting is not None
    assert open_lines(plan, walk.state.mounting) == lines[2:]


@pytest.mark.parametrize("value", ["", "x", "nan", "inf", "1,5", "1 mm"])
def test_what_is_no_number(value: str) -> None:
    line = find_line(made_design(), "room_temperature")
    assert line.entry is Entry.NUMBER
    with pytest.raises(BadInput, match="is no number"):
        require_value(line, value)


def test_what_can_be_entered() -> None:
    for value in ("21", "-3.5", "1e2", " 4 "):
        require_value(find_line(made_design(), "room_temperature"), value)
    tick = find_line(made_design(), "pad_square")
    for value in ("", "with the old marks"):
        require_value(tick, value)
    text = find_line(made_design(kind=ComparisonKind.OTHER), "item_place")
    assert text.entry is Entry.TEXT
    require_value(text, "30 mm behind the nose")
    with pytest.raises(BadInput, match="Nothing is said"):
        require_value(text, " ")


def test_an_unknown_line_is_told_with_those_there_are() -> None:
    with pytest.raises(BadInput, match=r"no line 'luck'\. Its lines are: pad_square, "):
        find_line(made_design(), "luck")
