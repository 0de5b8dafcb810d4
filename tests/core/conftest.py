"""One captured target and one ride in it, made once for all tests of the core."""

from __future__ import annotations

import pytest
from linkage_rider import CHAIN, ride

from posewatch.core.capture import Subject, capture
from posewatch.core.envelope import Target
from posewatch.core.records import Frame


@pytest.fixture(scope="session")
def reference_ride() -> tuple[Frame, ...]:
    """34 s of even pedalling in the fitted position at 90 rpm, 1 px noise."""
    return tuple(ride(34.0))


@pytest.fixture(scope="session")
def linkage_target(reference_ride: tuple[Frame, ...]) -> Target:
    """The target captured from that ride."""
    return capture(
        [reference_ride], CHAIN, None, Subject("rider", "bike", "hoods"), "reference ride"
    )
