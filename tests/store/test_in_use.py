"""Who writes a session or visit now."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from posewatch.errors import BadInput
from posewatch.store.in_use import SESSION_LOCK, VISIT_LOCK, is_in_use, let_go, locked

HOLDS_UNTIL_KILLED = """
import sys
from pathlib import Path
from posewatch.store.in_use import locked
lock = locked(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""


@pytest.mark.parametrize("name", [SESSION_LOCK, VISIT_LOCK])
def test_a_lock_says_that_a_folder_is_in_use_until_it_is_let_go(tmp_path: Path, name: str) -> None:
    assert not is_in_use(tmp_path)
    lock = locked(tmp_path / name)
    assert is_in_use(tmp_path)
    with pytest.raises(BadInput, match="Another program is at work on"):
        locked(tmp_path / name)
    let_go(lock)
    let_go(lock)
    assert not is_in_use(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_program_that_is_killed_holds_nothing_any_more(tmp_path: Path) -> None:
    path = tmp_path / SESSION_LOCK
    child = subprocess.Popen(
        [sys.executable, "-c", HOLDS_UNTIL_KILLED, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    with child:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == b"held"
        assert is_in_use(tmp_path)
        child.kill()
    assert not is_in_use(tmp_path)
    let_go(locked(path))


def test_a_lock_that_cannot_be_made_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(BadInput, match="cannot be written to"):
        locked(tmp_path / "file" / SESSION_LOCK)
