"""Which visit is conducted, chosen in set-up: a new one, one that was left, or none. Without Qt.

Nothing is begun before the trial may begin; until then a choice can be taken back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from posewatch import app
from posewatch.errors import BadInput, PosewatchError
from posewatch.store.plan_file import read_plan
from posewatch.store.sealed_codes import SCRYPT_N
from posewatch.store.sealed_document import read_sealed
from posewatch.studio import Studio
from posewatch.trials.plan import Design
from posewatch.trials.words import ComparisonKind, SaddleMode
from posewatch.ui.setup_choices import TargetChoice
from posewatch.ui.setup_view import Setup
from posewatch.ui.visit_ride import Visiting
from posewatch.visits.first_look import FirstLook, first_look_design, make_first_look
from posewatch.visits.left_visits import FoundVisit, left_visits
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit

NONE = "none: a single watch"
#: What can be compared in a first look, and for saddles how.
KINDS: dict[str, tuple[ComparisonKind, SaddleMode | None]] = {
    **{str(one): (one, None) for one in ComparisonKind if one is not ComparisonKind.SADDLE},
    **{f"saddle, {mode}": (ComparisonKind.SADDLE, mode) for mode in SaddleMode},
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """A visit that will be begun, or gone on with. folder: of one that was left, else None."""

    words: str
    design: Design
    new: NewVisit | None = None
    number: int = 1
    folder: Path | None = None


class VisitChoice:
    """The choice, for the thread of the windows.

    visiting: the visit that is open. left: those that were left, newest first. slip: of a first
    look that was just made, to be written down; None = there is nothing to write down.

    Args:
        studio: the sitting.
        visiting: a visit that a command has opened.
        cost: of scrypt, for the code list of a first look.
    """

    def __init__(
        self, studio: Studio, visiting: Visiting | None = None, cost: int = SCRYPT_N
    ) -> None:
        self._studio, self._cost = studio, cost
        self.visiting = visiting
        self.wanted: Wanted | None = None
        self.left: tuple[FoundVisit, ...] = ()
        self.slip: FirstLook | None = None
        self._rehearsed: TemporaryDirectory[str] | None = None
        self.look()

    @property
    def words(self) -> str:
        """What was chosen, for people."""
        if self.visiting is not None:
            return f"the one in {self.visiting.visit.folder}"
        return NONE if self.wanted is None else self.wanted.words

    def look(self) -> None:
        """Look anew for visits that were left."""
        self.left = tuple(left_visits(self._studio.settings.data_folder / "sessions"))

    def go_without(self) -> None:
        """Choose none."""
        self.wanted = None

    def go_on(self, left: FoundVisit) -> None:
        """Choose to go on with a visit."""
        self.wanted = Wanted(
            f"go on with {left.words}", left.header.plan.design, folder=left.folder
        )

    def use_plan(self, plan: str, codes: str, number: str, rehearsal: bool) -> None:
        """Choose a plan's file, and its sealed code list or "", as they were typed.

        Raises:
            BadInput: one of them cannot be used.
        """
        if not plan.strip():
            raise BadInput("No plan is given.", "Type its path; `posewatch plan new` makes one.")
        path = Path(plan.strip()).expanduser()
        found = read_plan(path)
        n = len(found.visits)
        which = number.strip() or "1"
        if not which.isdecimal() or not 1 <= int(which) <= n:
            raise BadInput(f"The plan has no visit {which}.", f"Give 1 to {n}.")
        sealed = read_sealed(Path(codes.strip()).expanduser()) if codes.strip() else None
        new = NewVisit(path, sealed, rehearsal=rehearsal)
        new.header()
        words = (
            f"visit {which} of {n} of {path.name}, {len(found.visits[int(which) - 1].mountings)}"
        )
        self.wanted = Wanted(f"{words} mountings", found.design, new, int(which))

    def make_first_look(
        self,
        kind: str,
        names: tuple[str, str],
        setup: Setup,
        targets: tuple[TargetChoice, ...],
        rehearsal: bool,
    ) -> None:
        """Make a first look for all hand positions of rider and bike that have a target.

        kind: one of ``KINDS``. names: of the items, empty = known by their letters alone.

        Raises:
            BadInput: rider and bike have no target yet, or the names cannot be.
        """
        here = [one for one in targets if (one.rider, one.bike) == (setup.rider, setup.bike)]
        if not here:
            raise BadInput(
                "No target is chosen, so it is not known who rides what.",
                "Choose one in step 4, or capture it.",
            )
        first = dict.fromkeys([setup.hands] if any(t.hands == setup.hands for t in here) else [])
        hands = tuple(first | dict.fromkeys(one.hands for one in here))
        plan = setup.sensors
        design = first_look_design(
            *KINDS[kind], setup.rider, setup.bike, hands, plan.power_w, plan.cadence_rpm
        )
        folder = self._studio.settings.data_folder / "plans"
        made = make_first_look(folder, design, names, self._cost)
        new = NewVisit(made.plan_path, read_sealed(made.codes_path), rehearsal=rehearsal)
        words = f"first look, {made.plan_path.name}"
        self.wanted, self.slip = Wanted(words, design, new), made

    def written_down(self) -> None:
        """The slip was written down: it is shown no more."""
        self.slip = None

    def close_left(self, left: FoundVisit, why: str) -> None:
        """End a visit that was left; it stays as it is otherwise.

        Raises:
            PosewatchError: no reason is given, it never began, or its record cannot be written.
        """
        if not why.strip():
            raise BadInput("It is not said why the visit ends.", "Give a reason; it is kept.")
        if not left.state.visit:
            raise BadInput(f"The visit {left.folder} never began.", "Delete its folder.")
        visit = Visit.go_on(left.folder, self._studio.settings)
        try:
            visit.end(why.strip())
        finally:
            visit.close()
        if self.wanted is not None and self.wanted.folder == left.folder:
            self.wanted = None
        self.look()

    def open(self, setup: Setup) -> str:
        """Open what was chosen, if anything was; return why it cannot be, empty = it is open."""
        design = self._design()
        if design is None:
            return ""
        if self.slip is not None:
            return "The passphrase of the first look is not written down yet: see to the visit."
        if (design.rider, design.bike) != (setup.rider, setup.bike):
            return (
                f"The visit is of {design.rider} on {design.bike}, and {setup.rider} on "
                f"{setup.bike} is set up."
            )
        if design.power_w is not None and setup.sensors.power is None:
            return (
                f"The visit holds {design.power_w:g} W and no sensor gives the power: choose one "
                "in step 5."
            )
        try:
            self._open()
        except PosewatchError as error:
            return str(error)
        return ""

    def close(self) -> None:
        """Close the visit that is open; of a rehearsal nothing is kept. Twice is harmless."""
        if self.visiting is not None:
            self.visiting.visit.close()
        if self._rehearsed is not None:
            self._rehearsed.cleanup()

    def _design(self) -> Design | None:
        if self.visiting is not None:
            return self.visiting.visit.plan.design
        return None if self.wanted is None else self.wanted.design

    def _open(self) -> None:
        wanted, settings = self.wanted, self._studio.settings
        if self.visiting is not None or wanted is None:
            return
        if wanted.folder is not None:
            self.visiting = Visiting(Visit.go_on(wanted.folder, settings))
        elif wanted.new is not None:
            source = self._studio.chosen.source
            new = replace(
                wanted.new,
                consent=self._studio.chosen.agreements,
                keep_until=app.keep_until(settings),
                fast=source is not None and not source.live,
            )
            folder = app.new_session_folder(settings)
            if new.rehearsal:
                self._rehearsed = TemporaryDirectory(ignore_cleanup_errors=True)
                folder = Path(self._rehearsed.name) / "visit"
            self.visiting = Visiting(Visit.begin(folder, new, settings), wanted.number)
