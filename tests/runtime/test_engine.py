"""One job at a time, and how it stands."""

from __future__ import annotations

import threading

import pytest

from posewatch.core.records import CommandKind, Tick
from posewatch.errors import BadInput
from posewatch.runtime.engine import MOST_SAID, Engine, EngineState, Post, Said
from posewatch.runtime.read_ahead import GaveUp

LIMIT_S = 5.0


def test_a_job_goes_from_starting_to_running_to_stopped() -> None:
    engine, go_on = Engine(), threading.Event()
    assert engine.state is EngineState.STOPPED

    def job(post: Post) -> str:
        go_on.wait(LIMIT_S)
        post.ready.set()
        post.stop.wait(LIMIT_S)
        return "done"

    post = engine.start("looking", job)
    assert engine.state is EngineState.STARTING
    go_on.set()
    assert post.ready.wait(LIMIT_S)
    assert engine.state is EngineState.RUNNING
    with pytest.raises(RuntimeError, match="looking is under way"):
        engine.start("watching", job)
    engine.stop()
    assert engine.wait(LIMIT_S)
    assert (engine.state, engine.result, engine.error) == (EngineState.STOPPED, "done", None)


def test_a_job_that_takes_its_time_is_stopping_and_can_be_waited_for() -> None:
    engine, end = Engine(), threading.Event()

    def job(post: Post) -> None:
        post.stop.wait(LIMIT_S)
        end.wait(LIMIT_S)

    engine.start("watching", job)
    engine.stop()
    assert engine.state is EngineState.STOPPING
    assert not engine.wait(0.0)
    end.set()
    assert engine.wait(LIMIT_S)


def test_what_a_job_raises_is_a_fault_and_the_next_job_starts_clean() -> None:
    engine = Engine()

    def fails(post: Post) -> None:
        raise BadInput("The camera is gone.", "Plug it in.")

    engine.start("watching", fails)
    assert engine.wait(LIMIT_S)
    assert engine.state is EngineState.FAULTED
    assert isinstance(engine.error, BadInput)
    engine.start("watching", lambda post: 7)
    assert engine.wait(LIMIT_S)
    assert (engine.state, engine.error, engine.result) == (EngineState.STOPPED, None, 7)


def test_a_job_that_was_stopped_before_it_was_open_is_no_fault() -> None:
    engine = Engine()

    def gives_up(post: Post) -> None:
        post.stop.wait(LIMIT_S)
        raise GaveUp

    engine.start("looking", gives_up)
    engine.stop()
    assert engine.wait(LIMIT_S)
    assert (engine.state, engine.error) == (EngineState.STOPPED, None)


def test_stopping_nothing_is_harmless_and_waits_for_nothing() -> None:
    engine = Engine()
    engine.stop()
    assert engine.wait(0.0)


def test_what_was_said_is_taken_once_in_order_and_never_without_bound() -> None:
    post = Post()
    for n in range(MOST_SAID + 5):
        post.said.append(Said(Tick(n), ()))
    taken = post.take_said()
    assert [one.item.t_ns for one in taken] == list(range(5, MOST_SAID + 5))
    assert post.take_said() == []


def test_each_job_has_a_post_of_its_own() -> None:
    engine = Engine()
    first = engine.start("one", lambda post: None)
    assert engine.wait(LIMIT_S)
    second = engine.start("two", lambda post: None)
    assert engine.wait(LIMIT_S)
    assert first is not second
    first.controls.say(CommandKind.MARK)
    assert second.controls.taken(0, 10) == []
