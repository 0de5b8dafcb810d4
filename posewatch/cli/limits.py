"""Limits typed after ``--tol``, ``--required`` and ``--advisory``, and whether they make sense."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from posewatch.errors import BadInput

if TYPE_CHECKING:
    from posewatch.core.envelope import Target
    from posewatch.core.records import Channel


@dataclass(frozen=True)
class Limits:
    """What was typed; tolerances in degrees or (nominal) mm."""

    tolerances: dict[Channel, float]
    required: frozenset[Channel]
    advisory: frozenset[Channel]

    @property
    def named(self) -> frozenset[Channel]:
        """The channels that something is said of."""
        return frozenset(self.tolerances) | self.required | self.advisory


def read_limits(
    tol: Sequence[str] | None, required: Sequence[str] | None, advisory: Sequence[str] | None
) -> Limits:
    """Read what was typed.

    Raises:
        BadInput: no channel, no tolerance, or a channel both required and advisory.
    """
    tolerances = {}
    for text in tol or ():
        name, _, value = text.partition("=")
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not (0 < number < math.inf):
            raise BadInput(
                f"--tol cannot be {text!r}.",
                "Give CHANNEL=NUMBER in degrees or mm, e.g. torso=2.5.",
            )
        tolerances[_channel("--tol", name)] = number
    must = frozenset(_channel("--required", name) for name in required or ())
    may = frozenset(_channel("--advisory", name) for name in advisory or ())
    for both in sorted(must & may):
        raise BadInput(f"{both} cannot be required and advisory at once.", "Give one of the two.")
    return Limits(tolerances, must, may)


def _channel(option: str, name: str) -> Channel:
    from posewatch.core.records import BODY_CHANNELS

    wanted = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    for channel in BODY_CHANNELS:
        if channel == wanted:
            return channel
    raise BadInput(
        f"{option} names no channel: {name!r}.", f"Channels are {', '.join(BODY_CHANNELS)}."
    )


def with_limits(target: Target, limits: Limits) -> Target:
    """Return the target with the limits that were typed.

    Raises:
        BadInput: nothing would be required any more.
    """
    envelopes = []
    for held in target.envelopes:
        if held.channel in limits.tolerances:
            held = replace(held, tol=limits.tolerances[held.channel] / held.unit.nominal)
        if held.channel in limits.required | limits.advisory:
            held = replace(held, required=held.channel in limits.required)
        envelopes.append(held)
    if not any(held.required for held in envelopes):
        raise BadInput(
            "No channel would be required, so that every stroke would count.",
            "Leave at least one required.",
        )
    return replace(target, envelopes=tuple(envelopes))


def require_above_noise(target: Target, channels: Iterable[Channel]) -> None:
    """Refuse limits of these channels that are tighter than their noise.

    Raises:
        BadInput: names each and says why.
    """
    from posewatch.core.resolution import resolution

    wanted = set(channels)
    tight = []
    for held in target.envelopes:
        found = resolution(target, held.channel)
        if held.channel in wanted and found.too_tight:
            unit = "deg" if held.unit == "deg" else "mm"
            tight.append(
                f"{held.channel} {held.tol * held.unit.nominal:g} {unit}: {found.too_tight}"
            )
    if tight:
        raise BadInput(
            f"Tighter than the noise: {'; '.join(tight)}.",
            "Widen it, or keep it all the same with --force.",
        )
