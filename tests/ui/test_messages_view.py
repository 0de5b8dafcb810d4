"""Messages: what is one, how it is counted up, and that it stays until it is read."""

from __future__ import annotations

from posewatch.core.envelope import Unit
from posewatch.core.outputs import CreepWarning, HoldGained, LengthsDiffer
from posewatch.core.records import (
    CAMERA,
    NS_PER_S,
    Channel,
    SourceCondition,
    SourceState,
    Tick,
)
from posewatch.ui import messages_view
from posewatch.ui.health_view import Level
from posewatch.ui.messages_view import MOST, Message, Messages

LOST = SourceState(65 * NS_PER_S, CAMERA, SourceCondition.LOST, "No picture. Check its plug.")


def test_a_sources_condition_is_a_message_in_its_own_words() -> None:
    (message,) = messages_view.found(LOST, ())
    assert message.line == "1:05.0  No picture. Check its plug."
    assert message.level is Level.WARN
    (back,) = messages_view.found(SourceState(0, CAMERA, SourceCondition.RUNNING), ())
    assert (back.text, back.level) == ("camera: is there again.", Level.WELL)


def test_creep_says_how_far_and_in_how_long() -> None:
    creep = CreepWarning(NS_PER_S, Channel.SITTING_PLACE, 0.012, 180 * NS_PER_S, Unit.THIGH)
    (message,) = messages_view.found(Tick(0), (creep, HoldGained(0)))
    assert "sitting place by about +5 mm in 3 min" in message.text


def test_another_riders_lengths() -> None:
    differ = LengthsDiffer(0, "thigh", -0.081)
    (message,) = messages_view.found(Tick(0), (differ,))
    assert "The thigh is 8 % shorter" in message.text


def test_the_same_cause_is_counted_up_with_its_last_time() -> None:
    messages: Messages = ()
    for t_s in (1, 2, 3):
        again = SourceState(t_s * NS_PER_S, CAMERA, SourceCondition.LOST, f"No picture at {t_s}.")
        for message in messages_view.found(again, ()):
            messages = messages_view.add(messages, message)
    (message,) = messages
    assert message.line == "0:03.0  No picture at 3. (3 times)"


def test_unread_ones_stay_newest_first_and_read_ones_go() -> None:
    messages: Messages = ()
    for cause in "abc":
        messages = messages_view.add(messages, Message(None, cause, cause, Level.WARN))
    assert [m.cause for m in messages_view.unread(messages)] == ["c", "b", "a"]
    messages = messages_view.read_all(messages)
    assert messages_view.unread(messages) == ()
    messages = messages_view.add(messages, Message(None, "a", "a", Level.WARN))
    assert [(m.cause, m.times) for m in messages_view.unread(messages)] == [("a", 1)]


def test_memory_is_bounded() -> None:
    messages: Messages = ()
    for n in range(MOST + 5):
        messages = messages_view.add(messages, Message(None, str(n), "x", Level.WARN))
    assert len(messages) == MOST
    assert messages[-1].cause == str(MOST + 4)
