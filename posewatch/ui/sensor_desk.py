"""Finds and tries sensors for set-up. Bluetooth is used once it is asked for, never waited for.

Without Qt. What comes from the sensors' thread is fetched at every poll.
"""

from __future__ import annotations

import concurrent.futures
import logging
import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Protocol

from posewatch.core.records import NS_PER_S
from posewatch.core.sensor_choice import SensorChoice, Sighting
from posewatch.core.sensor_link import Phase
from posewatch.sensors.roster import Survey
from posewatch.sensors.sensor_link import SensorStatus
from posewatch.sensors.values import SensorValues
from posewatch.ui import sensor_view
from posewatch.ui.sensor_plan import SensorPlan, key
from posewatch.ui.sensor_view import SensorCard, SensorRow

SCAN_S = 8.0
#: What is shown changes at most so often, for people's eyes.
TOLD_NS = NS_PER_S // 2

logger = logging.getLogger(__name__)


class Sensors(Protocol):
    """Live sensors; all but ``close`` return at once."""

    def use(self, choice: SensorChoice) -> None: ...

    def forget(self, choice: SensorChoice) -> None: ...

    def survey(
        self, seconds: float, saw: Callable[[Sighting], None]
    ) -> concurrent.futures.Future[Survey]: ...

    def statuses(self) -> Sequence[SensorStatus]: ...

    def close(self) -> None: ...


