"""How a visit on the command line begins, or is gone on with: everything is checked before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from posewatch.app import new_session_folder
from posewatch.cli.asking import ask
from posewatch.cli.screen import say
from posewatch.cli.trial_riders import Riders
from posewatch.cli.trial_typed import TypedAnswers
from posewatch.errors import BadInput
from posewatch.store.answers_file import AnswersDocument, require_fit
from posewatch.store.consent import consent_mark, consent_text
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_document import read_sealed, sha256_of
from posewatch.store.settings import Settings
from posewatch.store.visit_header import VisitHeader
from posewatch.store.visit_record import is_visit
from posewatch.trials.conduct_state import StartNeed
from posewatch.trials.plan import Design, Plan
from posewatch.visits.answering import Answerer, FileAnswers
from posewatch.visits.left_visits import FoundVisit, left_visits, look_at
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for on the command line. answers: None = somebody sits at the keys."""

    plan: Path | None
    codes: Path | None
    answers: AnswersDocument | None
    number: int
    rehearse: bool
    fast: bool
    keep_until: str

    def answerer(self, visit: Visit) -> Answerer:
        """Return who answers."""
        return TypedAnswers(visit) if self.answers is None else FileAnswers(self.answers, visit)


def which_folder(session: Path | None, asked: Asked, settings: Settings) -> tuple[Path, bool]:
    """Return the visit's folder, and whether it is new; a visit that was left is offered.

    Raises:
        BadInput: the folder is there and no visit.
    """
    if session is not None:
        return session, not is_visit(session)
    left = left_visits(settings.data_folder / "sessions")
    if asked.answers is None and left:
        say("Visits that were left before they ended:")
        for number, one in enumerate(left, 1):
            say(f"  {number}  {one.words}")
        typed = ask("Enter = go on with 1; another number; or n = a new one")
        if typed.lower() != "n":
            place = int(typed) - 1 if typed.isdecimal() else -1 if typed else 0
            if not 0 <= place < len(left):
                raise BadInput(f"There is no visit '{typed}'.", "Type one of the numbers.")
            return left[place].folder, False
    return new_session_folder(settings), True


def begin_visit(folder: Path, asked: Asked, riders: Riders) -> Visit:
    """Begin a new visit.

    Raises:
        BadInput: something that it needs is missing; nothing is left behind.
    """
    if asked.plan is None:
        raise BadInput("It is not said what is compared.", "Give --plan; `plan new` makes one.")
    if folder.exists():
        raise BadInput(
            f"{folder} exists already, is no visit, and was left as it is.", "Name a new folder."
        )
    sealed = None if asked.codes is None else read_sealed(asked.codes)
    plan = read_plan(asked.plan)
    require_visit(plan, asked.number)
    riders.prepare(plan.design, asked.fast)
    if sealed is None:
        _require_no_codes(plan.design, asked)
    consent = _consent(plan.design, folder, asked, riders)
    video = riders.agree(plan.design.rider, may_ask=asked.answers is None)
    new = NewVisit(
        asked.plan,
        sealed,
        "; ".join(filter(None, (consent, video))),
        asked.keep_until,
        asked.rehearse,
        asked.fast,
    )
    header = new.header()
    if asked.answers is not None:
        require_fit(asked.answers, header, asked.number)
    visit = Visit.begin(folder, new, riders.settings)
    if not asked.rehearse:
        say(f"visit {asked.number} of the plan, kept in {folder}")
    if sealed is not None:
        say(f"codes {', '.join(sealed.codes)}, sealed, SHA-256 {sealed.sha256}")
    return visit


def go_on_with(folder: Path, asked: Asked, riders: Riders) -> Visit | None:
    """Go on with a visit that was left; None = it was closed, or left as it is.

    Raises:
        BadInput: it is over, or what was given does not belong to it; it stays as it is.
    """
    found = look_at(folder)
    if found.has_ended:
        raise BadInput(f"The visit {folder} is over.", "Name a new folder for another one.")
    header = found.header
    _require_same(header, asked)
    if asked.answers is None:
        say(f"left before it ended: {found.words}")
        typed = ask("Enter = go on with it; c = close it; l = leave it").lower()
        if typed == "c":
            _close(found, riders.settings)
            return None
        if typed:
            say("left as it is")
            return None
    else:
        require_fit(asked.answers, header, found.state.visit or asked.number)
        say(f"going on with {found.words}")
    riders.prepare(header.plan.design, header.fast)
    riders.agree(header.plan.design.rider, may_ask=asked.answers is None)
    return Visit.go_on(folder, riders.settings)


def require_visit(plan: Plan, number: int) -> None:
    """Refuse a visit that is not in the plan.

    Raises:
        BadInput: there is none of that number.
    """
    if not 1 <= number <= len(plan.visits):
        raise BadInput(f"The plan has no visit {number}.", f"Give 1 to {len(plan.visits)}.")


def _require_same(header: VisitHeader, asked: Asked) -> None:
    if asked.plan is not None:
        read_plan(asked.plan)
        if sha256_of(asked.plan.read_bytes()) != header.plan_sha256:
            raise BadInput(
                f"The visit was begun with another plan than {asked.plan}.",
                "Leave --plan out, or name a new folder.",
            )
    if asked.codes is not None and read_sealed(asked.codes).sha256 != header.sealed_sha256:
        raise BadInput(
            f"The visit was begun with another code list than {asked.codes}.",
            "Leave --codes out, or name a new folder.",
        )
    if asked.fast and not header.fast:
        raise BadInput("The visit was not begun with --fast.", "Leave it out.")


def _require_no_codes(design: Design, asked: Asked) -> None:
    """Ask before concealed items go without a sealed list; the reason is asked for later."""
    if not design.concealment.item_concealed:
        return
    if asked.answers is not None:
        agreed = any(need is StartNeed.CODES for need in asked.answers.passed_over)
    else:
        say("The plan conceals the items, and no sealed code list is given (--codes).")
        agreed = ask("Go on without one? y = yes, with a reason").lower() == "y"
    if not agreed:
        raise BadInput(
            "The items' codes are not sealed.",
            "Give --codes; `posewatch codes seal` makes the file.",
        )


def _consent(design: Design, folder: Path, asked: Asked, riders: Riders) -> str:
    """Return the line that is logged of the rider's consent, empty where nobody is filmed."""
    if not riders.films:
        return ""
    if asked.answers is not None:
        agreed = asked.answers.agreed
    else:
        for article in consent_text(riders.settings.data_folder):
            say(f"{article.title}. {article.text}")
        if not asked.rehearse:
            say(f"This visit is kept in {folder}.")
        agreed = ask("Has the rider agreed to this? y = yes").lower() == "y"
    if not agreed:
        raise BadInput("The rider has not agreed.", "Nobody is filmed without that.")
    return consent_mark(design.rider, datetime.now().astimezone())


def _close(found: FoundVisit, settings: Settings) -> None:
    reason = ask("Why does it end here") or "closed"
    visit = Visit.go_on(found.folder, settings)
    try:
        if visit.state.visit == 0:
            raise BadInput(f"The visit {found.folder} never began.", "Delete its folder.")
        visit.end(reason)
    finally:
        visit.close()
    say(f"closed: {found.folder}")
