"""``posewatch demo``: its table, and the folder it may use."""

from __future__ import annotations

import io
import sys
from base64 import b64encode
from collections.abc import Iterator
from pathlib import Path

import pytest
from command_runs import Run

from posewatch import demo
from posewatch.demo import Reference, Ride
from posewatch.demo_visit import ITEMS


def test_it_shows_what_counted_and_what_was_refused(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(demo, "REFERENCES", (Reference("hoods_reference", "hoods"),))
    rides = (
        Ride("empty_bike", "hoods_reference", "nobody"),
        Ride("left_side_steady", "hoods_reference", "refused"),
    )
    monkeypatch.setattr(demo, "RIDES", rides)
    for name in ("posewatch-demo", "posewatch-demo-2"):
        ran = run("demo", "--recorded")
        assert (ran.status, ran.err) == (0, "")
        assert "0 strokes, 0.0 s" in ran.out
        assert "left_side_steady was refused: " in ran.out
        assert ran.last_line == f"Pictures, targets and sessions are in {tmp_path / name}"
        found = sorted(path.name for path in (tmp_path / name).iterdir())
        assert found == ["empty_bike.png", "sessions", "targets"]
    refused = run("demo", "--out", "posewatch-demo")
    assert refused.status == 2
    assert "exists already and was left as it is" in refused.err


def test_a_whole_visit_by_one_command(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "demo"
    ran = run("demo", "--visit", "--out", folder)
    assert (ran.status, ran.err) == (0, "")
    assert "counted 80 strokes in 8 trials of 4 mountings" in ran.out
    assert "with the passphrase " in ran.last_line
    for name in ("plan.json", "codes.sealed.json", "targets", "visit"):
        assert (folder / name).exists()
    checked = run("session", "check", folder / "visit")
    assert checked.status == 0
    passphrase = ran.last_line.split()[-1]
    exported = run("session", "export", folder / "visit", "-o", tmp_path / "open")
    listed, shown = run("session", "list", folder), run("session", "show", folder / "visit")
    _require_concealed(
        passphrase,
        *(ran.out.replace(passphrase, ""), checked.out, exported.out, listed.out, shown.out),
        *_files(tmp_path),
        *_files(Path.home()),
    )
    assert run("codes", "lock", "--session", folder / "visit", "--who", "me").status == 0
    monkeypatch.setattr(sys, "stdin", io.StringIO(f"{passphrase}\n"))
    opened = run(
        *("codes", "reveal", folder / "codes.sealed.json", "--session", folder / "visit"),
        *("--who", "me", "--why", "to see"),
    )
    assert opened.status == 0
    assert "Ostrel" in opened.out


def _files(folder: Path) -> Iterator[str]:
    """Give all that a folder's files say, their names included: records, exports, the log."""
    for path in folder.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            yield f"{path.relative_to(folder)} {data.decode('utf-8', 'replace')}"
            yield data.decode("utf-16-le", "replace")


def _require_concealed(passphrase: str, *texts: str) -> None:
    """Nothing says an item's name, plainly or coded, or the passphrase."""
    assert any("posewatch.log" in text for text in texts)
    assert any("Demo crank" in text for text in texts)
    secrets = [passphrase]
    for one in ITEMS:
        name = one.name.encode()
        secrets += [one.name, name.hex(), b64encode(name).decode()]
    for text in texts:
        said = text.casefold()
        assert not [secret for secret in secrets if secret.casefold() in said], text[:200]
