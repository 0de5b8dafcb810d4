"""Where an act belongs, on visits that go other than planned."""

from __future__ import annotations

from made_plans import made_design

from posewatch.export.places import Place, place
from posewatch.trials import acts, conduct
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.plan import make_plan

PLAN = make_plan(made_design(familiarisation=False))


def places(*happened: Act) -> list[Place]:
    """Return the place of each act, from the visit's beginning."""
    state, found = ConductState(), []
    for act in (acts.VisitBegun(0, 1), *happened):
        before, state = state, conduct.step(PLAN, state, act)
        found.append(place(PLAN, before, act, state))
    return found[1:]


HOODS = Place(1, 1, 1, "hoods")


def test_between_mountings_nothing_is_mounted() -> None:
    assert places(acts.Noted(1, "a"), acts.MountingBegun(2), acts.Noted(3, "b")) == [
        Place(),
        Place(1),
        Place(1),
    ]


def test_inside_a_trial_everything_is_the_trials() -> None:
    said = places(
        acts.MountingBegun(1),
        acts.TrialBegun(2, "a"),
        acts.Noted(3, "x"),
        acts.Reopened(4, "in a trial"),
        acts.Waiting(5, "pause"),
        acts.TrialClosed(6, 0, 0, "stopped"),
        acts.Noted(7, "y"),
        acts.Rated(8, "feet", "pain", 1.0),
    )
    assert said == [Place(1), *[HOODS] * 5, Place(1), HOODS]


def test_a_rating_after_the_mounting_is_still_of_its_trial() -> None:
    said = places(
        acts.MountingBegun(1),
        acts.TrialBegun(2, "a"),
        acts.TrialClosed(3, 60, 1),
        acts.TrialSkipped(4, "no time"),
        acts.MountingEnded(5),
        acts.MountingBegun(6),
        acts.Rated(7, "feet", "pain", 1.0),
    )
    assert said[3:] == [Place(1, 2, 1, "drops"), Place(1), Place(2), HOODS]


def test_a_trial_that_is_skipped_again_has_its_next_attempt() -> None:
    said = places(
        acts.MountingBegun(1),
        acts.TrialBegun(2, "a"),
        acts.TrialClosed(3, 0, 0, "stopped"),
        acts.TrialRepeated(4, "doorbell"),
        acts.TrialSkipped(5, "tired"),
    )
    assert said[-2:] == [HOODS, Place(1, 1, 2, "hoods")]


def test_a_mounting_that_is_left_out_is_named() -> None:
    assert places(acts.MountingSkipped(1, "late"), acts.MountingBegun(2)) == [Place(1), Place(2)]
    assert places(acts.MountingBegun(1), acts.MountingSkipped(2, "torn")) == [Place(1), Place(1)]
