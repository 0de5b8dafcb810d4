"""``posewatch codes``: items are named once, and nothing but the passphrase gets the names back."""

from __future__ import annotations

import hashlib
import io
import os
import re
import select
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from command_runs import Ran, Run
from made_codes import CHEAP, DESCRIPTIONS, NAMES

from posewatch.cli import app
from posewatch.store import sealed_codes
from posewatch.store.plan_file import write_plan
from posewatch.trials.code_list import CODE_PATTERN
from posewatch.trials.concealment import EARLY_STAMP, names_in
from posewatch.trials.plan import Design, make_plan
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind

SECRETS = [*NAMES, *filter(None, DESCRIPTIONS)]
LINES = "".join(f"{name} | {more}\n" for name, more in zip(NAMES, DESCRIPTIONS, strict=True))


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sealed_codes, "seal", partial(sealed_codes.seal, n=CHEAP))
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.json"
    design = Design(
        *(ComparisonKind.SHORTS, None, ConcealmentLevel.ITEM_COVERED, "r17", "road", 3, 2, 1),
        *(("hoods",), OrderKind.RANDOMISED_BLOCKS, 7),
    )
    write_plan(make_plan(design), path)
    return path


@pytest.fixture
def typed(run: Run, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run ``posewatch``; the first argument is what comes from standard input."""

    def command(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "stdin", io.StringIO(str(arguments[0])))
        return run(*arguments[1:])

    return command


def seal(typed: Run, plan: Path, *more: object, lines: str = LINES) -> Ran:
    return typed(lines, "codes", "seal", "--plan", plan, "-o", "c.json", "--items", "-", *more)


def passphrase_in(ran: Ran) -> str:
    found = re.search(r"^passphrase  (\S+)$", ran.out, re.MULTILINE)
    assert found
    return found[1]


def nothing_on_disk(*folders: Path) -> None:
    """No file, by its name or contents in the usual codings, holds a name or description."""
    n_files = 0
    for folder in (*folders, Path(os.environ["HOME"])):
        for path in folder.rglob("*"):
            n_files += path.is_file()
            data = path.read_bytes() if path.is_file() else b""
            for coding in ("utf-8", "latin-1", "utf-16-le", "utf-16-be"):
                text = f"{path} {data.decode(coding, 'ignore')}"
                assert names_in(text, SECRETS) == (), path
    assert n_files >= 2


def test_sealed_checked_and_revealed(typed: Run, plan: Path, tmp_path: Path) -> None:
    ran = seal(typed, plan)
    assert ran.status == 0
    assert names_in(ran.out + ran.err, SECRETS) == ()
    codes = re.findall(r"^item \d of the plan  (\S+)$", ran.out, re.MULTILINE)
    assert len(codes) == 3
    assert all(re.fullmatch(CODE_PATTERN, code) for code in codes)
    published = hashlib.sha256(Path("c.json").read_bytes()).hexdigest()
    assert f"SHA-256  {published}\n" in ran.out
    assert ran.err.startswith("Which label goes onto which item is shown on a terminal only")
    nothing_on_disk(tmp_path)
    for path in (Path("c.json"), plan, *Path(os.environ["HOME"]).rglob("*.log*")):
        assert passphrase_in(ran) not in path.read_text(encoding="utf-8")

    checked = typed("", "codes", "check", "c.json", "--sha256", published, "--plan", plan)
    assert (checked.status, checked.err) == (0, "")
    assert ", ".join(codes) in checked.out
    assert "the published one" in checked.out
    assert "it belongs to " in checked.out

    opened = typed(
        f"the fitter\nall is done\n{passphrase_in(ran)}\n", "codes", "reveal", "c.json", "--force"
    )
    assert (opened.status, opened.err) == (0, "")
    assert EARLY_STAMP in opened.out
    shown = [line for line in opened.out.splitlines() if line[:2] in codes]
    assert [line[:2] for line in shown] == codes
    assert {names_in(line, NAMES) for line in shown} == {(0,), (1,), (2,)}
    for line in shown:
        (place,) = names_in(line, NAMES)
        assert f"({'ABC'[place]} on the rider's card)" in line
    logs = "".join(p.read_text("utf-8") for p in Path(os.environ["HOME"]).rglob("posewatch.log"))
    assert (
        f"revealed c.json, SHA-256 {published}, by the fitter: all is done; {EARLY_STAMP}" in logs
    )
    nothing_on_disk(tmp_path)


def test_labels_are_printed_when_asked_for(typed: Run, plan: Path, tmp_path: Path) -> None:
    ran = seal(typed, plan, "--labels")
    assert (ran.status, ran.err) == (0, "")
    shown = re.findall(r"^  label (\S+) goes onto ([ABC]), (.*)$", ran.out, re.MULTILINE)
    assert [(card, words) for _, card, words in shown] == [
        ("A", "Quaggy Pad, vermilion, 12 mm"),
        ("B", "Zebu-Gel"),
        ("C", "Yurt foam 9, with a groove"),
    ]
    in_order = re.findall(r"^item \d of the plan  (\S+)$", ran.out, re.MULTILINE)
    assert sorted(code for code, _, _ in shown) == sorted(in_order)
    opened = typed(
        passphrase_in(ran) + "\n",
        *("codes", "reveal", "c.json", "--force", "--who", "x", "--why", "y"),
    )
    for code, card, words in shown:
        assert f"{code}  {words}  ({card} on the rider's card)\n" in opened.out
    nothing_on_disk(tmp_path)


def test_names_and_a_passphrase_of_one_s_own_are_asked_for(typed: Run, plan: Path) -> None:
    said = "five words of my own\n" * 2 + LINES
    ran = typed(said, "codes", "seal", "--plan", plan, "-o", "c.json", "--own-passphrase")
    assert ran.status == 0
    assert "shown this once" not in ran.out
    assert "five words" not in ran.out + ran.err
    assert names_in(ran.out + ran.err, SECRETS) == ()
    opened = typed(
        "five words of my own\n",
        *("codes", "reveal", "c.json", "--force", "--who", "x", "--why", "y"),
    )
    assert opened.status == 0


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("Quaggy Pad\nZebu-Gel\n", "The plan compares 3 items, and 2 are named."),
        (LINES + "Another one\n", "The plan compares 3 items, and 4 are named."),
        ("", "The plan compares 3 items, and 0 are named."),
        ("Quaggy Pad\nZebu-Gel\nQUAGGY pad\n", "Items A and C have the same name."),
        ("Quaggy Pad\nZebu-Gel\n---\n", "Item C: its name has no letter or digit."),
        ("Quaggy Pad\nshorts\nRoad\n", "holds the name of item B, C, and would give it away"),
        ("Quaggy Pad\nZebu-Gel\nc.json\n", "holds the name of item C, and would give it away"),
    ],
)
def test_names_that_cannot_be_seal_nothing_and_are_not_repeated(
    typed: Run, plan: Path, tmp_path: Path, lines: str, said: str
) -> None:
    ran = seal(typed, plan, lines=lines)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert ran.err.count("\n") == 1
    assert names_in(ran.err, SECRETS) == ()
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]
    nothing_on_disk(tmp_path)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--items", "Quaggy Pad"), "Names of items do not belong on the command line"),
        (("--items", "-", "--own-passphrase"), "cannot both come from standard input"),
        (("--items", "-", "-o", "plan.json"), "exists already and was left as it is"),
        (("--items", "-", "--plan", "gone.json"), "There is no plan file gone.json"),
    ],
)
def test_what_was_asked_for_cannot_be(
    typed: Run, plan: Path, tmp_path: Path, options: tuple[str, ...], said: str
) -> None:
    ran = typed(LINES, "codes", "seal", "--plan", plan, "-o", "c.json", *options)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]
    nothing_on_disk(tmp_path)


def test_a_byte_order_mark_and_empty_lines_are_no_names(typed: Run, plan: Path) -> None:
    assert seal(typed, plan, lines="\ufeff" + LINES.replace("\n", "\n\n")).status == 0


def test_an_existing_list_stays_as_it_is(typed: Run, plan: Path) -> None:
    assert seal(typed, plan).status == 0
    before = Path("c.json").read_bytes()
    assert "exists already" in seal(typed, plan).err
    assert Path("c.json").read_bytes() == before


def test_altered_another_and_wrong_are_told_apart(typed: Run, plan: Path, tmp_path: Path) -> None:
    ran = seal(typed, plan)
    reveal = ("codes", "reveal", "c.json", "--force", "--who", "x", "--why", "y")
    wrong = typed("not the passphrase\n", *reveal)
    assert (wrong.status, wrong.err.count("\n")) == (2, 1)
    assert "That is not the passphrase of c.json; the file itself is intact." in wrong.err
    assert (
        "is not the published file"
        in typed("", "codes", "check", "c.json", "--sha256", "0" * 64).err
    )
    assert "is not the published file" in typed("", *reveal, "--sha256", "0" * 64).err
    other = tmp_path / "other.json"
    other.write_bytes(plan.read_bytes() + b"\n")
    assert "sealed for another plan" in typed("", "codes", "check", "c.json", "--plan", other).err
    data = Path("c.json").read_bytes()
    Path("c.json").write_bytes(data.replace(b'"n": 16', b'"n": 32'))
    for command in (("codes", "check", "c.json"), reveal):
        altered = typed(passphrase_in(ran) + "\n", *command)
        assert (altered.status, altered.err.count("\n")) == (2, 1)
        assert "c.json was altered or damaged since it was sealed" in altered.err


def test_a_reveal_without_the_lock_or_a_reason_is_refused(typed: Run, plan: Path) -> None:
    ran = seal(typed, plan)
    refused = typed(passphrase_in(ran) + "\n", "codes", "reveal", "c.json")
    assert (refused.status, refused.out) == (2, "")
    assert "nothing says that its data are locked" in refused.err
    options = ("--force", "--who", "x", "--why", " ")
    refused = typed(passphrase_in(ran) + "\n", "codes", "reveal", "c.json", *options)
    assert (refused.status, refused.out) == (2, "")
    assert "It is not said why." in refused.err


@pytest.mark.parametrize("command", ["", "seal", "check", "lock", "reveal"])
def test_help(run: Run, command: str) -> None:
    assert f"Usage: posewatch codes {command}".strip() in run("codes", *command.split(), "-h").out


def test_a_crash_shows_no_names(plan: Path) -> None:
    """Some libraries print the values of variables under a traceback."""
    assert app.pretty_exceptions_enable is False
    program = f"""
import sys
from posewatch.cli import main
from posewatch.store import sealed_codes
def crash(made, passphrase):
    names = [slot.item.name for slot in made.slots]
    raise RuntimeError(f"no room for {{made!r}}")
sealed_codes.seal = crash
sys.argv = ["posewatch", "codes", "seal", "--plan", {str(plan)!r}, "-o", "c.json", "--items", "-"]
main()
"""
    done = subprocess.run(
        [sys.executable, "-c", program], input=LINES, capture_output=True, text=True
    )
    assert done.returncode == 1
    assert "RuntimeError: no room for CodeList(slots=(CodedItem(code=" in done.stderr
    assert names_in(done.stdout + done.stderr, SECRETS) == ()
    nothing_on_disk(plan.parent)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals of this kind")
def test_on_a_terminal_names_are_only_on_a_screen_of_their_own(plan: Path) -> None:
    ours, theirs = os.openpty()
    command = [sys.executable, "-c", "from posewatch.cli import main; main()", "codes", "seal"]
    with subprocess.Popen(
        [*command, "--plan", plan, "-o", "c.json"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=os.environ | {"TERM": "xterm"},
    ) as program:
        os.close(theirs)
        shown = b""
        for prompt, answer in (
            *((f"Item {letter}", name) for letter, name in zip("ABC", NAMES, strict=True)),
            ("Enter when all labels are on", ""),
        ):
            shown = _read_until(ours, shown, prompt.encode())
            os.write(ours, f"{answer}\n".encode())
        shown = _read_until(ours, shown, None)
    os.close(ours)
    assert program.returncode == 0
    # Private mode 1049 of xterm's control sequences: the alternate screen, without scroll-back.
    there, back = b"\x1b[?1049h", b"\x1b[?1049l"
    outside = re.sub(re.escape(there) + b".*?" + re.escape(back), b"", shown, flags=re.DOTALL)
    assert shown.count(there) == shown.count(back) == 2
    assert names_in(shown.decode(), NAMES) == (0, 1, 2)
    assert names_in(outside.decode(), NAMES) == ()
    assert b"label" not in outside
    assert b"passphrase  " in outside


def _read_until(terminal: int, shown: bytes, prompt: bytes | None) -> bytes:
    """Return what was shown up to a prompt, None = up to the program's end."""
    while prompt is None or prompt not in shown:
        assert select.select([terminal], [], [], 30.0)[0], shown
        try:
            data = os.read(terminal, 4096)
        except OSError:
            data = b""
        if not data:
            assert prompt is None, shown
            break
        shown += data
    return shown
