"""Commands killed at random moments: what they had recorded is there, whole, and gone on with."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from posewatch.bench.kills import Ground, kill_visit, kill_watch, prepare

#: Five seeded moments. A kill at any other must do as well: `posewatch bench faults` takes fifty.
MOMENTS = random.Random(1)
WATCHES_S = [MOMENTS.uniform(0.0, 2.0) for _ in range(2)]
VISITS_S = [MOMENTS.uniform(0.3, 1.5) for _ in range(3)]


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    return prepare(tmp_path_factory.mktemp("kills"))


@pytest.mark.parametrize("after_s", WATCHES_S)
def test_a_killed_watch_loses_under_a_second(
    ground: Ground, tmp_path: Path, after_s: float
) -> None:
    left = kill_watch(ground, tmp_path / "s", after_s)
    assert left.wrong == ()
    assert -0.1 < left.lost_s <= 1.0


@pytest.mark.parametrize("number", range(3))
def test_a_killed_visit_keeps_its_trials_and_is_gone_on_with(
    ground: Ground, tmp_path: Path, number: int
) -> None:
    left = kill_visit(ground, tmp_path / "v", VISITS_S[number], to_the_end=number == 0)
    assert left.wrong == ()
    assert left.lost_s <= 1.0
    assert left.n_whole == left.n_ended
    assert left.went_on
