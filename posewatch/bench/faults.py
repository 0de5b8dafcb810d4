"""What goes wrong around a recording: kills at any moment, a drive that fills, a clock that is set.

Everything is recorded by real commands in processes of their own; only the clock is set within this
one, since nobody may set the machine's.
"""

from __future__ import annotations

import random
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from posewatch.bench.kills import RIDE, Ground, Killed, kill_visit, kill_watch, prepare
from posewatch.bench.rides import PLAN, SUBJECT, Recording, record
from posewatch.bench.tables import Row, at_most
from posewatch.checking import check_session
from posewatch.core.camera_watch import NEAR, Glimpse
from posewatch.core.capture import capture
from posewatch.core.clock_watch import Clocks
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.records import NS_PER_S, Frame
from posewatch.core.timebase import to_ns
from posewatch.runtime.attended import LiveClock, attended
from posewatch.runtime.controls import Controls
from posewatch.runtime.watch_run import WatchRun, WatchTotals

#: Kills come within so long after the first is recorded: through the first trials of a visit.
WITHIN_S = 2.5
MOST_LOST_S = 1.0
#: Every so many-th visit that was killed is ridden to its end by the command.
TO_THE_END_EVERY = 5
HOUR_S, SLEEP_S = 3600.0, 600.0
#: The command, with a session file that may not grow beyond some pages of 4096 bytes.
FULL_DRIVE = """
from posewatch.store import session_writer
opened = session_writer._opened
def limited(path):
    connection = opened(path)
    connection.execute("PRAGMA max_page_count = 24")
    return connection
session_writer._opened = limited
from posewatch.cli import main
main()
"""
#: The command, on a drive where other programs take 300 MB a second.
FILLING_DRIVE = """
import itertools
from posewatch.runtime import disk_watch
left = itertools.count(900_000_000, -60_000_000)
disk_watch.free_bytes = lambda folder: next(left)
disk_watch.LOOK_EVERY_NS = 200_000_000
from posewatch.cli import main
main()
"""


def measure_faults(n_kills: int, seed: int, advance: Callable[[], None]) -> list[Row]:
    """Return the table of faults. advance: called after each kill.

    Raises:
        PosewatchError: the demo's recorded landmarks cannot be used.
    """
    with tempfile.TemporaryDirectory() as folder:
        ground = prepare(Path(folder))
        watches, visits = kill_all(ground, n_kills, seed, advance)
        drives = [
            _drive_row(ground, "drive full", FULL_DRIVE, "database or disk is full"),
            _drive_row(ground, "drive nearly full", FILLING_DRIVE, "MB are left on the drive"),
        ]
    return [*kill_rows(watches, visits), *drives, *_clock_rows()]


def kill_all(
    ground: Ground, n_kills: int, seed: int, advance: Callable[[], None]
) -> tuple[list[Killed], list[Killed]]:
    """Kill watches and visits in turn at seeded random moments; return what was left of each."""
    moments = random.Random(seed)
    watches: list[Killed] = []
    visits: list[Killed] = []
    for number in range(n_kills):
        after_s = moments.uniform(0.0, WITHIN_S)
        folder = ground.folder / f"killed-{number}"
        if number % 2 == 0:
            watches.append(kill_watch(ground, folder, after_s))
        else:
            to_the_end = len(visits) % TO_THE_END_EVERY == 0
            visits.append(kill_visit(ground, folder, after_s, to_the_end=to_the_end))
        advance()
    return watches, visits


def kill_rows(watches: Sequence[Killed], visits: Sequence[Killed]) -> list[Row]:
    """Return what the kills came to."""
    every = (*watches, *visits)
    n_clean = sum(not one.wrong for one in every)
    n_on = sum(one.went_on for one in visits)
    n_ended = sum(one.n_ended for one in visits)
    n_whole = sum(one.n_whole for one in visits)
    wrong = [line for one in every for line in one.wrong]
    return [
        at_most(
            f"{len(watches)} watches killed: seen but not kept, most",
            max((one.lost_s for one in watches), default=0.0),
            MOST_LOST_S,
            "s",
        ),
        at_most(
            f"{len(visits)} visits killed: since the last commit, most",
            max((one.lost_s for one in visits), default=0.0),
            MOST_LOST_S,
            "s",
        ),
        _all_of("trials that had ended before, whole", n_whole, n_ended),
        _all_of("visits gone on with", n_on, len(visits)),
        _all_of("checked and recomputed, nothing wrong", n_clean, len(every)),
        *(Row("what a check found", line) for line in dict.fromkeys(wrong)),
    ]


