"""Settings: defaults, then the file, then what a command was given; all of it checked."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from posewatch.errors import BadInput
from posewatch.store.settings import (
    Settings,
    create_settings_file,
    load_settings,
    render_settings,
    settings_path,
)


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "mine.toml"
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(path))
    return path


def test_without_a_file_the_defaults_hold_and_none_is_made(tmp_path: Path) -> None:
    found = load_settings()
    assert found == Settings()
    assert (found.model, found.sit_in_s, found.goal_strokes, found.log_level) == (
        *("full", 30.0),
        *(60, "info"),
    )
    assert found.data_folder == tmp_path / "home" / "user_data_path"
    assert list(tmp_path.iterdir()) == []


def test_the_file_goes_before_defaults_and_options_before_the_file(file: Path) -> None:
    file.write_text('sit_in_s = 5\nmodel = "lite"\n', encoding="utf-8")
    found = load_settings({"model": "full", "goal_strokes": None, "log_level": "debug"})
    assert (found.sit_in_s, found.model, found.goal_strokes) == (5.0, "full", 60)
    assert found.log_level == "debug"


def test_home_is_understood(file: Path) -> None:
    file.write_text('data_folder = "~/rides"\nmodel = "~/m.task"\n', encoding="utf-8")
    assert load_settings().data_folder == Path.home() / "rides"
    assert load_settings().model == str(Path.home() / "m.task")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("sitin_s = 3", "no setting 'sitin_s'"),
        ("[camera]\nrate = 3", "no setting 'camera'"),
        ('sit_in_s = "3"', "sit_in_s cannot be '3'"),
        ("sit_in_s = -1", "sit_in_s cannot be -1"),
        ("sit_in_s = nan", "sit_in_s cannot be nan"),
        ("sit_in_s = true", "sit_in_s cannot be True"),
        ("sit_in_s = 601", "0 to 600"),
        ("goal_strokes = 0", "1 to 100000"),
        ("goal_strokes = 6.5", "goal_strokes cannot be 6.5"),
        ('model = "ful"', '"lite", "full"'),
        ('model = "m.task"', "full path"),
        ('data_folder = "rides"', "a full path"),
        ("data_folder = 3", "a full path"),
        ('log_level = "loud"', '"debug", "info"'),
        ("sit_in_s = ", "is not TOML"),
    ],
)
def test_what_is_wrong_is_named_with_the_file_and_what_is_allowed(
    file: Path, line: str, said: str
) -> None:
    file.write_text(line, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        load_settings()
    message = str(caught.value)
    assert said in message
    assert str(file) in message
    assert "\n" not in message


def test_a_wrong_option_is_not_blamed_on_the_file(file: Path) -> None:
    file.write_text("sit_in_s = 5", encoding="utf-8")
    with pytest.raises(BadInput, match="the options given: sit_in_s cannot be -2"):
        load_settings({"sit_in_s": -2.0})


def test_a_file_named_but_missing_or_unreadable_is_an_error(file: Path) -> None:
    with pytest.raises(BadInput, match=r"There is no settings file .*POSEWATCH_SETTINGS"):
        load_settings()
    file.write_bytes(b"\xff")
    with pytest.raises(BadInput, match="cannot be read"):
        load_settings()


def test_the_template_is_the_defaults_with_a_comment_each(tmp_path: Path) -> None:
    path = create_settings_file()
    assert path == settings_path() == tmp_path / "home" / "user_config_path" / "settings.toml"
    assert load_settings() == Settings()
    lines = path.read_text(encoding="utf-8").splitlines()
    for name, field in Settings.model_fields.items():
        (at,) = (k for k, line in enumerate(lines) if line.startswith(f"{name} = "))
        assert lines[at - 1] == f"# {field.description}"
    with pytest.raises(BadInput, match="exists already"):
        create_settings_file()


def test_a_template_that_cannot_be_written_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("POSEWATCH_SETTINGS", str(tmp_path / "file" / "settings.toml"))
    with pytest.raises(BadInput, match="cannot be written"):
        create_settings_file()


@given(
    folder=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
    sit_in_s=st.floats(0, 600),
    goal_strokes=st.integers(1, 100_000),
)
@hypothesis_settings(max_examples=50, deadline=None)
def test_the_rendered_text_is_toml_with_the_same_values(
    folder: str, sit_in_s: float, goal_strokes: int
) -> None:
    kept = Settings(data_folder=Path.home() / folder, sit_in_s=sit_in_s, goal_strokes=goal_strokes)
    assert Settings.model_validate(tomllib.loads(render_settings(kept))) == kept