class SensorDesk:
    """Sensors of one set-up, for the thread of the windows.

    rows, card, words: what is to be shown; card: of the picked sensor, None = none is picked.

    Args:
        open_sensors: makes the live sensors, when they are first needed.
    """

    def __init__(self, open_sensors: Callable[[], Sensors]) -> None:
        self._open_sensors = open_sensors
        self._sensors: Sensors | None = None
        self._closing: threading.Thread | None = None
        self._then: Callable[[], None] | None = None
        self._trouble = ""
        self._scan: concurrent.futures.Future[Survey] | None = None
        self._survey: Survey | None = None
        self._coming: deque[Sighting] = deque()
        self._seen: dict[str, Sighting] = {}
        self._followed: dict[str, SensorChoice] = {}
        self._values: dict[str, SensorValues] = {}
        self._taken_ns: dict[str, int] = {}
        self._live: set[str] = set()
        self._told_ns: int | None = None
        self.picked: SensorChoice | None = None
        self.rows: tuple[SensorRow, ...] = ()
        self.card: SensorCard | None = None
        self.words = ""

    @property
    def is_open(self) -> bool:
        """Whether Bluetooth is in use."""
        return self._sensors is not None

    @property
    def is_scanning(self) -> bool:
        """Whether a scan is under way."""
        return self._scan is not None

    def scan(self) -> None:
        """Look for sensors; a scan that is under way goes on."""
        self._trouble = ""
        sensors = self._opened()
        if sensors is not None and self._scan is None:
            self._seen.clear()
            coming = self._coming = deque()
            self._scan = sensors.survey(SCAN_S, coming.append)
        self._told_ns = None

    def pick(self, choice: SensorChoice | None) -> None:
        """Look at a sensor closer: it is connected until another one is picked."""
        self.picked, self._told_ns = choice, None

    def follow(self, plan: SensorPlan, may_connect: bool, now_ns: int) -> None:
        """Do the next thing, and fetch what came; call it at every poll.

        may_connect: the rider has agreed, and nobody else is at work with the sensors.
        """
        if self._closing is not None:
            if self._closing.is_alive():
                return
            self._closing = None
            if self._then is not None:
                then, self._then = self._then, None
                then()
                return
        self._connect(self._wanted(plan) if may_connect else {})
        self._hear()
        statuses = self._statuses()
        self._take(statuses)
        if self._told_ns is None or now_ns - self._told_ns >= TOLD_NS:
            self._told_ns = now_ns
            self._tell(plan, statuses, now_ns)

    def live(self) -> dict[str, tuple[bool, str]]:
        """Return whether values come of each followed sensor, and what its link says."""
        return sensor_view.live(self._statuses())

    def close(self, then: Callable[[], None] | None = None) -> None:
        """Let go of Bluetooth; ``then`` is called at a later poll, or now where nothing is open."""
        sensors, self._sensors = self._sensors, None
        if self._scan is not None:
            self._scan.cancel()
        self._scan, self.picked, self._told_ns = None, None, None
        self._survey = None
        self._seen.clear()
        self._coming.clear()
        self._followed.clear()
        self._values.clear()
        self._taken_ns.clear()
        self._live.clear()
        if sensors is not None:
            # Letting go of sensors can take two seconds, in which windows must not stand still.
            self._closing = threading.Thread(target=sensors.close, name="sensors closing")
            self._closing.start()
        if self._closing is not None:
            self._then = then or self._then
        elif then is not None:
            then()

    def _opened(self) -> Sensors | None:
        if self._sensors is None and self._closing is None and not self._trouble:
            try:
                self._sensors = self._open_sensors()
            except (ImportError, OSError, RuntimeError) as error:
                logger.exception("Bluetooth cannot be opened.")
                self._trouble = f"Bluetooth cannot be used here ({error})."
        return self._sensors

    def _wanted(self, plan: SensorPlan) -> dict[str, SensorChoice]:
        wanted = {} if plan.recording is not None else {key(one): one for one in plan.choices}
        if self.picked is not None:
            wanted.setdefault(key(self.picked), self.picked)
        return wanted

    def _connect(self, wanted: dict[str, SensorChoice]) -> None:
        """Follow what is wanted and nothing else."""
        sensors = self._opened() if wanted else self._sensors
        if sensors is None:
            return
        for one in set(self._followed) - set(wanted):
            sensors.forget(self._followed.pop(one))
            self._values.pop(one, None)
            self._taken_ns.pop(one, None)
            self._live.discard(one)
        for one, choice in wanted.items():
            if one not in self._followed:
                self._followed[one] = choice
                sensors.use(choice)

    def _hear(self) -> None:
        """Take in what the scan has heard."""
        while self._coming:
            one = self._coming.popleft()
            self._seen[one.platform_id] = one
        if self._scan is not None and self._scan.done():
            scan, self._scan, self._told_ns = self._scan, None, None
            error = scan.exception()
            if error is not None:
                self._survey = Survey(problem=str(error))
            else:
                self._survey = scan.result()
                self._seen = {one.platform_id: one for one in self._survey.seen}

    def _statuses(self) -> dict[str, SensorStatus]:
        """Return how the followed sensors stand, by their keys."""
        if self._sensors is None:
            return {}
        found: dict[str, SensorStatus] = {}
        for status in self._sensors.statuses():
            for one, choice in self._followed.items():
                names = (status.choice.name.casefold(), status.choice.platform_id.casefold())
                if key(choice) in names:
                    found[one] = status
        return found

    def _take(self, statuses: dict[str, SensorStatus]) -> None:
        """Take in the packets that came since the last poll."""
        for one, status in statuses.items():
            values = self._values.setdefault(one, SensorValues(one))
            is_live = status.phase is Phase.LIVE
            if is_live and one not in self._live:
                values.connected_anew()
            (self._live.add if is_live else self._live.discard)(one)
            taken_ns = self._taken_ns.get(one, -1)
            new = [packet for packet in status.last.values() if packet.t_ns > taken_ns]
            for packet in sorted(new, key=lambda packet: packet.t_ns):
                values.take(packet)
                self._taken_ns[one] = packet.t_ns

    def _tell(self, plan: SensorPlan, statuses: dict[str, SensorStatus], now_ns: int) -> None:
        seen = tuple(self._seen.values())
        self.rows = sensor_view.rows(seen, plan, statuses)
        self.words = sensor_view.scan_words(
            self._survey, self.is_scanning, len(seen), self._trouble
        )
        if self.picked is None:
            self.card = None
            return
        one = key(self.picked)
        sighting = next((it for it in seen if key(it.choice) == one), None)
        self.card = sensor_view.card(
            self.picked, sighting, statuses.get(one), self._values.get(one), plan, now_ns
        )


def live_sensors() -> Sensors:
    """Return this computer's Bluetooth sensors."""
    from posewatch.sensing import LiveSensors

    return LiveSensors()
