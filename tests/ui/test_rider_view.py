"""What the rider is shown, without a window."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from exact_rider import HAND_UP, SITTING, TORSO, off, pedal, take, task
from linkage_rider import CHAIN
from made_scenes import TARGET, body, live, power, scene, standing

from posewatch.core import pipeline
from posewatch.core.envelope import LengthUnit
from posewatch.core.gross_events import Change
from posewatch.core.judge import JudgeState
from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S, Channel, FloatArray, Side
from posewatch.core.standing import Standing
from posewatch.core.standing import standing as standing_of
from posewatch.core.watch_plan import WatchPlan
from posewatch.studio import Doing
from posewatch.trials.words import RitualMoment
from posewatch.ui import ways
from posewatch.ui.rider_view import KEPT_NS, Kind, RiderMemory, RiderView, rider_view
from posewatch.ui.scene import Reset, Scene, Switches
from posewatch.ui.words import SPOKEN

S = Phase.STEADYING
POLL_NS = NS_PER_S // 30


def first(stands: Standing | None = None, **changes: Any) -> RiderView:
    """Return what a fresh window shows."""
    return rider_view(scene(stands, **changes), RiderMemory())[1]


def shown_over(scenes: Iterator[Scene] | list[Scene]) -> list[RiderView]:
    """Return what one window shows, scene after scene."""
    memory, views = RiderMemory(), []
    for one in scenes:
        memory, view = rider_view(one, memory)
        views.append(view)
    return views


def polls(seconds: float, *stands: Standing | None, **changes: Any) -> list[Scene]:
    """Return scenes at 30 Hz that give each standing its equal part of the time, in order."""
    n = round(seconds * 30)
    return [
        scene(stands[i * len(stands) // n], monotonic_ns=100 * NS_PER_S + i * POLL_NS, **changes)
        for i in range(n)
    ]


@pytest.mark.parametrize(
    ("stands", "changes", "kind", "words"),
    [
        (None, {"doing": Doing.NOTHING}, Kind.CURTAIN, "camera closed"),
        (standing(), {"doing": Doing.NOTHING, "error": "disk full"}, Kind.CURTAIN, "camera closed"),
        (None, {"doing": Doing.PREVIEW}, Kind.READY, "camera open"),
        (None, {"doing": Doing.CAPTURE}, Kind.READY, "keep riding"),
        (None, {}, Kind.READY, "getting ready"),
        (standing(), {"paused": "rest", "camera": "lost"}, Kind.REST, "rest"),
        (standing(waiting=(Reason.CAMERA, Reason.PAUSED)), {}, Kind.REST, "pause"),
        (standing(waiting=(Reason.CAMERA,)), {}, Kind.WAIT, "camera: no picture"),
        (standing(waiting=(Reason.NOT_SEEN,)), {}, Kind.WAIT, "camera: you are not seen"),
        (standing(waiting=(Reason.OUT_OF_SADDLE,)), {}, Kind.WAIT, "sit down"),
        (standing(waiting=(Reason.HAND_OFF,)), {}, Kind.WAIT, "hands on the bar"),
        (standing(waiting=(Reason.COASTED,)), {}, Kind.WAIT, "pedal on"),
        (standing(phase=Phase.SIT_IN, sit_in_left_s=12.2), {}, Kind.SIT_IN, "settle in"),
        (standing(phase=Phase.SIT_IN), {"reset": Reset("hands on", 2.0)}, Kind.RESET, "hands on"),
        (standing(waiting=(Reason.COASTED,)), {"reset": Reset("stand", 8.0)}, Kind.RESET, "stand"),
        (standing(), {"reset": Reset("stand", 8.0), "paused": "rest"}, Kind.REST, "rest"),
        (standing(counted=60), {"reset": Reset("pedal", 0.0)}, Kind.REACHED, "goal reached"),
        (standing(phase=S, live=()), {}, Kind.COACH, "pedal on"),
        (standing(phase=S), {}, Kind.COACH, "steady"),
        (standing(), {}, Kind.QUIET, "in position"),
        (standing(counted=60), {}, Kind.REACHED, "goal reached"),
    ],
)
def test_each_situation_has_its_picture(
    stands: Standing | None, changes: dict[str, Any], kind: Kind, words: str
) -> None:
    face = first(stands, **changes).face
    assert (face.kind, face.words, face.way) == (kind, words, None)


def test_without_a_camera_nothing_else_is_told() -> None:
    waiting = (Reason.OUT_OF_SADDLE, Reason.NOT_SEEN, Reason.CAMERA)
    face = first(standing(waiting=waiting)).face
    assert face.words == "camera: no picture"
    assert face.hatched


def test_what_the_camera_does_not_see_is_hatched_and_named() -> None:
    unknown = live(Channel.KNEE, reason=Reason.NOT_BELIEVED)
    face = first(standing(phase=S, live=body(unknown))).face
    assert (face.words, face.hatched) == ("camera: not clear", True)
    slow = live(Channel.KNEE, reason=Reason.TOO_SLOW)
    assert first(standing(phase=S, live=body(slow))).face.words == "pedal faster"
    advisory = live(Channel.PELVIS_HEIGHT, required=False, reason=Reason.NOT_BELIEVED)
    assert not first(standing(phase=S, live=body(advisory))).face.hatched


def test_whole_seconds_of_the_sit_in_count_down_to_one() -> None:
    left = [first(standing(phase=Phase.SIT_IN, sit_in_left_s=s)).seconds for s in (30.0, 29.2, 0.1)]
    assert left == [30, 30, 1]
    assert first(standing(phase=Phase.SIT_IN, sit_in_left_s=0.0)).seconds is None


def test_the_steps_of_the_reset_count_down_and_the_last_has_no_end() -> None:
    sitting = standing(phase=Phase.SIT_IN, sit_in_left_s=30.0)
    left = [first(sitting, reset=Reset("stand", s)).seconds for s in (8.0, 7.2, 0.1)]
    assert left == [8, 8, 1]
    view = first(sitting, reset=Reset("pedal", 0.0))
    assert (view.seconds, view.told) == (None, "pedal; 12 of 60 strokes counted")


def test_every_word_of_the_reset_is_among_those_the_window_has_room_for() -> None:
    assert set(ways.RESET) == set(RitualMoment)
    assert set(ways.RESET.values()) <= set(ways.ALL_WORDS)


def test_good_strokes_light_the_nest() -> None:
    view = first(standing(phase=S, steady=2, needed=3))
    assert (view.lit, view.needed) == (2, 3)
    assert first(standing()).lit == 5
    assert "2 of 3 good strokes" in view.told


#: What is off, the words that lead it back, and where the mark then is: along, up, tilt.
OFF = [
    (live(Channel.TORSO, 1.5), "lower, bend elbows", (0, 1, 0)),
    (live(Channel.TORSO, -1.5), "taller, straighten arms", (0, -1, 0)),
    (live(Channel.SITTING_PLACE, 1.5), "sit back", (1, 0, 0)),
    (live(Channel.SITTING_PLACE, -1.5), "sit forward", (-1, 0, 0)),
    (live(Channel.HAND_PLACE, along=1.5), "hands back", (1, 0, 0)),
    (live(Channel.HAND_PLACE, along=0.2, up=-1.5), "hands higher", (0, -1, 0)),
    (live(Channel.KNEE, 1.5), "heels lower", (0, 1, 0)),
    (live(Channel.HIP, 1.5), "tip pelvis forward", (0, 0, -1)),
    (live(Channel.CADENCE, -1.5), "spin faster", (0, 0, 0)),
    (live(Channel.POWER, 1.5), "ease off", (0, 0, 0)),
    (live(Channel.TORSO, 0.3, restless=True), "ride more quietly", (0, 0, 0)),
]


@pytest.mark.parametrize("phase", [S, Phase.IN_POSITION])
@pytest.mark.parametrize(("value", "words", "signs"), OFF)
def test_a_cue_moves_the_mark_away_from_where_its_words_lead(
    value: Any, words: str, signs: tuple[int, int, int], phase: Phase
) -> None:
    channel = value.value.channel
    stands = standing(phase=phase, cue=channel, direction=words, live=body(value))
    view = shown_over(polls(2.0, stands))[-1]
    assert (view.face.words, view.face.way) == (words, ways.WAYS[words])
    place = (view.along, view.up, view.tilt)
    assert [math.copysign(1, part) if part else 0 for part in place] == list(signs)
    assert max(map(abs, place)) == pytest.approx(0.75 * max(map(abs, signs)), abs=0.02)


def test_every_wording_of_a_correction_has_a_picture() -> None:
    assert set(ways.WAYS) == set(SPOKEN)


def test_while_steadying_the_mark_follows_what_matters_most() -> None:
    near = standing(phase=S, live=body(live(Channel.TORSO, 0.3), live(Channel.SITTING_PLACE, 0.8)))
    view = shown_over(polls(1.0, near))[-1]
    assert (view.along, view.up, view.face.words) == (pytest.approx(0.4), 0.0, "steady")
    led = standing(phase=S, live=body(live(Channel.TORSO, 1.1), live(Channel.KNEE, 1.9)))
    assert shown_over(polls(1.0, led))[-1].face.follows is Channel.TORSO
    free = standing(phase=S, live=body(live(Channel.TORSO, 0.9), live(Channel.KNEE, 1.9)))
    assert shown_over(polls(1.0, free))[-1].face.follows is Channel.KNEE


def test_two_channels_about_as_far_off_do_not_take_turns() -> None:
    a = standing(phase=S, live=body(live(Channel.TORSO, 0.60), live(Channel.SITTING_PLACE, 0.61)))
    b = standing(phase=S, live=body(live(Channel.TORSO, 0.61), live(Channel.SITTING_PLACE, 0.60)))
    followed = {view.face.follows for view in shown_over(polls(6.0, *(a, b) * 6))}
    assert followed == {Channel.SITTING_PLACE}


def test_in_position_the_mark_rests_whatever_the_values_do() -> None:
    stands = [standing(live=body(live(Channel.TORSO, 0.9 * math.sin(i)))) for i in range(30)]
    views = shown_over(polls(3.0, *stands))
    assert {(v.along, v.up, v.tilt) for v in views} == {(0.0, 0.0, 0.0)}
    assert len(set(views[15:])) == 1  # the beads of the first scene have landed


def test_the_mark_glides() -> None:
    off_now = standing(phase=S, live=body(live(Channel.TORSO, 2.0)))
    ups = [view.up for view in shown_over(polls(2.0, standing(phase=S), off_now))]
    steps = [b - a for a, b in pairwise(ups)]
    assert ups[0] == 0.0
    assert ups[-1] == 1.0
    assert min(steps) >= 0.0
    assert max(steps) < 0.3


def test_a_value_that_is_not_known_leaves_the_mark_where_it_is() -> None:
    out = standing(
        cue=Channel.TORSO, direction="lower, bend elbows", live=body(live(Channel.TORSO, 1.5))
    )
    lost = replace(out, live=body(live(Channel.TORSO, reason=Reason.HOLE)))
    view = shown_over(polls(4.0, out, lost))[-1]
    assert view.up == pytest.approx(0.75, abs=0.01)


def test_without_cues_nobody_is_corrected() -> None:
    value = live(Channel.TORSO, 1.8)
    for phase, words in ((S, "steady"), (Phase.IN_POSITION, "in position")):
        stands = standing(
            phase=phase, cue=Channel.TORSO, direction="lower, bend elbows", live=body(value)
        )
        view = shown_over(polls(1.0, stands, switches=Switches(cues=False)))[-1]
        assert (view.face.words, view.face.way, view.up) == (words, None, 0.0)
        assert view.beads.filled == 12
    off_saddle = standing(waiting=(Reason.OUT_OF_SADDLE,))
    assert first(off_saddle, switches=Switches(cues=False)).face.words == "waiting"


def test_what_is_shown_stays_a_third_of_a_second() -> None:
    cue = standing(cue=Channel.TORSO, direction="lower, bend elbows")
    scenes = polls(4.0, *(cue, standing()) * 30)
    changes = []
    memory, face = RiderMemory(), None
    for one in scenes:
        memory, view = rider_view(one, memory)
        if view.face != face:
            changes.append(one.monotonic_ns)
            face = view.face
    gaps = [b - a for a, b in pairwise(changes)]
    assert len(gaps) >= 5
    assert min(gaps) >= KEPT_NS


def test_the_rider_faces_as_he_rides() -> None:
    assert first(standing()).faces == 1
    assert first(standing(), target=replace(TARGET, side=Side.LEFT)).faces == -1


def test_beads_never_run_backwards_and_a_new_watch_starts_anew() -> None:
    scenes = polls(3.0, standing(counted=9), standing(counted=7), None)
    scenes += polls(1.0, standing(counted=0, t_ns=0))
    filled = [view.beads.filled for view in shown_over(scenes)]
    assert filled == [9] * 60 + [0] * 60
    straight_on = polls(2.0, standing(counted=9, t_ns=50), standing(counted=2, t_ns=10))
    assert shown_over(straight_on)[-1].beads.filled == 2


def test_numbers_are_whole_and_a_dash_where_not_known() -> None:
    assert [(n.text, n.unit) for n in first(standing()).numbers] == [("90", "rpm")]
    assert first(standing(cadence_rpm=math.nan)).numbers[0].text == "\N{EN DASH}"
    assert [n.text for n in first(standing(), said=(power(201.6),)).numbers] == ["90", "202"]
    hidden = first(standing(waiting=(Reason.HAND_OFF,)), said=(power(201.6),))
    assert [n.text for n in hidden.numbers] == ["", ""]


def test_what_is_planned_stands_under_the_numbers() -> None:
    plan = WatchPlan(power_w=200.0, cadence_rpm=92.5)
    found = first(standing(), plan=plan).numbers
    assert [(n.text, n.unit) for n in found] == [("90", "of 92 rpm"), ("\N{EN DASH}", "of 200 W")]
    found = first(standing(), said=(power(201.6),), plan=WatchPlan(cadence_rpm=90.0)).numbers
    assert [(n.text, n.unit) for n in found] == [("90", "of 90 rpm"), ("202", "W")]


def test_power_that_stops_coming_is_a_dash() -> None:
    scenes = polls(5.0, standing())
    scenes[0] = replace(scenes[0], said=(power(200.0),))
    texts = [view.numbers[1].text for view in shown_over(scenes)]
    assert texts[0] == "200"
    assert (texts[89], texts[92]) == ("200", "\N{EN DASH}")


def test_power_changes_at_most_once_a_second() -> None:
    scenes = [
        replace(one, said=(power(200.0 + 3 * number),))
        for number, one in enumerate(polls(4.0, standing()))
    ]
    texts = [view.numbers[1].text for view in shown_over(scenes)]
    assert 2 <= sum(a != b for a, b in pairwise(texts)) <= 4


def test_the_number_that_is_to_change_is_marked() -> None:
    value = live(Channel.POWER, 1.5)
    stands = standing(cue=Channel.POWER, direction="ease off", live=body(value))
    assert [n.off for n in first(stands, said=(power(250.0),)).numbers] == [False, True]


def test_the_words_tell_what_the_picture_shows() -> None:
    stands = standing(cue=Channel.TORSO, direction="lower, bend elbows")
    view = first(stands, switches=Switches(no_sound="no loudspeaker"))
    assert view.told == "lower, bend elbows; 12 of 60 strokes counted; 90 rpm; no sound"
    sit_in = first(standing(phase=Phase.SIT_IN, sit_in_left_s=4.0))
    assert sit_in.told == "settle in; 4 seconds left; 12 of 60 strokes counted"


def test_no_name_is_ever_told() -> None:
    target = replace(TARGET, rider="RIDERNAME", bike="BIKENAME", hands="HANDSNAME", note="NOTE")
    for stands in (standing(), standing(phase=S), standing(counted=60)):
        view = first(stands, target=target, error="ERROR", camera="CAMERATEXT", paused="")
        for name in ("RIDERNAME", "BIKENAME", "HANDSNAME", "NOTE", "ERROR", "CAMERATEXT"):
            assert name not in repr(view) + view.told


def ridden(inputs: Iterator[Any], **changes: Any) -> list[tuple[Scene, RiderView]]:
    """Judge a ride and show it, input by input."""
    held = task(WatchPlan(sit_in_s=3.0, goal_strokes=40), LengthUnit.MM)
    judged, empty, memory = JudgeState(), pipeline.start(held, CHAIN, None), RiderMemory()
    found = []
    for new in inputs:
        judged, _ = take(held, judged, new)
        stands = standing_of(held, replace(empty, judge=judged), new.t_ns)
        one = scene(stands, monotonic_ns=NS_PER_S + new.t_ns, target=held.target, **changes)
        memory, view = rider_view(one, memory)
        found.append((one, view))
    return found


def away(t_s: float, turns: float) -> FloatArray | None:
    """Deviations of a ride with a high torso, a slide on the saddle, a hand off and a gap."""
    if 10.0 <= t_s < 12.0:
        return off(TORSO, 5.0)
    if 18.0 <= t_s < 20.0:
        return off(SITTING, -14.0)
    if 24.0 <= t_s < 26.0:
        return off(HAND_UP, 150.0)
    return None if 30.0 <= t_s < 32.5 else off(TORSO, 0.0)


def test_a_whole_ride_is_shown_calmly_and_in_order() -> None:
    shown = ridden(pedal(60.0, away))
    words = [view.face.words for _, view in shown]
    order = list(dict.fromkeys(words))
    assert order == [
        *("pedal on", "steady", "in position", "lower, bend elbows", "sit forward"),
        *("hands on the bar", "camera: you are not seen", "goal reached"),
    ]
    changes = [b[0].monotonic_ns for a, b in pairwise(shown) if a[1].face != b[1].face]
    assert min(b - a for a, b in pairwise(changes)) >= KEPT_NS
    filled = [view.beads.filled for _, view in shown]
    assert filled == sorted(filled)
    assert filled[-1] == 40
    for one, view in shown:
        stands = one.standing
        assert stands is not None
        assert view.counted == stands.counted


def test_a_whole_ride_without_cues_says_no_correction() -> None:
    shown = ridden(pedal(45.0, away), switches=Switches(cues=False))
    assert not {view.face.words for _, view in shown} & set(ways.WAYS)
    assert {(v.along, v.up, v.tilt) for _, v in shown} == {(0.0, 0.0, 0.0)}


def test_a_pause_in_a_ride_is_neutral() -> None:
    def inputs() -> Iterator[Any]:
        yield from pedal(6.0)
        yield Change(6 * NS_PER_S, Reason.PAUSED, begins=True)
        yield from pedal(3.0, lambda t, _: off(TORSO, 9.0), start_s=6.01, start_turns=9.015)

    rests = [view.face for one, view in ridden(inputs()) if one.monotonic_ns > 7.5 * NS_PER_S]
    assert {(face.kind, face.words, face.way) for face in rests} == {(Kind.REST, "pause", None)}
