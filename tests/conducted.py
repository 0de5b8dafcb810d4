"""A visit at the operator's keys, on a studio whose jobs do nothing, with clocks that tests set."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from exact_rider import target
from idle_engine import IdleEngine, idle_studio
from made_codes import CHEAP, PASSPHRASE, made_codes
from made_operator_scenes import scene, shown, stands
from made_plans import made_design

from posewatch.app import WatchResult
from posewatch.core.outputs import Phase
from posewatch.core.records import NS_PER_S
from posewatch.core.standing import Standing
from posewatch.runtime import clock
from posewatch.runtime.engine import EngineState
from posewatch.runtime.watch_run import WatchTotals
from posewatch.store.plan_file import write_plan
from posewatch.store.sealed_codes import seal, write_sealed
from posewatch.store.sealed_document import SealedCodes, read_sealed, sha256_of
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.studio import Doing, Studio
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import TrialPhase
from posewatch.trials.plan import Design, make_plan
from posewatch.ui.health_view import Level
from posewatch.ui.scene import Scene
from posewatch.ui.visit_desk import VisitDesk
from posewatch.ui.visit_ride import Rides, Visiting
from posewatch.ui.visit_view import Next, step_of
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import Visit

#: Wall time at the tests' zero.
ZERO_NS = 1_740_820_272 * NS_PER_S


@dataclass
class Times:
    """All clocks of the machine; they go on only when told to."""

    ns: int = 1000 * NS_PER_S

    def set_in(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(clock, "monotonic_ns", lambda: self.ns)
        monkeypatch.setattr(clock, "awake_ns", lambda: self.ns)
        monkeypatch.setattr(clock, "wall_ns", lambda: ZERO_NS + self.ns)

    def pass_by(self, seconds: float) -> None:
        self.ns += round(seconds * NS_PER_S)


def small_design(**changes: Any) -> Design:
    """Two items, one mounting each, two hand positions."""
    usual: dict[str, Any] = {
        "rider": "rider",
        "bike": "bike",
        "mountings": 1,
        "familiarisation": False,
        "goal_strokes": 60,
        "seed": 1,
    }
    return made_design(**(usual | changes))


def new_visit(folder: Path, design: Design, fast: bool = False) -> NewVisit:
    """Write a plan, and a sealed code list where items are concealed."""
    path = folder / "plan.json"
    write_plan(make_plan(design), path)
    sealed: SealedCodes | None = None
    if design.concealment.item_concealed:
        codes = made_codes()
        plan_sha256 = sha256_of(path.read_bytes())
        codes = replace(codes, slots=codes.slots[: design.n_items], plan_sha256=plan_sha256)
        cards = [replace(one, card="AB"[k]) for k, one in enumerate(codes.slots)]
        write_sealed(
            seal(replace(codes, slots=tuple(cards)), PASSPHRASE, CHEAP), folder / "codes.json"
        )
        sealed = read_sealed(folder / "codes.json")
    return NewVisit(path, sealed, fast=fast)


@dataclass
class Conducted:
    """A visit, its desk and its idle studio."""

    folder: Path
    times: Times
    design: Design = field(default_factory=small_design)
    fast: bool = False
    rides: Rides | None = None
    notes: list[tuple[str, Level]] = field(default_factory=list, init=False)
    studio: Studio = field(init=False)
    engine: IdleEngine = field(init=False)
    visit: Visit = field(init=False)
    desk: VisitDesk = field(init=False)

    def __post_init__(self) -> None:
        self.studio, self.engine = idle_studio(self.folder / "data", None)
        settings = Settings(data_folder=self.folder / "data")
        for hands in ("hoods", "drops"):
            save_target(replace(target(), hands=hands), settings.data_folder)
        new = new_visit(self.folder, self.design, self.fast)
        self.visit = Visit.begin(self.folder / "visit", new, settings)
        visiting = Visiting(self.visit, rides=self.rides)
        self.desk = VisitDesk(visiting, self.studio, self._note, lambda: self.times.ns)

    def _note(self, text: str, level: Level = Level.WARN) -> None:
        self.notes.append((text, level))

    @property
    def step(self) -> Next:
        return step_of(self.desk.now).next

    @property
    def acts(self) -> list[Act]:
        """All that was kept, as it is on disk."""
        return [one.act for one in read_visit(self.visit.folder)[1]]

    @property
    def last(self) -> Act:
        """The last act, whenever it was."""
        return replace(self.acts[-1], t_ns=0)

    @property
    def phase(self) -> TrialPhase:
        """Where the trial under way is."""
        assert self.visit.state.run is not None
        return self.visit.state.run.phase

    def scene(self, standing: Standing | None = None, **others: Any) -> Scene:
        moment = None if standing is None else shown(standing)
        state = EngineState.RUNNING if self.engine.busy else EngineState.STOPPED
        made = scene(self.studio.doing, 0.0, state, moment, **others)
        return replace(made, monotonic_ns=self.times.ns)

    def poll(self, standing: Standing | None = None, seconds: float = 0.0, **others: Any) -> None:
        """Let time pass, then let the desk see how things stand."""
        self.times.pass_by(seconds)
        self.desk.follow(self.scene(standing, **others))

    def next(self) -> None:
        """Press the key for what is next, once that has stood for a while."""
        self.poll(seconds=1.0)
        self.desk.next()

    def keep(self, *texts: str) -> str:
        """Type into the form that is open."""
        form = self.desk.form
        assert form is not None
        texts += tuple("" for _ in range(len(form.fields) - len(texts)))
        return self.desk.keep(texts)

    def leave_out(self, what: str, why: str) -> None:
        """Leave out what is called so, or begins so."""
        self.desk.skip()
        form = self.desk.form
        assert form is not None
        number = next(words.split()[0] for words in form.words if what in words)
        assert self.keep(number, why) == ""

    def begin(self) -> None:
        """Begin the visit, its warm-up passed over."""
        self.next()
        assert self.keep("op3") == ""
        if self.step is Next.BEGIN_WARM_UP:
            self.leave_out("warm-up", "warm already")

    def mount(self) -> None:
        """Begin the next mounting, its check list passed over."""
        self.next()
        self.leave_out("check list", "not of interest here")
        if self.step is Next.REST:
            self.leave_out("off load", "not of interest here")

    def begin_trial(self) -> None:
        self.next()
        assert self.studio.doing is Doing.WATCH

    def ride(self, counted: int = 60, seconds: float = 18.0) -> None:
        """Let the trial under way be ridden in position, its reset in time."""
        for _ in range(round(seconds)):
            self.poll(stands(counted=counted), 1.0)

    def finish(self, counted: int = 60, stopped: bool = True) -> None:
        """End the trial's watch with so many strokes. stopped: by somebody, else by itself."""
        assert self.studio.session is not None
        totals = WatchTotals(900, 30 * NS_PER_S, counted, counted * NS_PER_S, 1)
        self.studio.done.append((self.studio.session, WatchResult(totals, (), (), {})))
        if stopped:
            self.engine.stop()
        self.engine.busy = False
        self.poll()

    def rate(self) -> None:
        self.next()
        assert self.keep("7") == ""

    def trial(self) -> None:
        """Ride the next trial to its goal, and rate it."""
        self.begin_trial()
        self.ride()
        self.next()
        self.finish()
        self.rate()


#: Sitting in, after the reset.
SITTING = stands(Phase.SIT_IN, counted=0, sit_in_left_s=100.0)
