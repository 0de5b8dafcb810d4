"""What a long watch is judged by, on made looks; and the making of a short one."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.bench.endurance import log_row, measure_endurance, memory_row, paint_row
from posewatch.bench.windows import Look
from posewatch.runtime.health import Health, Stage
from posewatch.store.settings import Settings

MB = 1_000_000


def looks(
    rss_mb: list[float], lag: int = 1, age_s: float = 0.4, paint_ms: float = 60.0
) -> list[Look]:
    health = Health(30.0, 1, 0, Stage(20, 25), Stage(40, paint_ms), lag, age_s, -1)
    return [Look(10.0 * n, health, round(mb * MB)) for n, mb in enumerate(rss_mb)]


def test_memory_that_rises_at_first_only_is_no_leak() -> None:
    row = memory_row(looks([300 + 10 * n for n in range(10)] + [400.0] * 10))
    assert row.figure == "+0.0 MB of 400"
    assert row.reached


def test_memory_that_goes_on_rising_is_one() -> None:
    row = memory_row(looks([300 + 4 * n for n in range(40)]))
    # The second half begins at 380 and ends at 456; a fifth of it is 4 looks.
    assert row.figure == "+64.0 MB of 386"
    assert not row.reached


@pytest.mark.parametrize(("lag", "age_s"), [(61, 0.4), (1, 2.1)])
def test_a_log_that_is_ever_behind_is_told(lag: int, age_s: float) -> None:
    assert not log_row([*looks([1.0]), *looks([1.0], lag, age_s)]).reached
    assert log_row(looks([1.0])).reached


def test_the_age_of_pictures_is_told_at_both_ends() -> None:
    row = paint_row([*looks([1.0] * 3, paint_ms=50), *looks([1.0] * 3, paint_ms=80)])
    assert row.figure == "50 and 80 ms"


@pytest.mark.model
def test_a_short_watch_gives_every_row(tmp_path: Path) -> None:
    told: list[float] = []
    rows = measure_endurance(Settings(data_folder=tmp_path, model="lite"), 0.1, told.append)
    assert [row.what.split(",")[0] for row in rows] == [
        "live with windows for 0.1 min",
        "memory",
        "log behind",
        "grab to paint",
    ]
    assert list(tmp_path.iterdir()) == [], "its sessions are not the user's"
