"""Changes to a target on the fitter's table, with undo and redo."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.envelope import NOMINAL_THIGH_MM, Target
from posewatch.core.records import BODY_CHANNELS, Channel
from posewatch.errors import BadInput
from posewatch.ui import target_edits
from posewatch.ui.target_edits import (
    Editing,
    opened,
    redo,
    tight,
    undo,
    why_not_kept,
    with_author,
    with_note,
    with_required,
    with_tolerance,
)


@pytest.fixture
def table(ridden_target: Target) -> Editing:
    return opened(replace(ridden_target, version=1, created="2024-05-01T10:00:00+00:00"))


def test_a_limit_is_set_to_the_nearest_step(table: Editing) -> None:
    after = with_tolerance(table, Channel.TORSO, 2.44)
    assert after.target.envelope(Channel.TORSO).tol == pytest.approx(2.4)
    # Places are fractions of the thigh before a camera is calibrated, and set in nominal mm.
    after = with_tolerance(after, Channel.SITTING_PLACE, 6.3)
    assert after.target.envelope(Channel.SITTING_PLACE).tol * NOMINAL_THIGH_MM == pytest.approx(6.5)
    assert [edit.words for edit in after.past] == [
        "torso: \N{PLUS-MINUS SIGN}3.0 to \N{PLUS-MINUS SIGN}2.4\N{DEGREE SIGN}",
        "sitting place: \N{PLUS-MINUS SIGN}8.0 to \N{PLUS-MINUS SIGN}6.5 mm*",
    ]


def test_a_limit_that_stays_the_same_is_no_change(table: Editing) -> None:
    assert with_tolerance(table, Channel.SITTING_PLACE, 8.1) is table
    assert with_note(table, "  ") is table


def test_undo_and_redo_go_back_and_forth_through_all_changes(table: Editing) -> None:
    first = with_tolerance(table, Channel.KNEE, 3.0)
    second = with_required(first, Channel.HIP, required=False)
    third = with_note(second, "new cleats")
    assert undo(third).target == second.target
    assert undo(undo(undo(third))).target == table.target
    assert undo(undo(undo(undo(third)))).target == table.target
    back = undo(undo(third))
    assert redo(back).target == second.target
    assert redo(redo(back)).target == third.target
    assert redo(redo(redo(back))).target == third.target
    # A new change leaves nothing to make again.
    assert not with_note(back, "another").future
    assert undo(with_note(back, "another")).target == first.target


def test_the_last_required_channel_stays_required(table: Editing) -> None:
    for channel in BODY_CHANNELS[1:]:
        table = with_required(table, channel, required=False)
    assert [e.channel for e in table.target.envelopes if e.required] == [BODY_CHANNELS[0]]
    with pytest.raises(BadInput, match="No channel would be required"):
        with_required(table, BODY_CHANNELS[0], required=False)


def test_a_capture_puts_the_target_before_it_within_reach_of_undo(
    table: Editing, ridden_target: Target
) -> None:
    anew = replace(ridden_target, note="second")
    after = target_edits.captured(table, anew)
    assert after.target == anew
    assert not after.is_kept
    assert undo(after).target == table.target
    assert target_edits.captured(None, anew).past == ()


def test_a_tight_limit_needs_a_word_and_says_why(table: Editing) -> None:
    assert tight(table) == ()
    narrow = with_tolerance(table, Channel.TORSO, 0.1)
    (why,) = tight(narrow)
    assert why.startswith("torso 0.1\N{DEGREE SIGN}: it is ")
    assert "SD of one stroke value" in why
    assert "tighter than the noise" in why_not_kept(narrow, all_the_same=False)
    assert why_not_kept(narrow, all_the_same=True) == ""


def test_an_advisory_limit_needs_a_word_only_where_it_was_set_by_hand(table: Editing) -> None:
    held = table.target.envelope(Channel.PELVIS_HEIGHT)
    assert not held.required
    noisy = replace(held, stroke_sd=held.tol)
    others = [e for e in table.target.envelopes if e.channel is not Channel.PELVIS_HEIGHT]
    as_captured = replace(table, target=replace(table.target, envelopes=(*others, noisy)))
    assert tight(as_captured) == ()
    by_hand = with_tolerance(as_captured, Channel.PELVIS_HEIGHT, 7.0)
    assert len(tight(by_hand)) == 1
    required = with_required(as_captured, Channel.PELVIS_HEIGHT, required=True)
    assert len(tight(required)) == 1


def test_nothing_is_kept_twice_and_nothing_before_there_is_a_target(table: Editing) -> None:
    assert why_not_kept(None, all_the_same=False).startswith("There is no target yet")
    assert why_not_kept(table, all_the_same=False) == "Nothing was changed since it was kept."
    assert why_not_kept(with_author(table, "A. Fitter"), all_the_same=False) == ""
    changed = with_note(table, "x")
    assert why_not_kept(undo(changed), all_the_same=False) != ""
