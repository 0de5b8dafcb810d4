"""What trials of a visit are ridden with: where the rider is seen, and what sensors are read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from posewatch.app import Watcher
from posewatch.cli.effort_options import require_used
from posewatch.cli.sources import source_for
from posewatch.cli.video_options import VideoAsked
from posewatch.core.sensor_use import SensorUse
from posewatch.core.video_use import VideoUse
from posewatch.errors import BadInput
from posewatch.runtime.watch_run import OnInput
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import read_target
from posewatch.trials.plan import Design
from posewatch.video_keeping import require_pictures
from posewatch.visits.visit import TrialTask
from posewatch.watched_source import LOOP, Source


@dataclass(slots=True)
class Riders:
    """What trials are ridden with: a source and sensors for each hand position.

    words, recordings: what was given of sources and of sensors' recordings, HANDS=WORD or WORD.
    told: hears every watch besides. video: that was asked for, None = none is kept.
    """

    settings: Settings
    words: Sequence[str]
    recordings: Sequence[str]
    power_sensor: str
    cadence_sensor: str
    camera: str | None
    kit: str
    model: str | None
    any_chain: bool
    told: OnInput | None = None
    video: VideoAsked | None = None
    _kept: VideoUse | None = field(default=None, init=False)
    _sources: dict[str, Source] = field(default_factory=dict, init=False)
    _sensors: dict[str, SensorUse] = field(default_factory=dict, init=False)

    def prepare(self, design: Design, fast: bool) -> None:
        """Find the source and sensors of every hand position.

        Raises:
            BadInput: one is missing, has no target, or cannot be used so.
        """
        if design.power_w is not None and not self.power_sensor:
            raise BadInput(
                "A planned power needs a sensor that measures it.",
                "Give --power-sensor; `posewatch sensors scan` lists them.",
            )
        require_used(self.recordings, self.power_sensor, self.cadence_sensor)
        words = by_hands("--source", self.words, design.hands)
        recordings = by_hands("--sensors", self.recordings, design.hands)
        for hands in design.hands:
            if hands not in words:
                raise BadInput(
                    f"It is not said where the rider on the {hands} is seen.",
                    f"Give --source, or --source {hands}=SOURCE.",
                )
            target = read_target(f"{design.rider}/{design.bike}/{hands}", self.settings.data_folder)
            found = source_for(
                target,
                words[hands],
                self.settings,
                self.model,
                paced=not fast,
                camera=self.camera,
                kit=self.kit,
            )
            if fast and found.live:
                raise BadInput(f"{found.name} cannot go faster than life.", "Leave --fast out.")
            if self.video is not None:
                require_pictures(found)
            recording = recordings.get(hands)
            self._sources[hands] = found
            self._sensors[hands] = SensorUse(
                self.power_sensor,
                self.cadence_sensor,
                recording=None if recording is None else Path(recording),
            )

    def agree(self, rider: str, may_ask: bool) -> str:
        """Settle whether a video is kept; returns the line that is logged, empty = none is.

        Raises:
            BadInput: one was asked for, and the rider has not agreed.
        """
        if self.video is None:
            return ""
        self._kept = self.video.agreed(rider, may_ask)
        return self._kept.agreed

    @property
    def films(self) -> bool:
        """Whether somebody is filmed: a clip or recording was agreed to when it was made."""
        lives = (one.live for one in self._sources.values())
        return any(live and not live.startswith(LOOP) for live in lives)

    def chosen(self, hands: str) -> dict[str, object]:
        """Return what windows choose of a studio for a hand position."""
        return {
            "source": self._sources[hands],
            "sensors": self._sensors[hands],
            "video": self._kept,
        }

    def watcher(self, task: TrialTask) -> Watcher:
        """Return the watch of a trial."""
        return Watcher(
            self._sources[task.target.hands],
            task.target,
            task.plan,
            self.settings,
            task.session,
            self.any_chain,
            self._sensors[task.target.hands],
            told=self.told,
            video=self._kept,
        )


def by_hands(option: str, words: Sequence[str], hands: Sequence[str]) -> dict[str, str]:
    """Return what is given for each hand position: by ``HANDS=WORD``, else by the word alone.

    Raises:
        BadInput: two words for the same.
    """
    found: dict[str, str] = {}
    usual: list[str] = []
    for word in words:
        name, _, rest = word.partition("=")
        if rest and name in hands:
            if name in found:
                raise BadInput(f"{option} is given twice for {name}.", "Give it once.")
            found[name] = rest
        else:
            usual.append(word)
    if len(usual) > 1:
        raise BadInput(
            f"{option} is given {len(usual)} times without a hand position.",
            f"Give HANDS={usual[1]}; planned are {', '.join(hands)}.",
        )
    return {one: usual[0] for one in hands if usual} | found
