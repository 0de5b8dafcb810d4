"""What each channel of a watch was held to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from posewatch.core.channels import EFFORT_RETURN
from posewatch.core.records import EFFORT_CHANNELS, Channel
from posewatch.store.session_header import SessionHeader

UNITS = {Channel.POWER: "W", Channel.CADENCE: "rpm"}


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of one channel's stroke value, all in ``unit``.

    tolerance: outer limit of the deviation. inner: the limit for coming back in. shape: of the RMS
    about the stroke's own mean, None = not judged. centre: that deviations are from, None = a curve
    over the crank angle, which the target has. required: out of band, the stroke does not count.
    """

    unit: str
    tolerance: float
    inner: float
    shape: float | None
    centre: float | None
    required: bool


def limits(header: SessionHeader) -> Mapping[Channel, Limits]:
    """Return the limits of a watch, by channel; of the effort, what the plan holds."""
    found = {
        one.channel: Limits(
            one.unit,
            one.tol,
            one.inner,
            one.shape_limit if one.shape_required else None,
            None,
            one.required,
        )
        for one in header.target.envelopes
    }
    for channel in EFFORT_CHANNELS:
        centre = header.plan.effort_centre(channel)
        if centre is not None:
            tolerance = header.plan.effort_tolerance(channel)
            inner = tolerance * (1 - EFFORT_RETURN)
            found[channel] = Limits(UNITS[channel], tolerance, inner, None, centre, True)
    return found
