"""Looking on while a source is read."""

from __future__ import annotations

import threading

import pytest
from made_landmarks import MadeEstimator, MadePictures

from posewatch.runtime import health, overseeing
from posewatch.runtime.health import HealthMeter
from posewatch.runtime.overseeing import PICTURES_KEPT, Overseen, Oversight, RecentPictures


class Clock:
    """Goes on by a millisecond whenever it is read."""

    def __init__(self) -> None:
        self.t_ns = 0

    def monotonic_ns(self) -> int:
        self.t_ns += 1_000_000
        return self.t_ns


def test_an_estimator_keeps_its_pictures_with_their_grab_and_tells_how_long_it_takes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = Clock()
    monkeypatch.setattr(overseeing, "clock", clock)
    monkeypatch.setattr(health, "clock", clock)
    oversight = Oversight(threading.Event(), RecentPictures(), HealthMeter(), 0.1)
    inner = MadeEstimator()
    overseen = Overseen(inner, oversight, lambda: 500_000_000)
    pictures = list(MadePictures())
    for picture in pictures:
        assert overseen.detect(picture).t_ns == picture.t_ns
    kept, grabbed_ns = oversight.pictures.at(pictures[1].t_ns)
    assert kept is pictures[1]
    # Three readings a picture: at its grab, and around the model.
    assert grabbed_ns == 4_000_000 - (500_000_000 - pictures[1].t_ns)
    assert oversight.health.read().model.p50_ms == pytest.approx(1.0)
    assert overseen.model == inner.model
    overseen.close()
    assert inner.n_closed == 1


def test_only_the_last_pictures_are_kept() -> None:
    recent = RecentPictures()
    pictures = list(MadePictures(tuple(range(PICTURES_KEPT + 1))))
    for picture in pictures:
        recent.add(picture, picture.t_ns)
    assert recent.at(0) == (None, 0)
    assert recent.at(1)[0] is pictures[1]
