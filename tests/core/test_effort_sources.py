"""Which sensor feeds which channel."""

from __future__ import annotations

import math
from collections.abc import Iterable

import pytest

from posewatch.core import effort_sources
from posewatch.core.effort_sources import EffortSources, SourcesState
from posewatch.core.records import Effort
from posewatch.core.sensor_effort import DeviceReading
from posewatch.core.timebase import to_ns

NAN = math.nan


def reading(t_s: float, device: str, power_w: float, cadence_rpm: float = 90.0) -> DeviceReading:
    return DeviceReading(to_ns(t_s), device, power_w, cadence_rpm)


def fed(sources: EffortSources, readings: Iterable[DeviceReading]) -> list[Effort | None]:
    state, found = SourcesState(), []
    for one in readings:
        state, given = effort_sources.step(sources, state, one)
        found.append(given)
    return found


def as_text(*efforts: Effort | None) -> str:
    """Return records as text: NaN differs from itself."""
    return repr(list(efforts))


def test_one_sensor_may_feed_both_channels() -> None:
    found = fed(EffortSources("p", "p"), [reading(1.0, "p", 200.0)])
    assert found == [Effort(to_ns(1.0), 200.0, 90.0)]


def test_each_channel_takes_from_the_sensor_chosen_for_it_alone() -> None:
    readings = [reading(1.0, "p", 200.0, 91.0), reading(1.1, "c", 150.0, 89.0)]
    found = fed(EffortSources("p", "c"), readings)
    assert as_text(*found) == as_text(Effort(to_ns(1.0), 200.0, NAN), Effort(to_ns(1.1), NAN, 89.0))


def test_a_sensor_that_was_not_chosen_and_one_with_nothing_to_say_give_nothing() -> None:
    readings = [reading(1.0, "x", 200.0), reading(1.1, "p", NAN, 90.0), reading(1.2, "c", 1.0, NAN)]
    assert fed(EffortSources("p", "c"), readings) == [None, None, None]
    assert fed(EffortSources(), readings) == [None, None, None]


def test_two_one_sided_sensors_are_not_added_unless_chosen_as_a_pair() -> None:
    readings = [reading(k / 4, d, w) for k in range(8) for d, w in (("l", 110.0), ("r", 90.0))]
    alone = [one for one in fed(EffortSources("l"), readings) if one is not None]
    assert {one.power_w for one in alone} == {110.0}
    pair = fed(EffortSources("l", None, power_other_side="r"), readings)
    # With the first one's packets only, and from the first on that finds the other side known.
    assert [one.power_w for one in pair if one is not None] == [200.0] * 7
    assert pair[1::2] == [None] * 8


def test_a_pair_gives_no_power_while_one_side_is_silent() -> None:
    both = [reading(k / 4, d, 100.0) for k in range(8) for d in ("r", "l")]
    alone = [reading(2.0 + k / 4, "l", 100.0) for k in range(12)]
    found = fed(EffortSources("l", "l", power_other_side="r"), [*both, *alone])
    powers = {one.t_ns: one.power_w for one in found if one is not None}
    # The right side's last packet came at 1.75 s; after 1.5 s it is too old.
    assert all(w == 200.0 for t_ns, w in powers.items() if t_ns <= to_ns(3.25))
    late = [w for t_ns, w in powers.items() if t_ns > to_ns(3.25)]
    assert len(late) == 6
    assert all(math.isnan(w) for w in late)
    assert {one.cadence_rpm for one in found if one is not None} == {90.0}


@pytest.mark.parametrize("first", [None, "r"])
def test_a_pair_needs_two_different_sensors(first: str | None) -> None:
    with pytest.raises(ValueError, match="two different"):
        EffortSources(first, None, power_other_side="r")
