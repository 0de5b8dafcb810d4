"""``posewatch watch --lsl``."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from command_runs import Run


def test_a_watch_faster_than_life_sends_no_stream(
    run: Run, reference_recording: Path, target_file: Path, tmp_path: Path
) -> None:
    ran = run(
        *("watch", "--source", reference_recording, "--target", target_file),
        *("--session", tmp_path / "s", "--fast", "--lsl"),
    )
    assert (ran.status, ran.out) == (2, "")
    assert "the times of a watch fit no other clock" in ran.err
    assert not (tmp_path / "s").exists()


def test_without_its_library_it_is_told_before_anything_is_watched(
    run: Run,
    reference_recording: Path,
    target_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "pylsl", None)
    ran = run(
        *("watch", "--source", reference_recording, "--target", target_file),
        *("--session", tmp_path / "s", "--headless", "--lsl"),
    )
    assert (ran.status, ran.out) == (2, "")
    assert "pip install 'posewatch[lsl]'" in ran.err
    assert not (tmp_path / "s").exists()


def test_the_stream_hears_the_watch_and_is_closed_with_it(
    run: Run,
    reference_recording: Path,
    target_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sent: list[str] = []
    outlet = SimpleNamespace(push_sample=lambda sample, at_s: sent.extend(sample))
    node = SimpleNamespace(append_child_value=lambda *_: node)
    node.append_child = lambda _: node
    library = SimpleNamespace(
        StreamInfo=lambda *_: SimpleNamespace(desc=lambda: node),
        StreamOutlet=lambda _: outlet,
        local_clock=lambda: 0.0,
        IRREGULAR_RATE=0.0,
        cf_string=3,
    )
    monkeypatch.setitem(sys.modules, "pylsl", library)
    ran = run(
        *("watch", "--source", reference_recording, "--target", target_file),
        *("--session", tmp_path / "s", "--headless", "--lsl", "--end", "0.2"),
    )
    assert ran.status == 0
    assert ran.out.startswith("lab stream: any program in this network can read")
    # Shorter than the second that the clocks are held against each other: sent at the close.
    assert sent == ["hold: steadying @ 0.000 s"]
