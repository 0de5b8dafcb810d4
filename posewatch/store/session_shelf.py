"""What was recorded: the watches and visits under a folder, and how each stands."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from posewatch.core.intervals import Tally, add_stroke
from posewatch.errors import BadInput
from posewatch.store.in_use import is_in_use
from posewatch.store.session_reader import SessionReader, is_session
from posewatch.store.visit_record import is_visit, read_visit
from posewatch.trials.conduct import replay


@dataclass(frozen=True, slots=True)
class Recording:
    """One watch or visit.

    created: wall time, ISO 8601, empty = cannot be read. of: rider, bike and what was done.
    standing: in words; is_unfinished: cut off, or to be gone on with. n_counted: strokes. n_bytes:
    of all its files. keep_until: ISO date, empty = not said.
    """

    folder: Path
    is_visit: bool
    created: str
    of: str
    standing: str
    is_unfinished: bool
    n_counted: int
    n_bytes: int
    keep_until: str

    def is_overdue(self, today: date) -> bool:
        """Whether it should have been deleted by now."""
        try:
            return bool(self.keep_until) and date.fromisoformat(self.keep_until) < today
        except ValueError:
            return False


def list_recordings(root: Path) -> list[Recording]:
    """Return the watches and visits in a folder and below, oldest first.

    The trials of a visit are part of it. One that cannot be read is listed as such.
    """
    found = []
    for place, names, _ in os.walk(root):
        folder = Path(place)
        if is_visit(folder) or is_session(folder):
            names.clear()
            found.append(_visit(folder) if is_visit(folder) else _watch(folder))
    return sorted(found, key=lambda one: (one.created, one.folder))


def counted(session: Path) -> tuple[int, int]:
    """Return the confirmed strokes that a watch has logged, cut off or not, and their time in ns.

    Raises:
        BadInput: as ``store.session_reader.SessionReader``.
    """
    tally = Tally()
    with SessionReader(session) as reader:
        for stroke in reader.strokes():
            if stroke.counted:
                tally, _ = add_stroke(tally, stroke.start_ns, stroke.end_ns)
    return tally.n_strokes, tally.total_ns


def _watch(folder: Path) -> Recording:
    try:
        with SessionReader(folder) as reader:
            header, ending = reader.header, reader.ending
        n_counted = ending.n_counted if ending is not None else counted(folder)[0]
    except BadInput as error:
        return _unreadable(folder, error)
    standing = "cut off" if ending is None else str(ending.how)
    if ending is None and is_in_use(folder):
        standing = "being written"
    target = header.target
    return Recording(
        folder,
        False,
        header.created,
        f"{target.rider}/{target.bike}/{target.hands}",
        standing,
        ending is None,
        n_counted,
        _n_bytes(folder),
        header.keep_until,
    )


def _visit(folder: Path) -> Recording:
    try:
        header, kept = read_visit(folder)
        state = replay(header.plan, (one.act for one in kept))
    except BadInput as error:
        return _unreadable(folder, error)
    design = header.plan.design
    rehearsal = "rehearsal, " if header.rehearsal else ""
    standing = "ended" if state.ended is not None else "unfinished"
    if state.ended is None and is_in_use(folder):
        standing = "being written"
    return Recording(
        folder,
        True,
        header.created,
        f"{design.rider}/{design.bike}, {rehearsal}{design.kind}, visit {state.visit}",
        standing,
        state.ended is None,
        sum(run.n_confirmed for run in state.runs if not run.repeated),
        _n_bytes(folder),
        header.keep_until,
    )


def _unreadable(folder: Path, error: BadInput) -> Recording:
    return Recording(
        folder,
        is_visit(folder),
        "",
        "",
        f"cannot be read: {error.what}",
        False,
        0,
        _n_bytes(folder),
        "",
    )


def _n_bytes(folder: Path) -> int:
    total = 0
    for place, _, names in os.walk(folder):
        for name in names:
            try:
                total += os.lstat(os.path.join(place, name)).st_size
            except OSError:
                continue
    return total
