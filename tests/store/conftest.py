"""A small target and a session's header; nothing here touches the user's own folders."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.core.envelope import (
    ADVISORY_BY_DEFAULT,
    ANGLE_CHANNELS,
    SHAPE_REQUIRED_BY_DEFAULT,
    Envelope,
    LengthUnit,
    Segments,
    Target,
    Unit,
)
from posewatch.core.leg_chain import CURVE_ORDER, N_COORDINATES, LegCurves
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.pedal_circle import CrankGeometry
from posewatch.core.records import BODY_CHANNELS, Channel, Side
from posewatch.core.sources import StreamInfo
from posewatch.core.watch_plan import WatchPlan
from posewatch.store.session_header import HowEnded, SessionEnding, SessionHeader


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Send the per-user folders to the test's own, on every system."""
    monkeypatch.delenv("POSEWATCH_SETTINGS", raising=False)
    for module, name in (
        ("settings", "user_config_path"),
        ("settings", "user_data_path"),
        ("logbook", "user_log_path"),
    ):
        monkeypatch.setattr(
            f"posewatch.store.{module}.{name}",
            lambda *_, kind=name, **__: tmp_path / "home" / kind,
        )


@pytest.fixture
def target() -> Target:
    """A target as a capture gives it, not kept yet; floats with many digits."""
    curve = tuple(100.0 / (k + 3) for k in range(13))
    envelopes = tuple(
        Envelope(
            channel=channel,
            unit=Unit.DEG if channel in ANGLE_CHANNELS else Unit.THIGH,
            tol=0.1 + k / 3,
            required=channel not in ADVISORY_BY_DEFAULT,
            stroke_sd=k / 70,
            stroke_lag1=k / 9 - 0.3,
            resit_sd=k / 50,
            shape_limit=k / 7,
            shape_required=channel in SHAPE_REQUIRED_BY_DEFAULT,
            centre=(curve, curve[::-1]) if channel is Channel.HAND_PLACE else (curve,),
        )
        for k, channel in enumerate(BODY_CHANNELS)
    )
    return Target(
        rider="Zoë 2",
        bike="road-1",
        hands="hoods",
        version=0,
        chain=MeasuringChain(
            "uncalibrated", 640, 480, 29.97, "full", "ab" * 32, "mediapipe 1", 1, "navy"
        ),
        side=Side.LEFT,
        envelopes=envelopes,
        length_unit=LengthUnit.PX,
        crank=CrankGeometry(301.5, -260.25, 41.125, (0.1, -0.2, 0.03, 0.0, 1e-9, -4.0)),
        leg=LegCurves(
            tuple(
                tuple((row + k) / 7 for k in range(1 + 2 * CURVE_ORDER))
                for row in range(N_COORDINATES)
            ),
            98.0,
        ),
        segments=Segments(120.5, 98.0, 91.0),
        sits=(20, 21, 22),
        n_dropped=2,
        cadence_rpm=85.3,
        author="the fitter",
        note="after a long ride",
    )


@pytest.fixture
def header(target: Target) -> SessionHeader:
    return SessionHeader(
        target=target,
        plan=WatchPlan(power_w=180.0, sit_in_s=12.5),
        chain=target.chain,
        profile=None,
        stream=StreamInfo("clip.mkv", 640, 480, 29.97, 900),
        settings_text='# comment\nmodel = "full"\n',
        versions={"posewatch": "0.1.0", "numpy": "2.4.6"},
        created="2025-03-01T10:11:12+01:00",
    )


@pytest.fixture
def ending() -> SessionEnding:
    return SessionEnding(
        how=HowEnded.STOPPED,
        n_frames=900,
        watched_ns=30_000_000_000,
        n_counted=21,
        counted_ns=15_000_000_001,
        n_intervals=2,
        dropped={"late": 3, "going back in time": 1},
    )
