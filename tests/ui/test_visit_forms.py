"""What is typed of a trial or mounting, and what is kept of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from conducted import Conducted, Times, small_design

from posewatch.trials import acts
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.ratings import Region, Scale
from posewatch.trials.words import ConcealmentLevel
from posewatch.ui.visit_view import Next


def test_of_a_plan_of_several_visits_the_number_is_asked(tmp_path: Path, times: Times) -> None:
    at = Conducted(tmp_path, times, small_design(mountings=2, n_visits=2))
    at.next()
    assert at.keep("op3", "3").startswith("The plan has no visit 3.")
    assert at.keep("op3", "two").startswith("'two' is no visit.")
    assert at.acts == []
    assert at.keep("op3", "2") == ""
    assert at.visit.state.visit == 2


def test_what_cannot_be_repeated_is_told_and_stays_typed(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.desk.repeat()
    assert "no trial of this mounting" in at.keep("why not")
    assert at.desk.form is not None


def test_ratings_tell_not_asked_from_nought(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.begin_trial()
    at.ride()
    at.next()
    at.finish()
    at.next()
    assert at.keep("11").startswith("comfort, left sit bone cannot be 11.")
    assert at.keep("bad").startswith("comfort, left sit bone: 'bad' is no number.")
    assert at.keep("0", "2,5", "-") == ""
    rated = [one for one in at.acts if isinstance(one, acts.Rated)]
    assert len(rated) == len(Region) * len(Scale)
    found = {(one.region, one.scale): one.value for one in rated}
    assert found[Region.LEFT_SIT_BONE, Scale.COMFORT] == 0.0
    assert found[Region.LEFT_SIT_BONE, Scale.PAIN] == 2.5
    assert found[Region.RIGHT_SIT_BONE, Scale.COMFORT] is None
    assert found[Region.LOW_BACK, Scale.PAIN] is None
    at.desk.rate()
    assert at.keep("3") == "", "of one region and scale the last stands"


def test_ratings_before_any_trial_are_refused(at: Conducted) -> None:
    at.begin()
    at.desk.rate()
    assert at.desk.form is None
    assert at.notes[-1][0] == "Ratings are asked after a trial."


@pytest.mark.parametrize(
    ("texts", "kept"),
    [
        (("b", "4", "felt soft"), acts.Guessed(0, "B", 4, "felt soft")),
        (("?", "0", ""), acts.Guessed(0, None, 0)),
        (("", "", ""), acts.Overridden(0, StartNeed.GUESS, "not asked")),
    ],
)
def test_the_guess_is_asked_where_the_item_is_concealed(
    tmp_path: Path, times: Times, texts: tuple[str, ...], kept: object
) -> None:
    at = Conducted(tmp_path, times, small_design(concealment=ConcealmentLevel.ITEM_COVERED))
    at.begin()
    at.mount()
    at.trial()
    at.trial()
    at.next()
    assert at.step is Next.GUESS
    at.next()
    assert at.keep("C", "4").startswith("The rider's card has no C.")
    assert at.keep("A", "very").startswith("It is not said how sure")
    assert at.keep("", "4").startswith("No letter is given.")
    assert at.keep(*texts) == ""
    assert at.last == kept
    assert at.step is Next.MOUNT


def test_nothing_is_guessed_where_nothing_is_concealed(at: Conducted) -> None:
    at.begin()
    at.mount()
    at.trial()
    at.trial()
    at.next()
    assert at.last == acts.MountingEnded(0)
    assert at.step is Next.MOUNT


def test_notes_are_kept_at_any_time(at: Conducted) -> None:
    at.desk.write_note()
    assert at.keep(" ").startswith("Nothing is written.")
    assert at.keep("window open") == ""
    assert at.last == acts.Noted(0, "window open")


def test_a_picture_of_the_mounting_is_kept_with_a_note_or_alone(
    at: Conducted, tmp_path: Path
) -> None:
    at.begin()
    picture = tmp_path / "seen.jpg"
    picture.write_bytes(b"a picture")
    at.desk.write_note()
    assert at.keep("strap twisted once", str(picture)) == ""
    photo, note = at.acts[-2:]
    assert isinstance(note, acts.Noted)
    assert isinstance(photo, acts.PhotoKept)
    assert (at.visit.folder / photo.file).read_bytes() == b"a picture"
    at.desk.write_note()
    assert "cannot be kept" in at.keep("again", str(tmp_path / "gone.jpg"))
    assert at.acts[-1] == note
