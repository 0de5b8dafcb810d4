"""Saved targets, as the commands give them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from uuid import uuid4

from command_runs import Run


def names(run: Run) -> list[str]:
    """Return the names in the list of saved targets."""
    return [line.split("  ")[0] for line in run("target", "list").out.splitlines()[1:]]


def saved(run: Run) -> str:
    """Return the names in the list, one a line, or what is said where there are none."""
    out = run("target", "list").out
    return out if out.startswith("no targets") else "".join(f"{name}\n" for name in names(run))


def document_of(run: Run, name: str, folder: Path) -> dict[str, Any]:
    """Return a saved target's file."""
    path = folder / f"{uuid4().hex}.json"
    assert run("target", "export", name, path).status == 0
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return document


def channels_of(run: Run, name: str, folder: Path) -> dict[str, dict[str, Any]]:
    """Return a saved target's envelopes by channel."""
    return {one["channel"]: one for one in document_of(run, name, folder)["envelopes"]}
