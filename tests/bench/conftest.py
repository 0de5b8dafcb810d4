"""The shipped clips' recorded landmarks, scored once for all tests of this folder."""

from __future__ import annotations

import pytest

from posewatch.bench.accuracy import Scored, score_clips


@pytest.fixture(scope="session")
def scored() -> dict[str, Scored]:
    scored, refused = score_clips(None, lambda *_: None)
    assert not refused
    return scored
