"""Is everything there to begin? One line a need, and what to do about it.

What can be *missing*, so that a trial cannot begin: consent, pictures, a target, one that fits this
chain, the target's side of the rider, a sensor for a planned power, and room on the disk. All else
is at worst a *gap*.
"""

from __future__ import annotations

import math

from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import RATE_TOLERANCE
from posewatch.core.needs import Facts, Line, Need, Readiness, Sight
from posewatch.core.plane import DISTANCE_TOLD_MM, YAW_REFUSED_DEG, YAW_TOLD_DEG

#: Pictures a second that do where no target says how many.
RATE_WANTED_HZ = 25.0
#: The rate is a mean over two seconds: known once pictures have come for longer than that.
RATE_KNOWN_S = 3.0
#: Pictures without any word of darkness for so long: there is light.
LIGHT_KNOWN_S = 3.0
#: So much of the last moments must show the body (share).
SEEN_WANTED = 0.8
DISK_WANTED_BYTES = 2_000_000_000
DISK_NEEDED_BYTES = 500_000_000
#: Wall and monotonic clock drift apart by less in a set-up; more is a step of the wall clock.
CLOCK_STEP_S = 1.0
#: So many differences between two chains are told, the rest counted.
DIFFERENCES_TOLD = 2


def readiness(facts: Facts) -> tuple[Line, ...]:
    """Return how it stands with every need, in the order of ``Need``."""
    return (
        _consent(facts),
        _camera(facts),
        _rate(facts),
        _light(facts.sight),
        _body(facts.sight),
        _side(facts),
        _profile(facts),
        _target(facts),
        _rider(facts),
        _sensors(facts),
        _disk(facts.disk_free_bytes),
        _sound(facts),
        _clock(facts.clock_step_s),
    )


def target_name(target: Target) -> str:
    """Return a target's name as people and commands use it."""
    return f"{target.rider}/{target.bike}/{target.hands}/v{target.version}"


def _consent(facts: Facts) -> Line:
    given, target = facts.consent_of, facts.target
    if not given:
        return Line(Need.CONSENT, Readiness.MISSING, "not asked", "let the rider read and agree")
    if target is not None and target.rider != given:
        return Line(
            Need.CONSENT,
            Readiness.MISSING,
            f"given by {given}, but the target is {target.rider}'s",
            "let this rider read and agree, or choose another target",
        )
    return Line(Need.CONSENT, Readiness.READY, f"given by {given}")


def _camera(facts: Facts) -> Line:
    need, missing = Need.CAMERA, Readiness.MISSING
    if not facts.camera:
        return Line(need, missing, "none chosen", "choose one")
    if facts.is_opening:
        words = f"opening {facts.camera}; some take up to a minute"
        return Line(need, missing, words, "wait")
    if not facts.is_open:
        advice = facts.trouble or "open it"
        return Line(need, missing, f"{facts.camera} is closed", advice)
    if facts.sight.running_s <= 0:
        advice = facts.trouble or "look at its plug and whether another program uses it"
        return Line(need, missing, f"no pictures from {facts.camera}", advice)
    if facts.trouble:
        return Line(need, Readiness.GAP, facts.trouble, "see to it, or know of it")
    return Line(need, Readiness.READY, facts.camera)


def _rate(facts: Facts) -> Line:
    sight, target = facts.sight, facts.target
    if sight.running_s < RATE_KNOWN_S:
        return Line(Need.RATE, Readiness.UNCHECKED, "needs some seconds of pictures")
    wanted_hz = RATE_WANTED_HZ if target is None else target.chain.rate_hz
    words = f"{sight.rate_hz:.0f} a second"
    if target is None:
        good = sight.rate_hz >= RATE_WANTED_HZ
        words += "" if good else f", {wanted_hz:.0f} are wanted"
    else:
        larger = max(sight.rate_hz, wanted_hz)
        good = abs(sight.rate_hz - wanted_hz) <= RATE_TOLERANCE * larger
        words += f", the target has {wanted_hz:.0f}"
    if good:
        return Line(Need.RATE, Readiness.READY, words)
    advice = "more light, its own cable, fewer programs; or a target at this rate"
    return Line(Need.RATE, Readiness.GAP, words, advice)


def _light(sight: Sight) -> Line:
    if sight.light:
        return Line(
            Need.LIGHT, Readiness.GAP, sight.light, "light the rider from the camera's side"
        )
    if sight.light is None and sight.running_s > 0:
        return Line(Need.LIGHT, Readiness.UNCHECKED, "there are landmarks only, no pictures")
    if sight.light is None or sight.running_s < LIGHT_KNOWN_S:
        return Line(Need.LIGHT, Readiness.UNCHECKED, "needs some seconds of pictures")
    return Line(Need.LIGHT, Readiness.READY, "bright enough")


def _body(sight: Sight) -> Line:
    if math.isnan(sight.seen_share):
        return Line(Need.BODY, Readiness.UNCHECKED, "needs a rider in the picture")
    if sight.seen_share >= SEEN_WANTED:
        return Line(Need.BODY, Readiness.READY, "seen from shoulder to ankle")
    advice = "show the whole near side, seen square, hip free of arms"
    if sight.doubt is None or sight.doubt[1] is Doubt.NOBODY:
        return Line(Need.BODY, Readiness.GAP, "nobody is seen", "let the rider sit on the bike")
    joint, doubt = sight.doubt
    return Line(Need.BODY, Readiness.GAP, f"{joint}: {doubt.words}", advice)


