"""What the open camera has shown: unbroken pictures, light, how much of the body is believed."""

from __future__ import annotations

from pathlib import Path

import pytest
from made_setup_scenes import STEP_NS, darkness, grey, moment, run_scenes, scene_of, still_studio

from posewatch.core.camera_watch import NEAR
from posewatch.core.doubts import Doubt
from posewatch.core.needs import Sight
from posewatch.core.records import NS_PER_S, Side, SourceCondition
from posewatch.studio import Studio
from posewatch.ui.looking import Looking, look, sight
from posewatch.ui.scene import Scene
from posewatch.watched_source import Source

START = 1000 * NS_PER_S


class Looker:
    """Keeps what was looked at."""

    def __init__(self) -> None:
        self.looking = Looking()

    def __call__(self, scene: Scene) -> None:
        self.looking = look(self.looking, scene)


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    """A studio that looks."""
    made, engine = still_studio(tmp_path)
    made.choose(source=Source(Path("x.mp4"), "full"))
    made.look()
    engine.opened()
    return made


def test_a_good_view(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 5.0, grey(0.5))
    found = sight(looker.looking, now, 29.0)
    assert found.running_s == pytest.approx(5.0, abs=0.04)
    assert found == Sight(found.running_s, 29.0, "", 1.0, None, Side.RIGHT)


def test_an_old_picture_is_no_picture_though_time_goes_on(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 5.0, grey(0.5))
    last = studio.post.shown
    assert last is not None
    for _ in range(33):
        # A lost camera is waited for: the moment's time goes on with the old picture.
        studio.post.shown = type(last)(now, last.picture, 0, last.crosses_px, last.tracked, None)
        looker(scene_of(studio, now))
        now += STEP_NS
    assert sight(looker.looking, now, 0.0).running_s == 0.0
    now = run_scenes(looker, studio, now, 0.5, grey(0.5))
    assert sight(looker.looking, now, 0.0).running_s == pytest.approx(0.5, abs=0.04)


def test_the_same_picture_polled_twice_is_one_moment(studio: Studio) -> None:
    looker = Looker()
    studio.post.shown = moment(START, grey(0.5))
    looker(scene_of(studio, START))
    looker(scene_of(studio, START + STEP_NS))
    assert len(looker.looking.recent) == 1


def test_what_was_not_believed_most_often_is_told_of_the_last_two_seconds(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 5.0, grey(0.5), doubt=Doubt.CUT_OFF)
    now = run_scenes(looker, studio, now, 1.5, grey(0.5))
    now = run_scenes(looker, studio, now, 0.4, grey(0.5), doubt=Doubt.NOT_VISIBLE)
    found = sight(looker.looking, now, 30.0)
    assert found.seen_share == pytest.approx(1.5 / 2.0, abs=0.03)
    assert found.doubt == ("knee", Doubt.NOT_VISIBLE)


def test_the_side_is_known_only_of_a_body_that_is_seen(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 3.0, grey(0.5), doubt=Doubt.NOBODY)
    assert sight(looker.looking, now, 30.0).side is None
    now = run_scenes(looker, studio, now, 1.0, grey(0.5), side=Side.LEFT)
    assert sight(looker.looking, now, 30.0).side is Side.LEFT


@pytest.mark.parametrize(("brightness", "is_dark"), [(NEAR.dark + 0.02, False), (0.05, True)])
def test_darkness_is_measured(studio: Studio, brightness: float, is_dark: bool) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 2.0, grey(brightness))
    found = sight(looker.looking, now, 30.0)
    assert found.light == ("the picture is dark, 5 % of full brightness" if is_dark else "")


def test_darkness_that_the_source_tells_stays_until_it_is_over(studio: Studio) -> None:
    looker = Looker()
    dark = darkness(0, SourceCondition.DARK, "The picture is dark.")
    now = run_scenes(looker, studio, START, 1.0, grey(0.5), said=(dark,))
    now = run_scenes(looker, studio, now, 1.0, grey(0.5))
    assert sight(looker.looking, now, 30.0).light == "The picture is dark."
    over = darkness(0, SourceCondition.RUNNING, "bright again")
    now = run_scenes(looker, studio, now, 0.1, grey(0.5), said=(over,))
    assert sight(looker.looking, now, 30.0).light == ""


def test_landmarks_without_pictures_tell_nothing_of_the_light(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 4.0, None)
    found = sight(looker.looking, now, 30.0)
    assert found.light is None
    assert found.seen_share == 1.0


def test_a_closed_camera_is_forgotten(studio: Studio) -> None:
    looker = Looker()
    now = run_scenes(looker, studio, START, 4.0, grey(0.5))
    studio.end()
    looker(scene_of(studio, now))
    assert looker.looking.moment_ns < 0
    assert sight(looker.looking, now, 0.0).running_s == 0.0
