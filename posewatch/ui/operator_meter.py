"""The power meter's zero offset, at the operator's keys: asked for once it is warm. Without Qt."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import CancelledError, Future

from posewatch.core.meter_offset import (
    HOW,
    ComparisonBegan,
    OffsetEvent,
    PairBegan,
    RidingBegan,
)
from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_choice import Service
from posewatch.core.sensor_records import Characteristic, PowerFeature
from posewatch.sensors import gatt
from posewatch.sensors.gatt_fields import PacketProblem
from posewatch.sensors.meter_zero import Zeroed
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.studio import Doing, Studio
from posewatch.ui.health_view import Level
from posewatch.ui.messages_view import Note
from posewatch.ui.question import Question
from posewatch.ui.scene import Scene
from posewatch.ui.sensor_lines import gives, rest
from posewatch.ui.trial_pairs import TrialPairs

#: Meters are asked so often whether they are warm.
TICK_NS = 2 * NS_PER_S
#: The bit of 2A65 that says that the offset can be taken by radio.
BY_RADIO = 9
NO_METER = "No power meter is connected: it is chosen at set-up, and connected by the first trial."


class MeterActs:
    """Acts on the power meters of one studio.

    note: takes what is to be said to the operator. question: to the operator, None = none.
    """

    def __init__(self, studio: Studio, note: Note) -> None:
        self._studio = studio
        self._note = note
        self.question: Question | None = None
        self._pairs = TrialPairs()
        self._told: list[tuple[OffsetEvent | None, Future[tuple[str, ...]]]] = []
        self._taking: list[tuple[str, Future[Zeroed]]] = []
        self._ticked_ns = 0
        self._warming: set[str] = set()
        self._is_warm = False
        #: The offset was taken, or put off.
        self._is_seen_to = False

    @property
    def is_there(self) -> bool:
        """Whether a power meter is connected, or was."""
        return bool(self._meters())

    def follow(self, scene: Scene) -> None:
        """Take in a scene; call it at every poll."""
        self._take_answers()
        meters = self._meters()
        for event in self._pairs.follow(scene, self._is_seen_to):
            if isinstance(event, ComparisonBegan):
                self._is_seen_to = False
            self._tell(meters, event)
        if self._pairs.rides:
            cold = [one for one in meters if one.name not in self._warming]
            self._warming |= {one.name for one in cold}
            self._tell(cold, RidingBegan())
        if scene.monotonic_ns - self._ticked_ns >= TICK_NS:
            self._ticked_ns = scene.monotonic_ns
            self._tell(meters, None)

    def ask(self) -> None:
        """Ask whether the offset is to be taken now."""
        meters = self._meters()
        if not meters:
            self._note(NO_METER)
        elif not self._taking:
            self._pose(meters, f"Take the zero offset of {_names(meters)} now? {HOW}")

    def _pose(self, meters: Sequence[SensorStatus], words: str) -> None:
        by_hand = [one for one in meters if not _by_radio(one)]
        if by_hand:
            words += f" {_names(by_hand)}: not by radio; zero it as its maker says, then answer."
        yes = "take it" if len(by_hand) < len(meters) else "it is done"
        self.question = Question(
            words, yes, "later", on_yes=lambda: self._take(False), on_no=self._put_off
        )

    def _put_off(self) -> None:
        self.question, self._is_seen_to = None, True

    def _take(self, insisted: bool) -> None:
        self.question = None
        live = self._studio.live
        for meter in self._meters():
            if not _by_radio(meter):
                self._is_seen_to = True
                self._studio.log(f"Zero offset of {meter.name}: taken by hand.")
            elif live is not None:
                self._taking.append((meter.name, live.zero_offset(meter.choice, insisted)))

    def _tell(self, meters: Sequence[SensorStatus], event: OffsetEvent | None) -> None:
        live = self._studio.live
        if live is not None:
            self._told += [(event, live.tell_meter(one.choice, event)) for one in meters]

    def _take_answers(self) -> None:
        """Take in what has come of what was asked before."""
        told = [one for one in self._told if one[1].done()]
        taken = [one for one in self._taking if one[1].done()]
        self._told = [one for one in self._told if one not in told]
        self._taking = [one for one in self._taking if one not in taken]
        for event, said in told:
            texts = () if said.cancelled() or said.exception() else said.result()
            if isinstance(event, PairBegan):
                for text in texts:
                    self._note(text)
            elif texts:
                self._is_warm = True
                meters = self._meters()
                are = "is" if len(meters) == 1 else "are"
                self._pose(meters, f"{_names(meters)} {are} warm: take the zero offset now. {HOW}")
        for name, future in taken:
            try:
                self._zeroed(future.result())
            except (Exception, CancelledError) as error:
                why = str(error).rstrip(".") or "it was broken off"
                self._note(f"The zero offset of {name} was not taken: {why}.")

    def _zeroed(self, zeroed: Zeroed) -> None:
        """Take in what came of an offset that was asked for."""
        if zeroed.answer is None:
            self.question = Question(
                " ".join(zeroed.said),
                "take it all the same",
                "leave it",
                on_yes=lambda: self._take(True),
                on_no=self._leave,
            )
            return
        done = zeroed.answer.done
        if done and (self._is_warm or not self._pairs.rides):
            self._is_seen_to = True
        *warnings, line = zeroed.said
        changed = rest(line) if done else ""
        for warning in warnings:
            self._note(warning)
        if self._studio.doing is not Doing.WATCH:
            self._note(line, Level.WELL if done and not changed else Level.WARN)
            self._studio.log(line)
        elif changed:
            # The line itself is told and logged like all that sensors say in a watch.
            self._note(changed)

    def _leave(self) -> None:
        self.question = None

    def _meters(self) -> list[SensorStatus]:
        """Return the sensors that measure the power that is used."""
        live, chosen = self._studio.live, self._studio.chosen
        return [
            one
            for one in (() if live is None else live.statuses())
            if Service.POWER in one.services and "power" in gives(chosen, one.name, one.choice)
        ]


def _names(meters: Sequence[SensorStatus]) -> str:
    return " and ".join(one.name for one in meters)


def _by_radio(meter: SensorStatus) -> bool:
    """Whether a meter offers its offset by radio; one that does not say is asked."""
    packet = meter.last.get(Characteristic.CYCLING_POWER_FEATURE)
    if packet is None:
        return True
    try:
        feature = gatt.decode(packet.characteristic, packet.data)
    except PacketProblem:
        return True
    return not isinstance(feature, PowerFeature) or feature.has(BY_RADIO)
