"""What a new visit begins with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from posewatch import app
from posewatch.errors import BadInput
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_document import SealedCodes, sha256_of
from posewatch.store.visit_header import VisitHeader
from posewatch.trials.words import item_words


@dataclass(frozen=True, slots=True)
class NewVisit:
    """What a new visit begins with.

    plan_path: of the plan's file. sealed: the code list, still closed; None = items are not
    concealed. consent: the line that is logged, empty = nobody agreed yet. keep_until: ISO date,
    empty = not said. rehearsal, fast: as in ``store.visit_header.VisitHeader``.
    """

    plan_path: Path
    sealed: SealedCodes | None = None
    consent: str = ""
    keep_until: str = ""
    rehearsal: bool = False
    fast: bool = False

    def header(self) -> VisitHeader:
        """Return what the visit's record says of itself.

        Raises:
            BadInput: the plan cannot be used, the code list is another plan's, or keep_until is no
                date.
        """
        plan = read_plan(self.plan_path)
        plan_sha256 = sha256_of(self.plan_path.read_bytes())
        n_items, sealed = plan.design.n_items, self.sealed
        if sealed is not None and (sealed.plan_sha256, len(sealed.codes)) != (plan_sha256, n_items):
            raise BadInput(
                f"{sealed.where} was sealed for another plan than {self.plan_path}.",
                "Give the plan that it was sealed for, or seal a code list for this one.",
            )
        _require_date(self.keep_until)
        return VisitHeader(
            plan,
            plan_sha256,
            tuple(map(item_words, range(n_items))) if sealed is None else sealed.codes,
            "" if sealed is None else sealed.sha256,
            self.consent,
            self.keep_until,
            self.rehearsal,
            self.fast,
            app.versions(),
            datetime.now(UTC).isoformat(timespec="seconds"),
        )


def _require_date(text: str) -> None:
    try:
        day = date.fromisoformat(text) if text else None
    except ValueError as error:
        raise BadInput(f"{text!r} is no date.", "Give it as YYYY-MM-DD.") from error
    if day is not None and day < datetime.now().astimezone().date():
        raise BadInput(f"{text} is over.", "Give a date from today on, or none.")
