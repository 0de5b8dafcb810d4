"""Visits put together act by act, with the same watch as the log of every trial."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from made_codes import CHEAP, PASSPHRASE, made_codes
from made_plans import made_design

from posewatch.core.outputs import Phase
from posewatch.core.timebase import to_ns
from posewatch.store.plan_file import read_plan, write_plan
from posewatch.store.sealed_codes import seal, write_sealed
from posewatch.store.sealed_document import SealedCodes, read_sealed
from posewatch.store.visit_header import VisitHeader
from posewatch.store.visit_record import VisitRecord
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import check_list
from posewatch.trials.kinds import Entry
from posewatch.trials.plan import Plan, make_plan
from posewatch.trials.words import RITUAL, RITUAL_S, ConcealmentLevel

#: Wall time of every visit's beginning.
ZERO_NS = 1_740_820_272_000_000_000


@dataclass
class VisitMaker:
    """Makes visits of one plan of three concealed items in a folder."""

    folder: Path
    n_visits: int = 2
    plan: Plan = field(init=False)
    plan_sha256: str = field(init=False)
    sealed: SealedCodes = field(init=False)

    def __post_init__(self) -> None:
        path = self.folder / "plan.json"
        design = made_design(
            n_items=3,
            mountings=2,
            n_visits=self.n_visits,
            concealment=ConcealmentLevel.ITEM_COVERED,
            warm_up_s=0.0,
        )
        write_plan(make_plan(design), path)
        self.plan = read_plan(path)
        self.plan_sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
        code_list = replace(made_codes(), plan_sha256=self.plan_sha256)
        self.codes_path = self.folder / "codes.json"
        write_sealed(seal(code_list, PASSPHRASE, CHEAP), self.codes_path)
        self.sealed = read_sealed(self.codes_path)

    def header(self, **changes: object) -> VisitHeader:
        made = VisitHeader(
            self.plan,
            self.plan_sha256,
            self.sealed.codes,
            self.sealed.sha256,
            consent="agreed",
            keep_until="",
            rehearsal=False,
            fast=True,
            versions={"posewatch": "0.1.0"},
            created="2025-03-01T09:11:12+00:00",
        )
        return replace(made, **changes)  # type: ignore[arg-type]

    def visit(
        self, name: str, watch: Path, more: tuple[Act, ...] = (), number: int = 1, **changes: object
    ) -> Path:
        """Write a visit of two mountings, its first trial ridden twice; ``watch`` is every log."""
        folder = self.folder / name
        header = self.header(**changes)
        with VisitRecord.create(folder, header) as record:
            for k, act in enumerate([*_acts(header, number), *more]):
                at_ns = to_ns(10.0 * k)
                record.add(ZERO_NS + at_ns, replace(act, t_ns=at_ns))
                if isinstance(act, acts.TrialBegun):
                    shutil.copytree(watch, folder / act.folder)
        return folder


def _acts(header: VisitHeader, number: int) -> Iterator[Act]:
    """Give what happens; times are put in by whoever keeps it."""
    yield acts.VisitBegun(0, number, "the operator")
    yield acts.Noted(0, "window open")
    code = header.codes[0]
    yield acts.Gauged(
        *(0, code, "Shore 00", "sit bone", "left", 3.0, "glass plate"),
        readings=(31.0, 33.0, 32.0, 38.0, 32.0),
        thickness_mm=5.5,
        temperature_c=23.0,
    )
    yield acts.ItemFact(0, code, "weight", 182.5)
    yield acts.ItemFact(0, code, "washes", 3.0 + number)
    for planned in header.plan.visits[number - 1].mountings[:2]:
        yield acts.MountingBegun(0)
        for line in check_list(header.plan.design):
            if line.entry is Entry.NUMBER:
                yield acts.LineDone(0, line.key, "12.5")
            elif line.key == "straps_untwisted":
                yield acts.LineSkipped(0, line.key, "has none")
            else:
                yield acts.LineDone(0, line.key, "as said" if line.entry is Entry.TEXT else "")
        attempts = (1, 2) if planned is header.plan.visits[number - 1].mountings[0] else (1,)
        for trial in planned.trials:
            for attempt in attempts if trial.number == 1 else (1,):
                here = f"m{planned.number:02d}-t{trial.number}-{trial.hands}-{attempt}"
                yield acts.TrialBegun(0, f"trials/{here}")
                for moment in RITUAL:
                    assert RITUAL_S[moment] <= 10.0
                    yield acts.RitualDone(0, moment)
                yield acts.HoldSeen(0, Phase.IN_POSITION, 5)
                yield acts.TrialClosed(0, 60, to_ns(40.0))
                yield acts.Rated(0, "front", "pain", 2.5)
                yield acts.Rated(0, "hands", "comfort", None)
                if attempt < len(attempts) and trial.number == 1:
                    yield acts.TrialRepeated(0, "doorbell")
        yield acts.MountingEnded(0)
        yield acts.Guessed(0, "B" if planned.number % 2 else None, 4, "felt soft")
    yield acts.VisitEnded(0, "out of time")
