"""The reset at the beginning of a trial: always the same steps at the same times."""

from __future__ import annotations

import pytest
from made_acts import Walk

from posewatch.core.timebase import to_ns
from posewatch.trials import acts
from posewatch.trials.reset import RESET_S, reset_step
from posewatch.trials.words import RITUAL, RITUAL_S


def test_each_step_is_due_when_the_one_before_has_lasted() -> None:
    walk = Walk()
    walk.begin()
    assert reset_step(walk.state, walk.now_ns) is None
    walk.do(acts.TrialBegun, "trials/x")
    begun_s = walk.t_s
    said = []
    while (step := reset_step(walk.state, walk.now_ns)) is not None:
        moment, left_s = step
        walk.do(acts.RitualDone, moment, after_s=left_s)
        said.append((str(moment), walk.t_s - begun_s))
    # Stands for eight seconds; the other times are the program's own.
    assert [moment for moment, _ in said] == ["coast", "stand 8 s", "sit", "hands on", "pedal"]
    times = dict(said)
    assert times["sit"] - times["stand 8 s"] == pytest.approx(8.0)
    assert times["pedal"] == pytest.approx(RESET_S) == pytest.approx(sum(RITUAL_S.values()))
    assert [moment for moment, _ in said] == list(RITUAL)


def test_what_is_left_of_a_step_counts_down_and_is_never_negative() -> None:
    walk = Walk()
    walk.begin()
    walk.do(acts.TrialBegun, "trials/x")
    walk.do(acts.RitualDone, RITUAL[0])
    for after_s, left_s in ((0.0, 3.0), (1.0, 2.0), (3.0, 0.0), (60.0, 0.0)):
        assert reset_step(walk.state, walk.now_ns + to_ns(after_s)) == (
            RITUAL[1],
            pytest.approx(left_s),
        )
