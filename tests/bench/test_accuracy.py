"""The accuracy of the whole chain on the shipped clips' recorded landmarks."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.bench.accuracy import REFERENCE_OF, STEADY, Scored, all_reached, table
from posewatch.bench.tables import Row


@pytest.fixture(scope="module")
def rows(scored: dict[str, Scored]) -> dict[str, Row]:
    return {row.what: row for row in table(scored)}


#: One stroke of the steadying is not known there (the leg's joints disagree by 1.04 degrees), so
#: that the hold is gained four strokes late.
KNOWN_MISSES = {"hold, hoods_drift"}


def test_every_goal_is_reached_but_the_one_that_is_known(rows: dict[str, Row]) -> None:
    missed = {r.what: r.figure for r in rows.values() if r.reached is False}
    assert missed.keys() == KNOWN_MISSES
    assert not all_reached(list(rows.values()))
    assert missed["hold, hoods_drift"].endswith("0 false")


def test_every_clip_and_every_kind_of_figure_has_its_row(rows: dict[str, Row]) -> None:
    for clip in REFERENCE_OF:
        assert f"hold, {clip}" in rows
    for clip in STEADY:
        assert rows[f"torso, revolution mean, error SD, {clip}"].goal == "at most 0.3 deg"
    for what in (
        "torso, change read per change",
        "knee, change read per change",
        "cadence over any 10 s, largest error",
        "cue after the true value passes, latest",
        "false cues on steady clips",
        "yield, hoods_steady",
        "nobody, counted strokes",
    ):
        assert rows[what].reached is not None


def test_what_is_scored_was_not_learned_from(scored: dict[str, Scored]) -> None:
    """A clip that is its own reference is scored only after the part that made the target."""
    for clip in ("left_side_steady", "dark_kit_dim_room"):
        one = scored[clip]
        end_s = one.yard.reference.end_s
        assert end_s is not None
        assert one.measured.t_ns[0] >= end_s * 1e9
        assert one.exact.t_ns[0] >= end_s * 1e9
    assert scored["hoods_steady"].yard.reference.clip == "hoods_reference"


def test_the_truth_of_nobody_is_nobody(scored: dict[str, Scored]) -> None:
    assert not np.isfinite(scored["empty_bike"].exact.angle_rad).any()
