"""Native log lines go into a file; Python's own words stay on the terminal.

Each case runs in a process of its own, since standard error is the process's.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from posewatch.runtime.native_noise import native_noise_to

PROLOGUE = """
import os, sys
from pathlib import Path
from posewatch.runtime.native_noise import native_noise_to
noise = Path(sys.argv[1])
"""


def run(tmp_path: Path, program: str) -> tuple[str, str, str]:
    """Return (standard output, standard error, noise file)."""
    noise = tmp_path / "noise.log"
    done = subprocess.run(
        [sys.executable, "-c", PROLOGUE + program, str(noise)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    return done.stdout, done.stderr, noise.read_text()


def test_native_lines_go_to_the_file_and_pythons_to_the_terminal(tmp_path: Path) -> None:
    _, err, noise = run(
        tmp_path,
        """
os.write(2, b"native before\\n")
with native_noise_to(noise):
    os.write(2, b"native inside\\n")
    print("python inside \\u00e9", file=sys.stderr)
os.write(2, b"native after\\n")
print("python after", file=sys.stderr)
""",
    )
    assert err == "native before\npython inside é\nnative after\npython after\n"
    assert noise == "native inside\n"


def test_everything_is_restored_when_the_block_fails(tmp_path: Path) -> None:
    out, err, noise = run(
        tmp_path,
        """
before, open_before = sys.stderr, set(os.listdir("/dev/fd")) if os.name == "posix" else set()
try:
    with native_noise_to(noise):
        raise KeyError("x")
except KeyError:
    os.write(2, b"native after\\n")
open_after = set(os.listdir("/dev/fd")) if os.name == "posix" else set()
print(sys.stderr is before, len(open_after) - len(open_before))
""",
    )
    assert (out, err, noise) == ("True 0\n", "native after\n", "")


def test_a_second_run_appends(tmp_path: Path) -> None:
    _, err, noise = run(
        tmp_path,
        """
for number in (1, 2):
    with native_noise_to(noise):
        os.write(2, b"native %d\\n" % number)
""",
    )
    assert (err, noise) == ("", "native 1\nnative 2\n")


def test_nested_blocks_give_back_what_they_found(tmp_path: Path) -> None:
    _, err, noise = run(
        tmp_path,
        """
inner = noise.with_name("inner.log")
with native_noise_to(noise):
    with native_noise_to(inner):
        os.write(2, b"inner\\n")
        print("python inner", file=sys.stderr)
    os.write(2, b"outer\\n")
    print("python outer", file=sys.stderr)
assert inner.read_text() == "inner\\n"
""",
    )
    assert (err, noise) == ("python inner\npython outer\n", "outer\n")


@pytest.mark.parametrize("python_knows", [True, False], ids=["stderr is None", "descriptor only"])
def test_closed_standard_error_stays_closed(tmp_path: Path, python_knows: bool) -> None:
    """With the lowest descriptors taken too, the file itself lands on descriptor 2."""
    out, err, noise = run(
        tmp_path,
        f"""
if {python_knows}:
    sys.stderr = None
os.close(2)
with native_noise_to(noise):
    os.write(2, b"native\\n")
try:
    os.write(2, b"lost\\n")
except OSError:
    print("closed")
if not {python_knows}:
    sys.stderr = None
""",
    )
    assert (out, err, noise) == ("closed\n", "", "native\n")


def test_a_closed_descriptor_that_the_file_does_not_take(tmp_path: Path) -> None:
    out, err, noise = run(
        tmp_path,
        """
sys.stderr = None
os.close(2)
os.close(0)
with native_noise_to(noise):
    os.write(2, b"native\\n")
try:
    os.write(2, b"lost\\n")
except OSError:
    print("closed")
""",
    )
    assert (out, err, noise) == ("closed\n", "", "native\n")


def test_a_late_writer_to_the_old_stream_hits_no_foreign_file(tmp_path: Path) -> None:
    out, _, _ = run(
        tmp_path,
        """
with native_noise_to(noise):
    held = sys.stderr
try:
    held.write("too late")
except ValueError:
    print("refused")
""",
    )
    assert out == "refused\n"


def test_a_capturing_stream_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    capturing = io.StringIO()
    monkeypatch.setattr(sys, "stderr", capturing)
    noise = tmp_path / "noise.log"
    with native_noise_to(noise):
        assert sys.stderr is capturing
        os.write(2, b"native\n")
        print("python", file=sys.stderr)  # noqa: T201 - what is tested
    assert capturing.getvalue() == "python\n"
    assert noise.read_text() == "native\n"


def test_a_file_that_cannot_be_opened_switches_nothing(tmp_path: Path) -> None:
    before = sys.stderr
    with pytest.raises(OSError, match="missing"), native_noise_to(tmp_path / "missing" / "a.log"):
        pass
    assert sys.stderr is before
