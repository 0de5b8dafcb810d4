"""The hold and the marks as a lab stream: what is said, of which moment, and failures."""

from __future__ import annotations

import logging
import re
import sys
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from linkage_rider import TRUNK_DEG, Pose, ride
from made_plans import made_design
from made_rides import write_ride

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.outputs import HoldGained, HoldLost, Output, Phase, Reason
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Channel, Command, CommandKind, Input, Tick
from posewatch.core.timebase import to_ns, to_s
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput
from posewatch.lab_stream import LabStream, act_words, hold_events, open_lab_stream
from posewatch.store.session_reader import SessionReader
from posewatch.store.settings import Settings
from posewatch.trials import acts, conduct
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.plan import make_plan
from posewatch.trials.words import RITUAL
from posewatch.watched_source import Source

Heard = tuple[Input, PipelineState, tuple[Output, ...]]


@dataclass
class Sent:
    """An outlet that keeps what is pushed."""

    samples: list[tuple[str, float]] = field(default_factory=list)

    def push_sample(self, sample: Sequence[str], timestamp: float) -> None:
        (text,) = sample
        self.samples.append((text, timestamp))


@pytest.fixture(scope="module")
def watched(
    ridden_target: Target, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, list[Heard]]:
    """A watch with a loss in it: its log, and what was heard of each input."""
    folder = tmp_path_factory.mktemp("lost")
    source = write_ride(
        folder / "lost.landmarks.npz",
        ride(16.0, lambda t_s, deg: Pose(deg, TRUNK_DEG + 8.0 * (8.0 <= t_s < 11.0))),
    )
    heard: list[Heard] = []
    settings = Settings().model_copy(update={"data_folder": folder})
    Watcher(Source(source, "full"), ridden_target, WatchPlan(), settings, folder / "watch").run(
        lambda *one: heard.append(one), lambda _: None
    )
    return folder / "watch", heard


def test_every_change_of_the_hold_is_sent_at_its_own_time(
    watched: tuple[Path, list[Heard]],
) -> None:
    folder, heard = watched
    sent, now = Sent(), [0.0]
    with LabStream(sent, lambda: now[0]) as stream:
        for item, state, outputs in heard:
            # The library's clock is 500 s ahead; the first pictures take 1 s, later ones 20 ms.
            now[0] = 500.0 + to_s(item.t_ns) + (1.0 if item.t_ns < 200_000_000 else 0.02)
            stream.seen(item, state, outputs)
    with SessionReader(folder) as reader:
        logged = [one for one in reader.events() if isinstance(one, HoldGained | HoldLost)]
    assert [type(one) for one in logged] == [HoldGained, HoldLost, HoldGained]
    gained, lost, again = (to_s(one.t_ns) for one in logged)
    assert [text for text, _ in sent.samples] == [
        "hold: steadying @ 0.000 s",
        f"hold: in position @ {gained:.3f} s",
        f"hold lost: position drifted, torso @ {lost:.3f} s",
        f"hold: steadying @ {lost:.3f} s",
        f"hold: in position @ {again:.3f} s",
    ]
    for (text, at_s), moment_s in zip(sent.samples, (0.0, gained, lost, lost, again), strict=True):
        assert at_s == pytest.approx(500.02 + moment_s, abs=1e-6), text


def test_a_second_watch_on_the_same_stream_has_a_clock_of_its_own(
    watched: tuple[Path, list[Heard]],
) -> None:
    sent = Sent()
    _, heard = watched
    short = [one for one in heard if one[0].t_ns < to_ns(2.0)]
    with LabStream(sent, lambda: now) as stream:
        for begun in (100.0, 900.0):
            for one in short:
                now = begun + to_s(one[0].t_ns)
                stream.seen(*one)
    assert [at_s for _, at_s in sent.samples] == pytest.approx([100.0, 900.0])


def test_marks_and_pauses_are_sent_with_their_numbers(
    watched: tuple[Path, list[Heard]],
) -> None:
    state = watched[1][0][1]
    sent = Sent()
    with LabStream(sent, lambda: 0.0) as stream:
        for t_ns, kind, text in (
            (0, CommandKind.MARK, "consent"),
            (1, CommandKind.MARK, ""),
            (2, CommandKind.LABEL, "2: towel"),
            (3, CommandKind.WITHDRAW, "1"),
            (4, CommandKind.PAUSE, "break"),
            (5, CommandKind.RESUME, ""),
        ):
            stream.seen(Command(to_ns(t_ns), kind, text), state, ())
        stream.seen(Tick(to_ns(6)), state, ())
    assert [text for text, _ in sent.samples] == [
        "hold: steadying @ 0.000 s",
        "mark 1: consent @ 0.000 s",
        "mark 2 @ 1.000 s",
        "label of mark 2: towel @ 2.000 s",
        "withdrawn: mark 1 @ 3.000 s",
        "pause: break @ 4.000 s",
        "resume @ 5.000 s",
    ]


