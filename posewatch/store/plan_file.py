"""The plan file: JSON text that holds one plan, checked on the way in and out."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import ValidationError

from posewatch.errors import BadInput
from posewatch.store.validated import FileKind, Moment, Part, first_problem, write_named
from posewatch.trials.plan import (
    Design,
    Plan,
    PlannedMounting,
    PlannedTrial,
    PlannedVisit,
    make_plan,
)
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind, SaddleMode

FORMAT: Final = "posewatch plan"
FORMAT_VERSION: Final = 1
KIND = FileKind("plan", FORMAT, FORMAT_VERSION, "plan new", "Make the plan again.")


class DesignPart(Part):
    """What was asked of the plan; ranges are those that making a plan allows."""

    kind: ComparisonKind
    saddle_mode: SaddleMode | None
    concealment: ConcealmentLevel
    rider: str
    bike: str
    n_items: int
    mountings: int
    n_visits: int
    hands: tuple[str, ...]
    order: OrderKind
    seed: int
    familiarisation: bool
    goal_strokes: int
    warm_up_s: float
    sit_in_s: float
    hand_change_s: float
    item_rest_s: float
    power_w: float | None
    cadence_rpm: float | None


class TrialPart(Part):
    """One hand position of a mounting."""

    number: int
    hands: str


class MountingPart(Part):
    """One mounting; slot from 0, everything else from 1; block null = discarded."""

    number: int
    slot: int
    block: int | None
    trials: tuple[TrialPart, ...]

    def mounting(self) -> PlannedMounting:
        """Return it as trials have it."""
        trials = tuple(PlannedTrial(one.number, one.hands) for one in self.trials)
        return PlannedMounting(self.number, self.slot, self.block, trials)


class VisitPart(Part):
    """The mountings of one visit, in their order."""

    number: int
    mountings: tuple[MountingPart, ...]


class PlanDocument(Part):
    """A plan: what was asked, and the visits that follow from it."""

    format: Literal["posewatch plan"]
    format_version: Literal[1]
    created: Moment
    design: DesignPart
    visits: tuple[VisitPart, ...]

    def plan(self) -> Plan:
        """Return it as trials have it."""
        visits = tuple(
            PlannedVisit(visit.number, tuple(one.mounting() for one in visit.mountings))
            for visit in self.visits
        )
        return Plan(Design(**self.design.model_dump()), visits, self.created)


def render_plan(plan: Plan) -> str:
    """Return a plan as the text of its file.

    Raises:
        BadInput: it holds what no plan may hold (NaN ...).
    """
    document: dict[str, Any] = {"format": FORMAT, "format_version": FORMAT_VERSION}
    document |= asdict(plan)
    try:
        return PlanDocument.model_validate(document).model_dump_json(indent=2) + "\n"
    except ValidationError as error:
        raise BadInput(
            f"The plan cannot be kept: {first_problem(error)}.", "Plan it with another value."
        ) from error


def parse_plan(text: str, where: str) -> Plan:
    """Read the text of a plan file; ``where`` names its place in messages.

    Visits must be the very ones that the design gives, seed included: an order that somebody
    changed by hand is no longer the order that the file says it is.

    Raises:
        BadInput: not JSON, not a plan, another format version, altered, or a value that cannot be
            used.
    """
    KIND.require(text, where)
    try:
        plan = PlanDocument.model_validate_json(text).plan()
    except ValidationError as error:
        raise BadInput(f"{where} cannot be used: {first_problem(error)}.", KIND.again) from error
    try:
        meant = make_plan(plan.design)
    except BadInput as error:
        raise BadInput(f"{where} cannot be used. {error.what}", error.advice) from error
    if meant.visits != plan.visits:
        raise BadInput(
            f"{where} cannot be used: its visits are not those that its design and seed "
            f"{plan.design.seed} give; it was altered.",
            KIND.again,
        )
    return plan


def read_plan(path: Path) -> Plan:
    """Read one plan file.

    Raises:
        BadInput: missing, not readable, or as :func:`parse_plan` says.
    """
    return parse_plan(KIND.read(path), str(path))


def write_plan(plan: Plan, path: Path) -> Plan:
    """Write a plan to a new file, stamped with the wall time of now; return it as it was kept.

    Raises:
        BadInput: the file exists already or cannot be written.
    """
    kept = replace(plan, created=datetime.now(UTC).astimezone().isoformat(timespec="seconds"))
    write_named(path, render_plan(kept))
    return kept
