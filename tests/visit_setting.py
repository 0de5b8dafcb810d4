"""A studio in which visits are conducted on the command line, on recorded landmarks."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from command_runs import Ran, Run
from made_acts import made_plan
from made_codes import CHEAP, PASSPHRASE, made_codes

from posewatch.core.envelope import Target
from posewatch.store.plan_file import write_plan
from posewatch.store.sealed_codes import seal, write_sealed
from posewatch.store.sealed_document import sha256_of
from posewatch.store.settings import load_settings
from posewatch.store.target_shelf import save_target
from posewatch.store.visit_record import read_visit
from posewatch.trials.acts import Act
from posewatch.trials.words import ConcealmentLevel


@dataclass
class Setting:
    """A plan for one hand position, its sealed codes, a target and a recording."""

    run: Run
    monkeypatch: pytest.MonkeyPatch
    folder: Path
    target: Target
    recording: Path

    @property
    def plan(self) -> Path:
        return self.folder / "plan.json"

    @property
    def codes(self) -> Path:
        return self.folder / "codes.json"

    @property
    def visit(self) -> Path:
        return self.folder / "visit"

    def make(self, **changes: Any) -> None:
        """Write plan, codes and target; three items, each mounted once."""
        short = {
            "rider": self.target.rider,
            "bike": self.target.bike,
            "hands": (self.target.hands,),
            "n_items": 3,
            "mountings": 1,
            "sit_in_s": 1.0,
            "hand_change_s": 1.0,
            "concealment": ConcealmentLevel.ITEM_COVERED,
        }
        write_plan(made_plan(**(short | changes)), self.plan)
        made = replace(made_codes(), plan_sha256=sha256_of(self.plan.read_bytes()))
        write_sealed(seal(made, PASSPHRASE, CHEAP), self.codes)
        save_target(self.target, load_settings({}).data_folder)

    def answers(self, **said: Any) -> Path:
        """Write an answers file."""
        path = self.folder / "answers.json"
        head = {"format": "posewatch answers", "format_version": 1}
        path.write_text(json.dumps(head | said), encoding="utf-8")
        return path

    def conduct(self, *more: object, session: Path | None = None) -> Ran:
        """Run the visit faster than life."""
        where = self.visit if session is None else session
        return self.run(
            *("trial", "run", "--plan", self.plan, "--codes", self.codes, "--session", where),
            *("--source", self.recording, "--fast", *more),
        )

    def typed(self, *lines: str) -> Callable[..., Ran]:
        """Conduct with these lines typed, one after the other."""
        text = "".join(f"{line}\n" for line in lines)
        self.monkeypatch.setattr(sys, "stdin", io.StringIO(text))
        return self.conduct

    def kept(self) -> list[Act]:
        """Return what the visit's record holds."""
        return [one.act for one in read_visit(self.visit)[1]]
