"""``posewatch session export``."""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import pytest
from command_runs import Run
from made_codes import NAMES, PASSPHRASE
from made_visits import VisitMaker

from posewatch.trials.acts import Revealed


@pytest.fixture
def watch(run: Run, reference_recording: Path, target_file: Path, tmp_path: Path) -> Path:
    ran = run(
        *("watch", "--source", reference_recording, "--target", target_file),
        *("--session", tmp_path / "watch", "--fast"),
    )
    assert ran.status == 0
    return tmp_path / "watch"


def test_a_watch_is_exported_and_what_counts_is_told(run: Run, watch: Path, tmp_path: Path) -> None:
    closing = run("session", "show", watch).last_line
    ran = run("session", "export", watch, "-o", tmp_path / "out")
    assert (ran.status, ran.err) == (0, "")
    assert f"exported to {tmp_path / 'out'}; description.json says" in ran.last_line
    with (tmp_path / "out" / "trials.csv").open(encoding="utf-8", newline="") as file:
        (trial,) = csv.DictReader(file)
    assert closing.startswith(f"counted {trial['counted']} strokes")
    assert f"{trial['counted']} of {trial['strokes']} strokes count in 1 trial" in ran.out
    assert "5 steadying" in ran.out
    told = json.loads((tmp_path / "out" / "description.json").read_text(encoding="utf-8"))
    assert f"{told['tables']['strokes']['rows']:7} rows" in ran.out


def test_nothing_is_ever_written_over(run: Run, watch: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert run("session", "export", watch, "-o", out).status == 0
    before = {path: path.read_bytes() for path in out.iterdir()}
    ran = run("session", "export", watch, "-o", out)
    assert (ran.status, ran.out) == (2, "")
    assert "exists already and was left as it is" in ran.err
    assert {path: path.read_bytes() for path in out.iterdir()} == before


def test_what_is_no_recording_is_refused_and_leaves_nothing(run: Run, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for name, words in (("empty", "is not a session"), ("none", "There is no session folder")):
        ran = run("session", "export", tmp_path / name, "-o", tmp_path / "out")
        assert (ran.status, ran.out) == (2, "")
        assert words in ran.err
        assert not (tmp_path / "out").exists()


def test_parquet_without_its_library_is_refused_before_any_work(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    ran = run("session", "export", tmp_path / "none", "-o", tmp_path / "out", "--parquet")
    assert ran.status == 2
    assert "pip install 'posewatch[parquet]'" in ran.err


def test_a_visit_is_exported_by_codes_and_stamped(run: Run, watch: Path, tmp_path: Path) -> None:
    visit = VisitMaker(tmp_path).visit("visit", watch)
    ran = run("session", "export", visit, "-o", tmp_path / "out")
    assert (ran.status, ran.err) == (0, "")
    for stamp in ("indication only", "the data of visit 1 are not locked yet"):
        assert f"[{stamp}]" in ran.out
    assert "in 5 trials" in ran.out
    assert (tmp_path / "out" / "ratings.csv").is_file()


def test_names_are_added_only_after_the_logged_reveal(
    run: Run, watch: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = VisitMaker(tmp_path)
    reveal = Revealed(0, "the fitter", "all is done", True, made.sealed.sha256)
    before = made.visit("before", watch)
    after = made.visit("after", watch, (reveal,))
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{PASSPHRASE}\n"))
    more = ("--code-list", made.codes_path)
    ran = run("session", "export", before, "-o", tmp_path / "out", *more)
    assert ran.status == 2
    assert "were not revealed yet" in ran.err
    assert not (tmp_path / "out").exists()
    ran = run("session", "export", after, "-o", tmp_path / "out", *more)
    assert ran.status == 0
    assert not any(name in ran.out for name in NAMES)
    items = (tmp_path / "out" / "items.csv").read_text(encoding="utf-8")
    assert all(name in items for name in NAMES)
    monkeypatch.setattr(sys, "stdin", io.StringIO("another\n"))
    ran = run("session", "export", after, "-o", tmp_path / "out2", *more)
    assert ran.status == 2
    assert "That is not the passphrase" in ran.err
    assert not (tmp_path / "out2").exists()


def test_a_recording_that_cannot_be_noted_in_is_exported_and_told(
    run: Run, watch: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("posewatch.export.exporting.note_derived", refuse)
    ran = run("session", "export", watch, "-o", tmp_path / "out")
    assert ran.status == 0
    assert "not noted in the recording" in ran.out
    assert (tmp_path / "out" / "strokes.csv").is_file()
