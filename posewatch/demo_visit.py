"""The demonstration of a visit: two concealed items, two mountings each, on two hand positions.

An invented rider's recorded landmarks are ridden; what is asked is answered from a file.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from posewatch.app import Watcher
from posewatch.demo import (
    BIKE,
    POWER_W,
    REFERENCES,
    RIDER,
    SIT_IN_S,
    capture_reference,
    clips_folder,
    sensors_of,
    source,
)
from posewatch.store.answers_file import read_answers, require_fit
from posewatch.store.passphrase import new_passphrase
from posewatch.store.plan_file import write_plan
from posewatch.store.sealed_codes import seal, write_sealed
from posewatch.store.sealed_document import read_sealed, sha256_of
from posewatch.store.settings import Settings
from posewatch.trials.code_list import Item, make_code_list
from posewatch.trials.plan import Design, make_plan
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind
from posewatch.visits.answering import FileAnswers, Screen
from posewatch.visits.conducting import Conductor
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import TrialTask, Visit

#: Invented, like the rider. Until the reveal nothing that the visit writes holds these names.
ITEMS = (Item("Ostrel"), Item("Veddle"))
CLIPS = {"hoods": "hoods_steady", "drops": "drops_steady"}
DESIGN = Design(
    ComparisonKind.SHORTS,
    None,
    ConcealmentLevel.ITEM_COVERED,
    RIDER,
    BIKE,
    n_items=2,
    mountings=2,
    n_visits=1,
    hands=tuple(CLIPS),
    order=OrderKind.REVERSED_PAIRS,
    seed=7,
    familiarisation=False,
    goal_strokes=10,
    sit_in_s=SIT_IN_S,
    hand_change_s=SIT_IN_S,
    power_w=POWER_W,
)


@dataclass(frozen=True, slots=True)
class DemoVisit:
    """What was made: the plan's file, the sealed code list's, its passphrase, and the visit."""

    plan: Path
    codes: Path
    passphrase: str
    visit: Visit


def begin_demo_visit(settings: Settings) -> DemoVisit:
    """Capture the targets, plan, seal, and begin the visit, all in ``settings.data_folder``.

    Raises:
        PosewatchError: a clip cannot be used, or the folder cannot be written to.
    """
    for reference in REFERENCES:
        if (reference.bike, reference.hands) in {(BIKE, hands) for hands in CLIPS}:
            capture_reference(reference, True, settings, lambda *_: None)
    folder = settings.data_folder
    plan, codes = folder / "plan.json", folder / "codes.sealed.json"
    write_plan(make_plan(DESIGN), plan)
    created = datetime.now(UTC).isoformat(timespec="seconds")
    made = make_code_list(ITEMS, sha256_of(plan.read_bytes()), created, secrets.SystemRandom())
    passphrase = new_passphrase()
    write_sealed(seal(made, passphrase), codes)
    new = NewVisit(plan, read_sealed(codes), fast=True)
    return DemoVisit(plan, codes, passphrase, Visit.begin(folder / "visit", new, settings))


def conduct_demo_visit(visit: Visit, settings: Settings, screen: Screen) -> None:
    """Go through the visit.

    Raises:
        PosewatchError: a clip or the answers cannot be used, or the record failed.
    """
    answers = read_answers(clips_folder() / "visit_answers.json")
    require_fit(answers, visit.header, 1)

    def watcher_of(task: TrialTask) -> Watcher:
        clip = CLIPS[task.target.hands]
        return Watcher(
            source(clip, True, settings.model),
            task.target,
            task.plan,
            settings,
            task.session,
            sensors=sensors_of(clip),
        )

    Conductor(visit, 1, FileAnswers(answers, visit), screen, watcher_of).run()
