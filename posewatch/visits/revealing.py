"""The data lock and the reveal: acts on all visits of a comparison at once, kept before shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from posewatch.errors import BadInput
from posewatch.store.sealed_codes import open_sealed
from posewatch.store.sealed_document import SealedCodes
from posewatch.store.settings import Settings
from posewatch.trials.acts import DataLocked, Revealed
from posewatch.trials.code_list import CodeList
from posewatch.trials.concealment import Refusal, Reveal, decide_reveal
from posewatch.trials.conduct import step
from posewatch.visits.left_visits import look_at
from posewatch.visits.visit import Visit


def lock_data(folders: Sequence[Path], who: str, settings: Settings) -> None:
    """Lock the data of visits: nothing that counts is changed after it.

    Raises:
        BadInput: nobody is named, or a visit cannot be locked; then none is.
    """
    if not who.strip():
        raise BadInput("It is not said who locks the data.", "Name the person.")
    for looked in map(look_at, dict.fromkeys(folders)):
        try:
            step(looked.header.plan, looked.state, DataLocked(0, who.strip()))
        except BadInput as error:
            raise BadInput(
                f"{looked.folder} cannot be locked. {error.what}", error.advice
            ) from error
    with _opened(folders, settings) as visits:
        for visit in visits:
            visit.do(DataLocked(visit.clock.now_ns, who.strip()))


def reveal(
    sealed: SealedCodes,
    ask_passphrase: Callable[[], str],
    folders: Sequence[Path],
    who: str,
    why: str,
    forced: bool,
    settings: Settings,
) -> tuple[Reveal, CodeList]:
    """Open a code list, once the act stands in the record of every visit.

    ask_passphrase: is called once nothing else stands against it. folders: of all visits that were
    ridden with it; none = only the file is at hand, which takes ``forced``.

    Raises:
        BadInput: refused, the passphrase is wrong, or the file was altered; nothing is recorded.
    """
    at_utc = datetime.now(UTC).isoformat(timespec="seconds")
    looked = [look_at(folder) for folder in dict.fromkeys(folders)]
    published: set[str | None] = {visit.header.sealed_sha256 for visit in looked}
    locked = bool(looked) and all(visit.state.locked is not None for visit in looked)
    for one in published or {None}:
        decided = decide_reveal(
            who, why, at_utc, sealed.sha256, published=one, locked=locked, forced=forced
        )
        if isinstance(decided, Refusal):
            raise BadInput(decided.what, decided.advice)
    assert isinstance(decided, Reveal)
    opened = open_sealed(sealed, ask_passphrase())
    with _opened(folders, settings) as visits:
        for visit in visits:
            visit.do(
                Revealed(
                    visit.clock.now_ns, decided.who, decided.why, decided.forced, decided.sha256
                )
            )
    return decided, opened


@contextmanager
def _opened(folders: Sequence[Path], settings: Settings) -> Iterator[list[Visit]]:
    with ExitStack() as stack:
        visits = []
        for folder in dict.fromkeys(folders):
            visit = Visit.go_on(folder, settings)
            stack.callback(visit.close)
            visits.append(visit)
        yield visits
