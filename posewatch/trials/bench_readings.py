"""Hardness of an item as a durometer shows it, place by place.

A durometer presses a small body into the material by a spring and shows how little it went in. ASTM
D2240-15 has twelve types of it (its scope names them) and says that no simple relation holds
between them, so readings of two types are never compared and never converted here. The gauge feels
whatever lies under the item, so backing and thickness belong to the reading; foam gives way while
it is pressed, so the time between contact and reading does too.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from posewatch.errors import BadInput
from posewatch.trials.acts import Gauged

#: The types of ASTM D2240-15, clause 1.1.
D2240_TYPES = frozenset(("A", "B", "C", "D", "DO", "E", "M", "O", "OO", "OOO", "OOO-S", "R"))
#: ISO 48-4:2018 has A, D, AO (soft and cellular material) and AM (thin pieces); ASTM F1957 has CF
#: for composite foam.
OTHER_STANDARDS = {
    "AO": "ISO 48-4:2018",
    "AM": "ISO 48-4:2018",
    "CF": "ASTM F1957",
}

#: ASTM D2240-15: five readings; at least 6 mm of material; 23 +- 2 degrees C.
READINGS = 5
THINNEST_MM = 6.0
TEMPERATURE_C, TEMPERATURE_TOLERANCE_C = 23.0, 2.0
#: Outside this the spring tells little (trade practice, from memory).
USEFUL = (20.0, 90.0)
#: A gauge that touches nothing may rest a little below zero.
LEAST, MOST = -10.0, 100.0
LONGEST_DWELL_S = 600.0

#: Words that stand beside the type on a gauge's dial.
_BESIDE = re.compile(r"shore|durometer|duro|hardness|type|scale", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Place:
    """What readings belong together: one item, one type of gauge, one place.

    scale: the type ("OO"), or the name as printed where no standard at hand has it.
    """

    code: str
    scale: str
    zone: str
    side: str


@dataclass(frozen=True, slots=True)
class Hardness:
    """Readings at one place, summed up; all in points of the gauge's own scale.

    ASTM D2240-15 takes the median (or the mean) as the result. low, high: the range. sd: of a
    sample (n - 1), None for a single reading. warnings: for people, with where each rule is from.
    """

    gauged: Gauged
    median: float
    mean: float
    sd: float | None
    low: float
    high: float
    warnings: tuple[str, ...]

    @property
    def place(self) -> Place:
        """What it belongs to."""
        one = self.gauged
        known = scale_type(one.scale)
        return Place(one.code, known or one.scale.strip(), one.zone.strip(), one.side.strip())


def scale_type(printed: str) -> str | None:
    """Return the standard's name of a scale as printed on a gauge, None where it has none.

    Gauges print noughts for the letter O: "Shore 00" is type OO.
    """
    bare = " ".join(_BESIDE.sub(" ", printed).split()).strip(" -.:()").upper().replace("0", "O")
    return bare if bare in D2240_TYPES or bare in OTHER_STANDARDS else None


def require_gauged(gauged: Gauged) -> None:
    """Refuse readings that cannot be; what is only poor is warned of by :func:`hardness`.

    Raises:
        BadInput: no place, no scale, no reading, or a number that no gauge, clock, calliper or
            thermometer shows.
    """
    for what, text in (("scale", gauged.scale), ("zone", gauged.zone)):
        if not text.strip():
            raise BadInput(f"The {what} of a hardness reading is not said.", f"Name the {what}.")
    if not gauged.readings:
        raise BadInput("There is no hardness reading.", f"Take {READINGS} of them.")
    for reading in gauged.readings:
        _require("hardness reading", reading, LEAST, MOST)
    _require("dwell in seconds", gauged.dwell_s, 0.0, LONGEST_DWELL_S)
    if gauged.thickness_mm is not None:
        _require("thickness in mm", gauged.thickness_mm, 0.1, 1000.0)
    if gauged.temperature_c is not None:
        _require("temperature in degrees C", gauged.temperature_c, -40.0, 80.0)


def hardness(gauged: Gauged) -> Hardness:
    """Sum up readings at one place.

    Raises:
        BadInput: as :func:`require_gauged`.
    """
    require_gauged(gauged)
    readings = gauged.readings
    return Hardness(
        gauged,
        statistics.median(readings),
        statistics.fmean(readings),
        statistics.stdev(readings) if len(readings) > 1 else None,
        min(readings),
        max(readings),
        (*_scale_warnings(gauged), *_reading_warnings(gauged), *_condition_warnings(gauged)),
    )


def by_place(gauged: Iterable[Gauged]) -> Mapping[Place, tuple[Hardness, ...]]:
    """Return the readings of each place, in the order in which they were taken."""
    found: dict[Place, tuple[Hardness, ...]] = {}
    for one in map(hardness, gauged):
        found[one.place] = (*found.get(one.place, ()), one)
    return found


def difference(first: Hardness, second: Hardness) -> tuple[float, tuple[str, ...]]:
    """Return the median of the second less the first's, and what makes it doubtful.

    Raises:
        BadInput: the scales differ.
    """
    if first.place.scale != second.place.scale:
        raise BadInput(
            f"Readings on '{first.gauged.scale}' and '{second.gauged.scale}' cannot be compared: "
            "no simple relation holds between types of durometer (ASTM D2240-15).",
            "Gauge both with the same type.",
        )
    a, b = first.gauged, second.gauged
    doubts = []
    if a.dwell_s != b.dwell_s:
        doubts.append(f"read {a.dwell_s:g} s and {b.dwell_s:g} s after contact: foam gives way")
    if a.backing.strip().casefold() != b.backing.strip().casefold():
        doubts.append(f"on '{a.backing}' and '{b.backing}': the gauge feels what lies under it")
    if a.thickness_mm != b.thickness_mm:
        doubts.append("thicknesses differ, or one is not known")
    if a.temperature_c is not None and b.temperature_c is not None:
        apart_c = abs(b.temperature_c - a.temperature_c)
        if apart_c > TEMPERATURE_TOLERANCE_C:
            doubts.append(f"{apart_c:g} degrees C apart: about a point each 1.5 (trade practice)")
    return second.median - first.median, tuple(doubts)


def _scale_warnings(gauged: Gauged) -> list[str]:
    known = scale_type(gauged.scale)
    if known is None:
        return [
            f"'{gauged.scale}' is no type of ASTM D2240-15 or ISO 48-4:2018; it is kept as printed "
            "and compared with nothing else"
        ]
    if known == "C":
        # SRIS 0101 and JIS K 7312 (from memory): a ball, where ASTM's type C has a cone.
        return [
            "'C' is on two kinds of gauge, type C of ASTM D2240 and the sponge gauge of JIS K 7312 "
            "(from memory): note which"
        ]
    return []


def _reading_warnings(gauged: Gauged) -> list[str]:
    found = []
    n = len(gauged.readings)
    if n < READINGS:
        said = "1 reading" if n == 1 else f"{n} readings"
        found.append(f"{said}; ASTM D2240-15 takes {READINGS}")
    low, high = USEFUL
    off = [reading for reading in gauged.readings if not low <= reading <= high]
    if off:
        found.append(
            f"{len(off)} of {n} outside {low:g} to {high:g}, where a gauge is of use (trade "
            "practice, from memory): take another type"
        )
    return found


def _condition_warnings(gauged: Gauged) -> list[str]:
    found = []
    thickness_mm, temperature_c = gauged.thickness_mm, gauged.temperature_c
    if not gauged.backing.strip():
        found.append("backing not said; ISO 48-4:2018 wants a flat, rigid one")
    if thickness_mm is None:
        found.append("thickness not known: whether the backing is felt cannot be told")
    elif thickness_mm < THINNEST_MM:
        found.append(
            f"{thickness_mm:g} mm thick, under {THINNEST_MM:g} mm (ASTM D2240-15): the reading is "
            "limited by the backing"
        )
    if temperature_c is None:
        found.append("temperature not known")
    elif abs(temperature_c - TEMPERATURE_C) > TEMPERATURE_TOLERANCE_C:
        found.append(
            f"at {temperature_c:g} degrees C, outside {TEMPERATURE_C:g} +- "
            f"{TEMPERATURE_TOLERANCE_C:g} (ASTM D2240-15)"
        )
    return found


def _require(what: str, value: float, least: float, most: float) -> None:
    # NaN fails both comparisons.
    if not least <= value <= most or math.isinf(value):
        raise BadInput(f"A {what} cannot be {value:g}.", f"Give {least:g} to {most:g}.")