def _all_of(what: str, n: int, n_all: int) -> Row:
    return Row(what, f"{n} of {n_all}", "all", n == n_all)


def _drive_row(ground: Ground, what: str, program: str, told: str) -> Row:
    """Watch on a drive that fills; it must end in words, and keep what it had."""
    session = ground.folder / what.replace(" ", "-")
    process = ground.watch(session, program=program)
    said, _ = process.communicate()
    found = check_session(session)
    in_words = process.returncode == 2 and told in said and "Traceback" not in said
    return Row(
        f"{what}: ended in words, inputs kept, wrong in them",
        f"{'yes' if in_words else 'NO'}, {found.n_inputs}, {len(found.wrong)}",
        "yes, some, none",
        in_words and found.n_inputs > 0 and not found.wrong,
    )


@dataclass(slots=True)
class SetClocks:
    """A live ride during which, from its middle on, the clocks of this machine are others."""

    recording: Recording
    stepped_ns: int = 0
    slept_ns: int = 0
    _t_ns: int = field(default=0, init=False)
    _after: bool = field(default=False, init=False)

    def watch(self, target: Target) -> WatchTotals:
        """Watch it as from a camera."""
        stop = threading.Event()
        live = LiveClock(lambda: self._t_ns, self._glimpse, NEAR, self._clocks)
        run = WatchRun(
            Task(target, PLAN),
            self.recording.chain,
            self.recording.plane,
            attended(self._pictures(), Controls(), stop, live),
            lambda _: None,
            lambda *_: None,
            stop,
        )
        run.follow()
        return run.end()[0]

    def _pictures(self) -> Iterator[Frame]:
        middle_ns = self.recording.frames[-1].t_ns // 2
        for frame in self.recording.frames:
            self._after = frame.t_ns >= middle_ns
            self._t_ns = frame.t_ns + (self.slept_ns if self._after else 0)
            yield Frame(self._t_ns, frame.points_px, frame.visibility, frame.presence)

    def _glimpse(self) -> Glimpse:
        return Glimpse(self._t_ns, None, 0.5, 30.0, "", 30.0)

    def _clocks(self) -> Clocks:
        slept_ns, stepped_ns = (self.slept_ns, self.stepped_ns) if self._after else (0, 0)
        return Clocks(self._t_ns, self._t_ns - slept_ns, NS_PER_S**2 + self._t_ns + stepped_ns)


def _clock_rows() -> list[Row]:
    reference = record("hoods_reference", None, lambda *_: None)
    target = capture([reference.frames], reference.chain, reference.plane, SUBJECT, "reference")
    ride = record(RIDE, None, lambda *_: None)
    plain = SetClocks(ride).watch(target)
    steps = [SetClocks(ride, stepped_ns=to_ns(s)).watch(target) for s in (HOUR_S, -HOUR_S)]
    slept = SetClocks(ride, slept_ns=to_ns(SLEEP_S)).watch(target)
    counted = [one.n_counted for one in (plain, *steps)]
    return [
        Row(
            "clock left alone, set by an hour forward, and back: counted strokes",
            ", ".join(map(str, counted)),
            "the same",
            steps == [plain, plain],
        ),
        Row(
            f"machine asleep for {SLEEP_S / 60:.0f} min in the middle: counted time",
            f"{slept.counted_ns / NS_PER_S:.0f} s of {plain.counted_ns / NS_PER_S:.0f} s awake",
            "no more than awake",
            slept.counted_ns <= plain.counted_ns,
        ),
    ]
