"""What cannot be held is refused before anything is opened: power, cadence, a trainer."""

from __future__ import annotations

from pathlib import Path

from posewatch.errors import BadInput


def require_power(power_w: float | None, sensor: str | None) -> None:
    """Refuse a power that nobody could hold, or that nothing measures."""
    from posewatch.core.watch_plan import LARGEST_W

    if power_w is None:
        return
    if not 0 < power_w <= LARGEST_W:
        raise BadInput(f"A power of {power_w:g} W cannot be held.", f"Give 1 to {LARGEST_W:.0f} W.")
    if sensor is None:
        raise BadInput(
            "A planned power needs a sensor that measures it.",
            "Give --power-sensor; `posewatch sensors scan` lists them.",
        )


def require_used(recordings: object, power_sensor: str | None, cadence_sensor: str | None) -> None:
    """Refuse recordings of sensors of which none is used."""
    if recordings and not power_sensor and not cadence_sensor:
        raise BadInput(
            "Sensors are to be played, and none of them is used.",
            "Give --power-sensor or --cadence-sensor, or leave --sensors out.",
        )


def require_trainer(trainer: str | None, power_w: float | None, recording: Path | None) -> None:
    """Refuse a trainer that has no power to hold, or is only a recording."""
    if trainer is None:
        return
    if power_w is None:
        raise BadInput("There is no power for the trainer to hold.", "Give --power too.")
    if recording is not None:
        raise BadInput("Recorded sensors cannot be told to hold a power.", "Leave --sensors out.")


def require_cadence(cadence_rpm: float | None) -> None:
    """Refuse a plan that no stroke can meet: slower revolutions than these are never judged."""
    from posewatch.core.watch_plan import FASTEST_RPM, SLOWEST_RPM

    if cadence_rpm is not None and not SLOWEST_RPM <= cadence_rpm <= FASTEST_RPM:
        raise BadInput(
            f"A cadence of {cadence_rpm:g} rpm cannot be held.",
            f"Give {SLOWEST_RPM:.0f} to {FASTEST_RPM:.0f} rpm, or leave --cadence out.",
        )
