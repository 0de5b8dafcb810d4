"""What is agreed to names all that it must, and the log's line names no person."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta, timezone
from pathlib import Path

from posewatch.store.consent import (
    CAUTIONS,
    CONSENT_VERSION,
    VIDEO_VERSION,
    consent_mark,
    consent_text,
    video_mark,
    video_text,
)

#: A change of the text needs another version, and then another digest here.
DIGEST = {1: "4931b54b2ae3", 2: "d1f4009d4854", 3: "bc9b86aff4ca"}
VIDEO_DIGEST = {1: "0c85c129272e"}


def test_the_text_says_what_where_who_and_how_to_delete() -> None:
    text = consent_text(Path("data"))
    said = " ".join(f"{one.title} {one.text}" for one in text)
    for word in (
        *("landmarks", "angles", "times", "Video is off", str(Path("data") / "sessions")),
        *("nothing leaves this machine", "session delete", "beforehand"),
    ):
        assert word in said


def test_another_text_is_another_version() -> None:
    said = "\n".join(
        f"{one.title}\n{one.text.replace(str(Path('data')), 'data')}"
        for one in consent_text(Path("data"))
    ).replace("\\", "/")
    assert hashlib.sha256(said.encode()).hexdigest()[:12] == DIGEST[CONSENT_VERSION]


def test_the_mark_has_version_code_and_time() -> None:
    given = datetime(2025, 3, 1, 10, 11, 12, 999, timezone(timedelta(hours=1)))
    assert consent_mark("r17", given) == "consent v3 given by r17 2025-03-01T10:11:12+01:00"


def test_cautions_name_stop_and_consent() -> None:
    said = " ".join(CAUTIONS)
    assert "Stop at pain" in said
    assert "must have agreed" in said


def test_a_video_is_agreed_to_in_words_of_its_own() -> None:
    blurred, plain = video_text(True), video_text(False)
    for text in (blurred, plain):
        assert "every picture that is watched" in text
        assert "session delete --video" in text
        assert "what is on the bike" in text
    assert "other people's faces are not hidden" in blurred
    assert "can be recognised" in plain
    said = f"{blurred}\n{plain}"
    assert hashlib.sha256(said.encode()).hexdigest()[:12] == VIDEO_DIGEST[VIDEO_VERSION]


def test_the_mark_of_a_video_says_what_is_done_to_faces() -> None:
    given = datetime(2025, 3, 1, 10, 11, 12, tzinfo=timezone(timedelta(hours=1)))
    said = "video v1 agreed to by r17 2025-03-01T10:11:12+01:00, faces"
    assert video_mark("r17", given, True) == f"{said} blurred"
    assert video_mark("r17", given, False) == f"{said} not blurred"
