"""What a trial's smoothness came to, in sentences."""

from __future__ import annotations

from posewatch.cli.smoothness_words import smoothness_lines
from posewatch.core.outputs import Figure, HoldGained, Measure, SmoothnessFlag, SmoothnessMean


def test_without_torques_and_flags_nothing_is_said() -> None:
    assert smoothness_lines([HoldGained(5)]) == []


def test_means_are_put_together_by_their_revolutions() -> None:
    smooth, effective, of_both = smoothness_lines(
        [
            SmoothnessMean(30, Figure.PEDAL_SMOOTHNESS, 20.0, 30, True),
            SmoothnessMean(30, Figure.TORQUE_EFFECTIVENESS, 70.0, 30, True),
            SmoothnessMean(60, Figure.PEDAL_SMOOTHNESS, 30.0, 10, False),
        ]
    )
    assert smooth == "pedal smoothness: 22.5 %, mean of 40 revolutions in position"
    assert effective == "torque effectiveness: 70.0 %, mean of 30 revolutions in position"
    assert "open wireless power profile, page 0x13" in of_both
    assert "hidden by the other" in of_both


def test_flags_name_the_measure_its_worst_and_the_limit() -> None:
    flags = [SmoothnessFlag(30, Measure.POWER, 3.4), SmoothnessFlag(60, Measure.POWER, 4.4)]
    (line,) = smoothness_lines(flags)
    assert line.startswith("flagged as unsteady: the power varied by up to 4.4 % over 30 s")
    assert "coefficient of variation, limit 3 %), 2 times" in line
    assert "once" in smoothness_lines(flags[:1])[0]
