"""Live sensors of a watch without Bluetooth: they stand, and answer, as the test says."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future

from made_sensors import CRANK, pedalled

from posewatch.core.meter_offset import OffsetEvent
from posewatch.core.sensor_choice import SensorChoice, Service, Sighting
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_state import ControlState
from posewatch.sensors.meter_zero import Zeroed
from posewatch.sensors.sensor_link import SensorStatus

TRAINER = Sighting("Trainer", "AA:00:00:00:00:09", -50, frozenset({Service.FITNESS_MACHINE}))


class AnsweringSensors:
    """Live sensors that answer when the test lets them.

    stands: the sensors. state: of the trainer. asked: what they were asked, in order, each with the
    future that is answered. closed: whether they were.
    """

    def __init__(self, *stands: SensorStatus) -> None:
        self.stands = stands or (pedalled(CRANK, 0),)
        self.state = ControlState()
        self.asked: list[tuple[object, Future[object]]] = []
        self.closed = False

    def statuses(self) -> Sequence[SensorStatus]:
        return self.stands

    def hold_state(self, choice: SensorChoice) -> ControlState:
        return self.state

    def hold_power(
        self,
        choice: SensorChoice,
        watts: int,
        confirmed: bool = False,
        cadence_rpm: float | None = None,
    ) -> Future[object]:
        words = f"confirm {watts}" if confirmed else f"hold {watts} at {cadence_rpm}"
        return self._ask(f"{words} by {choice.name}")

    def release(self, choice: SensorChoice) -> Future[object]:
        return self._ask(f"release {choice.name}")

    def tell_meter(self, choice: SensorChoice, event: OffsetEvent | None) -> Future[object]:
        return self._ask(event)

    def zero_offset(self, choice: SensorChoice, insisted: bool = False) -> Future[object]:
        return self._ask(f"zero {choice.name}{' all the same' * insisted}")

    def begin(self, now_ns: int) -> list[SensorEvent]:
        return []

    def taken(self, now_ns: int) -> list[SensorEvent]:
        return []

    def close(self) -> None:
        self.closed = True

    def told(self) -> list[object]:
        """What they were asked, but for the passing of time."""
        return [what for what, _ in self.asked if what is not None]

    def answer(self, what: object, with_: ControlState | Zeroed | tuple[str, ...]) -> None:
        """Answer what was asked last in these words."""
        for asked, future in reversed(self.asked):
            if asked == what and not future.done():
                future.set_result(with_)
                return
        raise AssertionError(f"{what} was not asked")

    def fail(self, what: object, error: BaseException) -> None:
        """Fail what was asked last in these words."""
        for asked, future in reversed(self.asked):
            if asked == what and not future.done():
                future.set_exception(error)
                return
        raise AssertionError(f"{what} was not asked")

    def _ask(self, what: object) -> Future[object]:
        future: Future[object] = Future()
        self.asked.append((what, future))
        return future
