"""How well the loop keeps up."""

from __future__ import annotations

import math

import numpy as np
import pytest

from posewatch.core.records import NS_PER_S
from posewatch.runtime import health
from posewatch.runtime.health import KEPT, HealthMeter


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.t_ns = NS_PER_S

    def monotonic_ns(self) -> int:
        return self.t_ns


class Log:
    """A log that is behind."""

    n_waiting = 7
    committed_ns = NS_PER_S


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(health, "clock", made)
    return made


def test_nothing_is_known_before_the_first_moment(clock: Clock) -> None:
    found = HealthMeter().read()
    assert (found.rate_hz, found.n_handled, found.log_lag) == (0.0, 0, 0)
    assert math.isnan(found.model.p50_ms)
    assert math.isnan(found.log_age_s)


def test_the_rate_is_that_of_the_last_two_seconds(clock: Clock) -> None:
    meter = HealthMeter()
    for _ in range(120):
        clock.t_ns += NS_PER_S // 25
        meter.handled()
    assert meter.read().rate_hz == pytest.approx(25.0, abs=0.6)
    clock.t_ns += 3 * NS_PER_S
    assert meter.read().rate_hz == 0.0
    assert meter.read().n_handled == 120


def test_stages_are_told_by_their_middle_and_their_slow_end(clock: Clock) -> None:
    meter = HealthMeter()
    took_ms = np.random.default_rng(4).gamma(4.0, 5.0, 2 * KEPT)
    for ms in took_ms:
        meter.took("paint", int(ms * 1e6))
    found = meter.read().paint
    # The reference is numpy's own percentile of the values that are kept.
    assert found.p50_ms == pytest.approx(float(np.percentile(took_ms[-KEPT:], 50)), abs=1e-3)
    assert found.p95_ms == pytest.approx(float(np.percentile(took_ms[-KEPT:], 95)), abs=1e-3)
    with meter.timing("model"):
        clock.t_ns += 20_000_000
    assert meter.read().model.p95_ms == pytest.approx(20.0)


def test_the_log_and_what_did_not_come_through_are_noted(clock: Clock) -> None:
    meter = HealthMeter()
    clock.t_ns += NS_PER_S // 2
    meter.note_log(Log(), lambda: {"overtaken": 2, "times": 1})
    found = meter.read()
    assert (found.log_lag, found.log_age_s, found.overtaken) == (7, 0.5, 3)
