"""``posewatch session`` and ``posewatch replay`` on what is no session."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import Run


@pytest.mark.parametrize("command", [("session", "show"), ("replay",)])
@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("none", "There is no session folder"),
        ("empty", "is not a session: it holds no session.sqlite"),
        ("file", "There is no session folder"),
        ("garbage", "cannot be read"),
    ],
)
def test_a_folder_that_is_no_session(
    run: Run, tmp_path: Path, command: tuple[str, ...], name: str, message: str
) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("x", encoding="utf-8")
    (tmp_path / "garbage").mkdir()
    (tmp_path / "garbage" / "session.sqlite").write_bytes(b"no database" * 500)
    ran = run(*command, tmp_path / name)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err
    assert ran.err.count("\n") == 1