def _side(facts: Facts) -> Line:
    side, target, profile = facts.sight.side, facts.target, facts.profile
    if target is not None:
        wrong = None
        if side is not None and side is not target.side:
            wrong = f"the camera sees the {side}, the target is of the {target.side}"
        elif profile is not None and profile.view.side is not target.side:
            wrong = f"the set-up is of the {profile.view.side}, the target of the {target.side}"
        if wrong is not None:
            advice = "set the camera up on the other side, or choose another target"
            return Line(Need.SIDE, Readiness.MISSING, wrong, advice)
    if side is None:
        return Line(Need.SIDE, Readiness.UNCHECKED, "needs a rider in the picture")
    of_target = "" if target is None else ", as the target"
    return Line(Need.SIDE, Readiness.READY, f"{side}{of_target}")


def _profile(facts: Facts) -> Line:
    need, profile = Need.PROFILE, facts.profile
    if profile is None:
        if not facts.profile_known:
            return Line(need, Readiness.UNCHECKED, "not chosen", "choose one, or go without")
        words = "uncalibrated: no millimetres"
        return Line(need, Readiness.GAP, words, "calibrate its lens and level it")
    yaw, metres = profile.view.yaw_deg, profile.view.distance_mm / 1000
    again = "turn the camera square and level it again"
    if abs(yaw) > YAW_REFUSED_DEG:
        words = f"too far off square ({yaw:+.0f} degrees): no target can be captured"
        return Line(need, Readiness.GAP, words, again)
    if abs(yaw) > YAW_TOLD_DEG:
        return Line(need, Readiness.GAP, f"off square ({yaw:+.0f} degrees)", again)
    if profile.view.distance_mm < DISTANCE_TOLD_MM:
        words = f"calibrated, but only {metres:.1f} m away"
        return Line(need, Readiness.GAP, words, "move it back to 2.5 m and level it again")
    return Line(need, Readiness.READY, f"calibrated, {yaw:+.0f} degrees off square, {metres:.1f} m")


def _target(facts: Facts) -> Line:
    need, target = Need.TARGET, facts.target
    if target is None:
        return Line(need, Readiness.MISSING, "none chosen", "choose or capture one")
    name = target_name(target)
    if facts.chain is None:
        words = f"{name}, not held against this camera yet"
        return Line(need, Readiness.UNCHECKED, words, "open the camera")
    differences = target.chain.differences(facts.chain)
    if not differences:
        return Line(need, Readiness.READY, f"{name}, of this chain")
    told = "; ".join(differences[:DIFFERENCES_TOLD])
    more = len(differences) - DIFFERENCES_TOLD
    told += f"; {more} more" if more > 0 else ""
    words = f"{name}, of another chain (target / here): {told}"
    if facts.any_chain:
        return Line(need, Readiness.GAP, words, "every output will be marked")
    advice = "set the camera up as it was, or capture a target"
    return Line(need, Readiness.MISSING, words, advice)


def _rider(facts: Facts) -> Line:
    target = facts.target
    if target is None:
        return Line(Need.RIDER, Readiness.UNCHECKED, "no target to be the rider of")
    if facts.rider_asked:
        return Line(Need.RIDER, Readiness.READY, f"{target.rider} on {target.bike}, asked")
    return Line(
        Need.RIDER, Readiness.UNCHECKED, "not asked", f"is it {target.rider}, on {target.bike}?"
    )


def _sensors(facts: Facts) -> Line:
    need, sensors = Need.SENSORS, facts.sensors
    if facts.no_power:
        words = "a power is planned, but no sensor gives it: no stroke could count"
        return Line(need, Readiness.MISSING, words, "choose a power sensor, or plan no power")
    if not sensors:
        return Line(need, Readiness.READY, "none, by choice: power is not held")
    silent = [one for one in sensors if one.is_live is False]
    if silent:
        words = f"{' and '.join(one.name for one in silent)}: chosen, but silent"
        return Line(need, Readiness.GAP, words, silent[0].advice or "turn the cranks")
    unknown = [one.name for one in sensors if one.is_live is None]
    if unknown:
        words = f"{' and '.join(unknown)}: chosen, not heard yet"
        return Line(need, Readiness.UNCHECKED, words, "turn the cranks")
    told = "; ".join(f"{one.gives} from {one.name}" for one in sensors)
    return Line(need, Readiness.READY, f"{told}, live")


def _disk(free_bytes: int) -> Line:
    if free_bytes < 0:
        return Line(Need.DISK, Readiness.UNCHECKED, "free room is not known")
    words = f"{free_bytes / 1e9:.1f} GB free"
    advice = "free some room where the data folder is"
    if free_bytes < DISK_NEEDED_BYTES:
        return Line(Need.DISK, Readiness.MISSING, words, advice)
    if free_bytes < DISK_WANTED_BYTES:
        return Line(Need.DISK, Readiness.GAP, words, advice)
    return Line(Need.DISK, Readiness.READY, words)


def _sound(facts: Facts) -> Line:
    if facts.no_sound:
        return Line(Need.SOUND, Readiness.GAP, facts.no_sound, "cues are seen all the same")
    if not facts.sound_on:
        return Line(Need.SOUND, Readiness.GAP, "switched off", "cues are seen all the same")
    return Line(Need.SOUND, Readiness.READY, "on")


def _clock(step_s: float) -> Line:
    if math.isnan(step_s):
        return Line(Need.CLOCK, Readiness.UNCHECKED, "needs some seconds of watching")
    if abs(step_s) < CLOCK_STEP_S:
        return Line(Need.CLOCK, Readiness.READY, "steady")
    words = f"stepped by {step_s:+.0f} s since set-up began"
    advice = "let it settle before other instruments' times are compared"
    return Line(Need.CLOCK, Readiness.GAP, words, advice)
