"""What is shown of a visit's record: trials by codes, the lock and the reveal, never a name."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run
from made_codes import NAMES
from made_visits import VisitMaker

from posewatch.trials.acts import DataLocked, Revealed
from posewatch.trials.concealment import EARLY_STAMP


@pytest.fixture
def made(tmp_path: Path) -> VisitMaker:
    return VisitMaker(tmp_path)


def test_a_visit_is_shown_with_its_trials_and_where_it_stands(
    run: Run, made: VisitMaker, tmp_path: Path
) -> None:
    watch = tmp_path / "watch"
    watch.mkdir()
    shown = run("session", "show", made.visit("v", watch, keep_until="2026-12-31"))
    assert (shown.status, shown.err) == (0, "")
    said = " ".join(shown.out.split())
    for words in (
        "visit 1 of 2, begun 2025-03-01T09:11:12+00:00: shorts, rider r17, bike road",
        f"items {', '.join(made.sealed.codes)}; item covered; indication only",
        made.sealed.sha256,
        "to be kept until 2026-12-31",
        "ridden again: ",
        "2 guesses asked, 1 said which",
        "the visit is over: out of time",
    ):
        assert words in said
    assert not any(name in shown.out for name in NAMES)


def test_the_lock_and_an_early_reveal_are_shown(run: Run, made: VisitMaker, tmp_path: Path) -> None:
    watch = tmp_path / "watch"
    watch.mkdir()
    early = Revealed(0, "the fitter", "curious", True, made.sealed.sha256)
    late = DataLocked(0, "the analyst")
    shown = run("session", "show", made.visit("v", watch, more=(early, late))).out
    assert f"codes revealed by the fitter: curious; {EARLY_STAMP}" in " ".join(shown.split())
    assert "data locked by the analyst" in shown
