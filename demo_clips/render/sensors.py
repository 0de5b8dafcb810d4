"""A crank power meter to each of some clips, recorded packet by packet, made from the clip's truth.

Command line: ``python -m demo_clips.render.sensors [--out DIR]`` from the project root.
"""

from __future__ import annotations

import argparse
import os
import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.motion import smooth_noise
from posewatch.core.records import SourceCondition, SourceState
from posewatch.core.sensor_choice import SensorChoice, Service
from posewatch.core.sensor_records import Characteristic, Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.timebase import to_ns
from posewatch.store.packet_file import PacketWriter

Array = NDArray[np.float64]

CLIP_FOLDER = Path(__file__).resolve().parents[1]
#: The clips with a meter, and the seed of its power and of its packets' delays.
METERED = {
    "hoods_steady": 301,
    "hoods_drift": 302,
    "hoods_interruptions": 303,
    "drops_steady": 304,
}
METER = SensorChoice("Demo crank", "C0:DE:00:00:00:01", frozenset({Service.POWER}))
BEGUN = "2025-01-01T12:00:00+00:00"  # made up, as the ride is
BATTERY_PERCENT = 87

POWER_W = 200.0
SLOW_SWAY_W, FAST_SWAY_W = 3.0, 2.5  # standard deviations of what changes in 3 s, and in 0.3 s
DRIVES_FROM_RPM = 30.0  # below it the chain is slack
BEFORE_S = 1.0  # the ride goes on like this before the clip, so that the first turn is a whole one

FIRST_S, EVERY_S = 0.12, 0.25
LEAST_DELAY_S, MOST_DELAY_S = 0.01, 0.06
#: 2A63: accumulated torque is sent (bit 2), taken at the crank (3); so are crank turns (5).
FLAGS = 0x2C
TICKS_PER_S, TORQUE_UNITS_PER_NM = 1024, 32
#: What the counters stood at when the clip begins; all three go past their end within 15 s of it.
FIRST_TURN, CLOCK_AHEAD_S, FIRST_TORQUE = 65530, 50.0, 60000


@dataclass(frozen=True, slots=True, eq=False)
class _Meter:
    """What the meter knows: (n,) times and the work done by then; (m,) times of each turn's end."""

    time_s: Array
    work_j: Array
    turn_s: Array

    def work_at_j(self, time_s: float) -> float:
        return float(np.interp(time_s, self.time_s, self.work_j))

    def packet(self, sent_s: float) -> bytes:
        """Return the measurement of the time since the packet before."""
        turn = int(np.searchsorted(self.turn_s, sent_s, side="right")) - 1
        ended_s = float(self.turn_s[turn])
        power_w = (self.work_at_j(sent_s) - self.work_at_j(sent_s - EVERY_S)) / EVERY_S
        # Each turn adds its mean torque, so that work = 2 pi x what was added (Bluetooth SIG,
        # Cycling Power).
        torque_nm = self.work_at_j(ended_s) / (2.0 * np.pi)
        return struct.pack(
            "<HhHHH",
            FLAGS,
            round(power_w),
            (FIRST_TORQUE + round(torque_nm * TORQUE_UNITS_PER_NM)) % 65536,
            (FIRST_TURN + turn) % 65536,
            round((ended_s + CLOCK_AHEAD_S) * TICKS_PER_S) % 65536,
        )


def _meter(time_s: Array, turns: Array, draw: np.random.Generator) -> _Meter:
    """Ride the meter. turns: (n,) crank angle in turns, counting on, 0 = near crank at the top."""
    step_s = float(time_s[1] - time_s[0])
    before_s = -step_s * np.arange(round(BEFORE_S / step_s), 0, -1)
    pace = (turns[1] - turns[0]) / step_s
    time_s = np.concatenate([before_s, time_s])
    turns = np.concatenate([turns[0] + pace * before_s, turns])

    count = len(time_s)
    power_w = POWER_W + SLOW_SWAY_W * smooth_noise(draw, count, step_s, 3.0)
    power_w += FAST_SWAY_W * smooth_noise(draw, count, step_s, 0.3)
    power_w[np.gradient(turns, time_s) * 60 < DRIVES_FROM_RPM] = 0.0
    work_j = np.concatenate([[0.0], np.cumsum((power_w[1:] + power_w[:-1]) / 2 * np.diff(time_s))])

    # A turn ends where the crank comes over the top forwards; going back takes none away.
    over = np.flatnonzero(np.diff(np.floor(turns)) > 0)
    share = (np.floor(turns[over + 1]) - turns[over]) / (turns[over + 1] - turns[over])
    return _Meter(time_s, work_j, time_s[over] + share * np.diff(time_s)[over])


def meter_events(truth: Path, seed: int) -> list[SensorEvent]:
    """Return what the meter sends during a clip, from its truth file."""
    time_s, crank_deg = np.loadtxt(truth, delimiter=",", skiprows=1, usecols=(0, 1), unpack=True)
    turns = np.unwrap(crank_deg, period=360.0) / 360.0
    draw = np.random.default_rng(seed)
    meter = _meter(time_s, turns, draw)
    sent_s = np.arange(FIRST_S, time_s[-1], EVERY_S)
    came_s = sent_s + draw.uniform(LEAST_DELAY_S, MOST_DELAY_S, len(sent_s))
    kind = Characteristic.CYCLING_POWER_MEASUREMENT
    measured: list[SensorEvent] = [
        Packet(to_ns(float(came)), METER.platform_id, kind, meter.packet(float(sent)))
        for sent, came in zip(sent_s, came_s, strict=True)
        if came <= time_s[-1]
    ]
    battery = bytes([BATTERY_PERCENT])
    live = f"{METER.name} gives values."
    return [
        Packet(0, METER.platform_id, Characteristic.BATTERY_LEVEL, battery),
        SourceState(measured[0].t_ns, METER.name, SourceCondition.RUNNING, live),
        *measured,
    ]


def write_recording(clip: str, folder: Path) -> Path:
    """Write ``CLIP.packets.jsonl`` into a folder, replacing an older one only when done."""
    path = folder / f"{clip}.packets.jsonl"
    unfinished = path.with_name(path.name + ".part")
    unfinished.unlink(missing_ok=True)
    writer = PacketWriter(unfinished, BEGUN, [METER])
    for event in meter_events(CLIP_FOLDER / f"{clip}.truth.csv", METERED[clip]):
        writer.write(event)
    writer.close()
    os.replace(unfinished, path)
    return path


def main() -> None:
    """Write all recordings."""
    parser = argparse.ArgumentParser(
        prog="python -m demo_clips.render.sensors",
        description="Make the demo clips' sensor recordings from their truth.",
    )
    folder = CLIP_FOLDER / "sensors"
    parser.add_argument("--out", type=Path, default=folder, help="folder for the files")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    for clip in METERED:
        write_recording(clip, wanted.out)


if __name__ == "__main__":
    main()
