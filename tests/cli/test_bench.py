"""``posewatch bench``: tables printed and written."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run

from posewatch.bench import accuracy, faults, speed
from posewatch.bench.tables import Row, as_markdown

GOOD = Row("torso, error SD, a clip with a long name", "0.20 deg", "at most 0.3 deg", True)
BAD = Row("knee", "0.50", "at least 0.85", False)


@pytest.mark.parametrize(("rows", "status"), [([GOOD], 0), ([GOOD, BAD], 1)])
def test_accuracy_prints_and_writes_its_table(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: list[Row], status: int
) -> None:
    monkeypatch.setattr(accuracy, "measure", lambda model, progress: rows)
    page = tmp_path / "accuracy.md"
    ran = run("bench", "accuracy", "--markdown", page)
    assert (ran.status, ran.err) == (status, "")
    assert GOOD.what in ran.out
    assert ("some figures are not reached" in ran.out) == (status == 1)
    assert page.read_text(encoding="utf-8") == f"## recorded landmarks\n\n{as_markdown(rows)}"
    again = run("bench", "accuracy", "--markdown", page)
    assert again.status == 2
    assert "exists already and was left as it is" in again.err


def test_all_models_are_measured_one_after_the_other(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str | None] = []

    def measure(model: str | None, progress: object) -> list[Row]:
        asked.append(model)
        return [GOOD]

    monkeypatch.setattr(accuracy, "measure", measure)
    ran = run("bench", "accuracy", "--all")
    assert (ran.status, asked) == (0, ["lite", "full"])
    assert "model: lite" in ran.out


def test_speed_prints_its_table(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def measure(settings: object, pairs: int, advance: object) -> list[Row]:
        asked.append(pairs)
        return [GOOD]

    monkeypatch.setattr(speed, "measure_speed", measure)
    ran = run("bench", "speed", "--pairs", "2")
    assert (ran.status, asked) == (0, [2])
    assert GOOD.figure in ran.out
    assert run("bench", "speed", "--pairs", "1").status == 2


@pytest.mark.parametrize(("rows", "status"), [([GOOD], 0), ([GOOD, BAD], 1)])
def test_faults_prints_its_table(
    run: Run, monkeypatch: pytest.MonkeyPatch, rows: list[Row], status: int
) -> None:
    asked = []

    def measure(kills: int, seed: int, advance: object) -> list[Row]:
        asked.append((kills, seed))
        return rows

    monkeypatch.setattr(faults, "measure_faults", measure)
    ran = run("bench", "faults", "--kills", "4", "--seed", "7")
    assert (ran.status, ran.err, asked) == (status, "", [(4, 7)])
    assert GOOD.what in ran.out
    assert ("some figures are not reached" in ran.out) == (status == 1)
    assert run("bench", "faults", "--kills", "1").status == 2
