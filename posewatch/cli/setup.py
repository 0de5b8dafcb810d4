"""What every command does first: settings, the log, and quiet native libraries."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

from posewatch.cli.screen import errors
from posewatch.errors import BadInput
from posewatch.pose.bundles import SHIPPED_MODELS
from posewatch.runtime.native_noise import native_noise_to
from posewatch.store.logbook import start_log
from posewatch.store.settings import Settings, load_settings

NATIVE_LOG_BYTES = 2_000_000


@contextmanager
def begin(options: Mapping[str, object] | None = None) -> Iterator[Settings]:
    """Give the settings in force; until the end, native log lines go into the log's folder.

    options: values that go before the settings file's, None = not given.

    Raises:
        BadInput: the settings cannot be used.
    """
    settings = load_settings(_with_full_model_path(options or {}))
    logbook = start_log(settings)
    if logbook.note:
        errors.print(logbook.note, markup=False, soft_wrap=True)
    quiet = nullcontext() if logbook.path is None else native_noise_to(_native_log(logbook.path))
    with quiet:
        yield settings


def _native_log(log: Path) -> Path:
    """Return the file for native log lines, beside the log; a full one is put away first."""
    path = log.with_name("native.log")
    with suppress(OSError):  # not there yet, or another run is writing to it
        if path.stat().st_size > NATIVE_LOG_BYTES:
            path.replace(log.with_name("native.log.1"))
    return path


def require_new_file(path: Path | None) -> None:
    """Refuse a file that could not be written, before any work is done for it; None passes.

    Raises:
        BadInput: something has that name already, or its folder is missing.
    """
    if path is None:
        return
    if path.exists():
        raise BadInput(
            f"{path} exists already and was left as it is.", "Give another name, or remove it."
        )
    if not path.parent.is_dir():
        raise BadInput(
            f"{path} cannot be written: there is no folder {path.parent}.",
            "Name a file in an existing folder.",
        )


def _with_full_model_path(options: Mapping[str, object]) -> Mapping[str, object]:
    """Return the options with a model's path seen from the folder the command was given in."""
    model = options.get("model")
    if not isinstance(model, str) or model in SHIPPED_MODELS:
        return options
    return dict(options) | {"model": str(Path(model).expanduser().absolute())}
