"""What shutter and picture rate do to a pedalling rider: smear, and pictures a revolution."""

from __future__ import annotations

import math

#: Smear of a foot that the eye of a pose model shrugs off at 4 mm a pixel: a pixel and a half.
SMEAR_TOLD_MM = 6.5
#: Fewer pictures a revolution than this read extremes low and make the crank angle coarse.
PICTURES_TOLD = 15.0
CRANK_MM = 170.0


def pedal_speed_mm_s(cadence_rpm: float, crank_mm: float = CRANK_MM) -> float:
    """Return how fast a pedal goes round: 2 pi r n / 60."""
    return 2 * math.pi * crank_mm * cadence_rpm / 60


def smear_mm(shutter_s: float, cadence_rpm: float, crank_mm: float = CRANK_MM) -> float:
    """Return how far a pedal moves while the shutter is open."""
    return pedal_speed_mm_s(cadence_rpm, crank_mm) * shutter_s


def pictures_per_revolution(rate_hz: float, cadence_rpm: float) -> float:
    """Return how many pictures are taken of one revolution."""
    return 60 * rate_hz / cadence_rpm


def under_reading_deg(rate_hz: float, cadence_rpm: float, amplitude_deg: float = 37.5) -> float:
    """Return by how much the largest of a revolution's samples can miss a cosine's extreme.

    A (1 - cos(pi / N)) for N samples a revolution: the extreme lies midway between two.
    """
    n = pictures_per_revolution(rate_hz, cadence_rpm)
    return amplitude_deg * (1 - math.cos(math.pi / n))


def filming_advice(
    shutter_s: float | None, rate_hz: float | None, cadence_rpm: float = 90.0
) -> list[str]:
    """Return what to know about shutter and rate, a sentence each; None = not known."""
    advice = []
    if shutter_s is None:
        short, long = smear_mm(1 / 250, cadence_rpm), smear_mm(1 / 60, cadence_rpm)
        advice.append(
            f"the shutter time is not known; at {cadence_rpm:g} rpm a foot smears over "
            f"{long:.0f} mm at 1/60 s and {short:.0f} mm at 1/250 s: light the rider so that "
            "1/250 s is enough"
        )
    elif smear_mm(shutter_s, cadence_rpm) > SMEAR_TOLD_MM:
        advice.append(
            f"at {cadence_rpm:g} rpm and a shutter of 1/{1 / shutter_s:.0f} s a foot smears over "
            f"{smear_mm(shutter_s, cadence_rpm):.0f} mm: add light, shorten it to 1/250 s or less"
        )
    if rate_hz is not None and pictures_per_revolution(rate_hz, cadence_rpm) < PICTURES_TOLD:
        advice.append(
            f"{rate_hz:.0f} pictures a second are "
            f"{pictures_per_revolution(rate_hz, cadence_rpm):.0f} a revolution at "
            f"{cadence_rpm:g} rpm: extremes read up to "
            f"{under_reading_deg(rate_hz, cadence_rpm):.1f} degrees low; film at 30 or more"
        )
    return advice