def test_a_loss_without_a_channel_says_the_reason_alone() -> None:
    lost = HoldLost(3, Reason.COASTED)
    assert hold_events(9, Phase.IN_POSITION, Phase.SIT_IN, (lost,)) == [
        (3, "hold lost: coasting"),
        (3, "hold: sit-in"),
    ]
    both = (HoldLost(4, Reason.EFFORT, Channel.POWER, "easier"),)
    assert hold_events(9, Phase.STEADYING, Phase.STEADYING, both) == [
        (4, "hold lost: effort off plan, power")
    ]
    assert hold_events(9, Phase.SIT_IN, Phase.SIT_IN, ()) == []


def test_trials_of_a_visit_are_sent_by_numbers_and_never_by_item() -> None:
    plan = make_plan(made_design())
    state, said = ConductState(), []
    for act in (
        acts.VisitBegun(0, 1),
        acts.MountingBegun(1),
        acts.Noted(2, "secret"),
        acts.TrialBegun(3, "trials/a"),
        acts.RitualDone(4, RITUAL[0]),
        acts.Waiting(5, "pause"),
        acts.WaitOver(6),
        acts.TrialClosed(7, 60, 1, "stopped"),
    ):
        state = conduct.step(plan, state, act)
        said.append(act_words(act, state))
    trial = "mounting 1, trial 1, hoods, attempt 1"
    assert said == [
        "",
        "",
        "",
        f"trial begun: {trial}",
        "reset: coast",
        "trial waits: pause",
        "trial goes on",
        f"trial closed: {trial}",
    ]
    sent = Sent()
    with LabStream(sent, lambda: 7.5) as stream:
        stream.acted(acts.TrialBegun(to_ns(3.0), "trials/a"), state)
        stream.acted(acts.Noted(0, "secret"), state)
    assert sent.samples == [(f"trial begun: {trial} @ visit 3.000 s", 7.5)]


def test_a_failure_to_send_is_logged_and_stops_nothing(
    watched: tuple[Path, list[Heard]], caplog: pytest.LogCaptureFixture
) -> None:
    class Broken:
        def push_sample(self, sample: Sequence[str], timestamp: float) -> None:
            raise RuntimeError("the network is gone")

    with caplog.at_level(logging.ERROR), LabStream(Broken(), lambda: 0.0) as stream:
        for one in watched[1][:60]:
            stream.seen(*one)
    assert "Not sent to the lab stream: hold: steadying" in caplog.text
    stream.close()  # twice is harmless


@pytest.mark.parametrize("how", ["missing", "without its own library", "refusing"])
def test_where_it_cannot_be_opened_it_is_told_plainly(
    monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    if how == "missing":
        monkeypatch.setitem(sys.modules, "pylsl", None)
        words = r"needs the library pylsl.*pip install 'posewatch\[lsl\]'"
    elif how == "without its own library":
        monkeypatch.delitem(sys.modules, "pylsl", raising=False)
        finder = _Failing()
        monkeypatch.setattr(sys, "meta_path", [finder, *sys.meta_path])
        words = r"cannot be loaded \(LSL binary library file was not found\. See the site\.\)"
    else:
        refusing = ModuleType("pylsl")
        monkeypatch.setitem(sys.modules, "pylsl", refusing)
        words = r"The lab stream cannot be opened .*Leave --lsl out"
    with pytest.raises(BadInput, match=words) as caught:
        open_lab_stream("s")
    assert "\n" not in str(caught.value)


class _Failing:
    """Finds pylsl and fails as it does where its shared library is missing."""

    def find_spec(self, name: str, *_: object) -> None:
        if name == "pylsl":
            raise RuntimeError("LSL binary library file was not found.\nSee the site.")


@pytest.fixture
def pylsl() -> Any:
    try:
        import pylsl
    except (ImportError, OSError, RuntimeError) as error:
        pytest.skip(f"pylsl cannot be loaded: {error}")
    return pylsl


def test_another_program_reads_what_was_sent(
    pylsl: Any, watched: tuple[Path, list[Heard]], monkeypatch: pytest.MonkeyPatch
) -> None:
    zero_s = pylsl.local_clock()
    now_s = zero_s
    monkeypatch.setattr(pylsl, "local_clock", lambda: now_s)
    source = f"posewatch-test-{uuid.uuid4().hex}"
    with open_lab_stream(source) as stream:
        (found,) = pylsl.resolve_byprop("source_id", source, timeout=10.0)
        assert (found.name(), found.type(), found.channel_count()) == ("posewatch", "Markers", 1)
        assert found.nominal_srate() == pylsl.IRREGULAR_RATE
        inlet = pylsl.StreamInlet(found)
        inlet.open_stream(timeout=10.0)
        for item, state, outputs in watched[1]:
            now_s = zero_s + to_s(item.t_ns)
            stream.seen(item, state, outputs)
        read = [inlet.pull_sample(timeout=5.0) for _ in range(5)]
        inlet.close_stream()
    texts = [sample[0] for sample, _ in read]
    assert texts[1].startswith("hold: in position @ ")
    moments = [float(re.search(r"@ ([0-9.]+) s$", text)[1]) for text in texts]  # type: ignore[index]
    # The texts' seconds are rounded to milliseconds.
    assert [at_s - zero_s for _, at_s in read] == pytest.approx(moments, abs=1e-3)
