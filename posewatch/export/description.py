"""What lies beside the tables: what columns mean, what was held, what was left out and why."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from posewatch import __version__
from posewatch.core.records import CONVENTION
from posewatch.core.timebase import to_s
from posewatch.core.wall_time import JUMP_NS
from posewatch.export.columns import Table
from posewatch.export.exclusions import excluded, why_discarded
from posewatch.export.limits import limits
from posewatch.export.recorded import Recorded, RecordedVisit, RiddenTrial, Watched
from posewatch.export.ride_tables import PLACE, place_of, target_name
from posewatch.store.plan_file import render_plan
from posewatch.store.target_file import render_target
from posewatch.trials.concealment import EARLY_STAMP

FORMAT = "posewatch export"
FORMAT_VERSION = 1

TIMES = {
    "session seconds": (
        "of one trial's log, 0 = its first picture, from a clock that never steps; spans are "
        "half-open: start_s belongs to them, end_s does not"
    ),
    "utc": (
        "from readings of the wall clock every 10 s, interpolated between two of them; each was "
        "read when a picture had been handled, so it is late by the time that takes. Where the "
        f"clocks parted by over {to_s(JUMP_NS):g} s between two readings (a step, or the machine "
        "slept), times run on from the earlier one and the whole jump shows at the later one: "
        "'clock_jumps' of a trial names them. Durations are from session seconds, never from utc"
    ),
    "recordings": (
        "where 'times_of_a_recording' is true, a clip or recording was watched, and utc is when "
        "that began plus session seconds; when it was filmed is not known"
    ),
}
CSV = (
    "UTF-8, comma, decimal point, CRLF, first line = column names; empty = none or not known; true "
    "and false; utc as ISO 8601 with Z (RFC 4180, ISO 8601)"
)


def describe(recorded: Recorded, tables: Sequence[Table], created: str, named: bool) -> str:
    """Return the description as JSON text. created: ISO 8601. named: items' names are in it."""
    visits, trials = recorded.visits, recorded.trials
    watched = [trial.watched for trial in trials if trial.watched is not None]
    left_out: Counter[str] = Counter()
    for one in watched:
        left_out.update(excluded(one))
    document: dict[str, Any] = {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "created": created,
        "written_by": f"posewatch {__version__}",
        "stamps": stamps(recorded),
        "angles": CONVENTION,
        "times": TIMES,
        "csv": CSV,
        "codes": list(visits[0].header.codes) if visits else [],
        "names_of_items": "in the table items, after the logged reveal" if named else "none",
        "plan": json.loads(render_plan(visits[0].header.plan)) if visits else None,
        "plan_sha256": visits[0].header.plan_sha256 if visits else None,
        "sealed_code_list_sha256": visits[0].header.sealed_sha256 or None if visits else None,
        "visits": [_visit(visit) for visit in visits],
        "trials": [_trial(recorded, trial) for trial in trials],
        "targets": {
            target_name(one): json.loads(render_target(one.header.target)) for one in watched
        },
        "strokes": sum(len(one.strokes) for one in watched),
        "strokes_not_counted": dict(left_out.most_common()),
        "tables": {table.name: _table(table) for table in tables},
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def stamps(recorded: Recorded) -> list[str]:
    """Return what everything that is made of this must carry."""
    found: list[str] = []
    for visit in recorded.visits:
        number = visit.state.visit
        found.append(str(visit.header.plan.design.stamp))
        if any(reveal.forced for reveal in visit.state.reveals):
            found.append(EARLY_STAMP)
        if visit.header.rehearsal:
            found.append(f"visit {number} is a rehearsal: nothing in it counts")
        if visit.header.fast:
            found.append(f"visit {number} was ridden from recordings, faster than life")
        if visit.state.locked is None:
            found.append(f"the data of visit {number} are not locked yet")
    if recorded.visits:
        plan = recorded.visits[0].header.plan
        ridden = {trial.planned.number for trial in recorded.trials if trial.planned is not None}
        if len(ridden) < len(plan.mountings):
            found.append(f"{len(ridden)} of {len(plan.mountings)} planned mountings were ridden")
    if any(trial.watched is not None and _differences(trial.watched) for trial in recorded.trials):
        found.append("other chain: a target was captured with another measuring chain")
    return list(dict.fromkeys(found))


def _visit(visit: RecordedVisit) -> dict[str, Any]:
    header, state = visit.header, visit.state
    return {
        "visit": state.visit,
        "created": header.created,
        "versions": dict(header.versions),
        "rehearsal": header.rehearsal,
        "faster_than_life": header.fast,
        "consent": header.consent,
        "keep_until": header.keep_until,
        "mountings_left_out": list(state.left_out),
        "mountings_skipped": {one.number: one.skipped for one in state.mounted if one.skipped},
        "ended": None if state.ended is None else state.ended.reason or "as planned",
        "locked_by": None if state.locked is None else state.locked.who,
        "reveals": [asdict(reveal) for reveal in state.reveals],
    }


def _trial(recorded: Recorded, trial: RiddenTrial) -> dict[str, Any]:
    rehearsed = {visit.state.visit for visit in recorded.visits if visit.header.rehearsal}
    place = dict(zip((column.name for column in PLACE), place_of(trial), strict=True))
    found: dict[str, Any] = place | {
        "block": None if trial.planned is None else trial.planned.block,
        "discarded": why_discarded(trial, trial.visit in rehearsed) or None,
        "broken_off": None if trial.run is None else trial.run.broken_off or None,
    }
    return found | ({"log": None} if trial.watched is None else _watched(trial.watched))


def _watched(watched: Watched) -> dict[str, Any]:
    header, ending = watched.header, watched.ending
    return {
        "log_created": header.created,
        "versions": dict(header.versions),
        "source": header.stream.name,
        "times_of_a_recording": watched.recording,
        "target": target_name(watched),
        "limits": {channel: asdict(one) for channel, one in limits(header).items()},
        "sit_in_s": header.plan.sit_in_s,
        "first_sit_in_s": header.plan.first_sit_in_s,
        "goal_strokes": header.plan.goal_strokes,
        "sensors": header.sensors.words(),
        "measuring_chain": asdict(header.chain) | {"fingerprint": header.chain.fingerprint()},
        "chain_differs": _differences(watched),
        "pictures": None if ending is None else ending.n_frames,
        "pictures_not_used": {} if ending is None else dict(ending.dropped),
        "ended": _ended(watched),
        "strokes": len(watched.strokes),
        "strokes_not_counted": excluded(watched),
        "clock_jumps": [
            {
                "after_s": to_s(jump.after_ns),
                "before_s": to_s(jump.before_ns),
                "jump_s": to_s(jump.jump_ns),
            }
            for jump in watched.clock.jumps
        ],
    }


def _ended(watched: Watched) -> str:
    if watched.ending is not None:
        return watched.ending.how
    return "being written" if watched.in_use else "cut off"


def _differences(watched: Watched) -> list[str]:
    """Return how the measuring chain differed from the target's."""
    found = list(watched.header.target.chain.differences(watched.header.chain))
    message = "" if watched.ending is None else watched.ending.message
    return found or ([message] if message.startswith("other chain") else [])


def _table(table: Table) -> dict[str, Any]:
    columns = {one.name: {"holds": one.kind, "meaning": one.meaning} for one in table.columns}
    return {"about": table.about, "rows": len(table.rows), "columns": columns}
