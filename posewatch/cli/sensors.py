"""``posewatch sensors``: find Bluetooth sensors, listen to them, and does Bluetooth work here?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from posewatch.cli import sensors_control

if TYPE_CHECKING:
    from posewatch.core.sensor_choice import SensorChoice, Sighting
    from posewatch.sensing import LiveSensors
    from posewatch.sensors.roster import Survey

app = typer.Typer(
    help="Find Bluetooth sensors, listen to them, zero a meter, let a trainer hold the power."
)

#: A sensor that is read before it is chosen gets so long to answer.
READ_S = 8.0
#: Before listening, names are looked up for so long.
LOOK_UP_S = 4.0
CHECK_S = 4.0
NOBODY = (
    "no sensor was heard: wake them (turn the cranks, wear the strap), bring them nearer, and "
    "close other programs and displays that may have them"
)


@app.command("scan")
def scan(
    seconds: Annotated[float, typer.Option(min=0.5, max=120, help="How long to scan.")] = 6.0,
    read: Annotated[
        bool, typer.Option("--read", help="Connect to each for its battery and values.")
    ] = False,
) -> None:
    """List the sensors that can be heard, the strongest first."""
    from contextlib import closing

    from rich.table import Table

    from posewatch.cli.screen import say, show_table
    from posewatch.cli.setup import begin
    from posewatch.sensing import LiveSensors

    with begin(), closing(LiveSensors()) as sensors:
        seen = _survey(sensors, seconds).seen
        if not seen:
            say(NOBODY)
            return
        table = Table("name", "id", "signal", "services", *(["battery", "values"] if read else []))
        for one in seen:
            table.add_row(*_row(one), *(_read(sensors, one) if read else []))
        show_table(table)
    say('listen to one with: posewatch sensors listen "NAME or id"')


@app.command("listen")
def listen(
    which: Annotated[list[str], typer.Argument(help="Names or ids of sensors, or one recording.")],
    record: Annotated[
        Path | None, typer.Option(help="Record all packets to this new file.")
    ] = None,
    seconds: Annotated[
        float | None, typer.Option(min=0.5, help="Stop after so long; else with Ctrl-C.")
    ] = None,
) -> None:
    """Print what sensors say, decoded, once a second; raw packets can be recorded."""
    from contextlib import closing

    from posewatch.cli.listening import listen_to
    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin, require_new_file
    from posewatch.errors import BadInput
    from posewatch.sensing import LiveSensors
    from posewatch.sensors.replayed import ReplayedSensors
    from posewatch.store.packet_file import is_packet_file, read_packets

    recordings = [word for word in which if is_packet_file(Path(word))]
    if recordings and (len(which) > 1 or record is not None):
        raise BadInput(
            f"{recordings[0]} is a recording.", "Give it alone, without --record, to listen to it."
        )
    require_new_file(record)
    with begin():
        if recordings:
            recording = read_packets(Path(recordings[0]))
            if recording.torn:
                say("note: the last line of the recording was cut off and is left out")
            listen_to(ReplayedSensors(recording.events), recording.sensors, None, seconds)
            return
        with closing(LiveSensors()) as sensors:
            choices = choose(sensors, which)
            for choice in choices:
                sensors.use(choice)
            listen_to(sensors, choices, record, seconds)


@app.command("check")
def check() -> None:
    """Tell whether Bluetooth works here, and what to do if not."""
    import platform
    from contextlib import closing
    from importlib.metadata import version

    from posewatch.cli.screen import say
    from posewatch.cli.setup import begin
    from posewatch.sensing import LiveSensors

    say(f"{platform.system()} {platform.release()}, Python {platform.python_version()}")
    say(f"Bluetooth library: bleak {version('bleak')}")
    with begin(), closing(LiveSensors()) as sensors:
        seen = _survey(sensors, CHECK_S).seen
    say(f"Bluetooth works: a scan of {CHECK_S:.0f} s heard {len(seen)} sensors")
    if not seen:
        say(NOBODY)


app.command("zero")(sensors_control.zero)
app.command("hold")(sensors_control.hold)


def choose(sensors: LiveSensors, words: list[str]) -> tuple[SensorChoice, ...]:
    """Look round for each named sensor.

    Raises:
        BadInput: Bluetooth cannot be used, or a name belongs to several.
    """
    return _choices(_survey(sensors, LOOK_UP_S), words)


def _survey(sensors: LiveSensors, seconds: float) -> Survey:
    """Scan.

    Raises:
        BadInput: Bluetooth cannot be used, or the scan failed.
    """
    from posewatch.core.sensor_words import OBSTACLE_WORDS
    from posewatch.errors import BadInput

    survey = sensors.survey(seconds).result()
    if survey.obstacle is not None:
        raise BadInput(*OBSTACLE_WORDS[survey.obstacle])
    if survey.problem:
        raise BadInput(
            f"The scan failed ({survey.problem}).",
            "Switch Bluetooth off and on again, and try once more.",
        )
    return survey


def _row(one: Sighting) -> list[str]:
    signal = "not known" if one.rssi_dbm is None else f"{one.rssi_dbm} dBm"
    services = ", ".join(sorted(one.services))
    if one.elsewhere:
        services = f"{services} (connected to this computer already)".strip()
    return [one.name or "(no name)", one.platform_id, signal, services]


def _read(sensors: LiveSensors, one: Sighting) -> list[str]:
    """Connect to a sensor for a moment; return its battery and values, or why there are none."""
    from posewatch.core.sensor_link import Phase
    from posewatch.sensors.values import values_of

    tried = sensors.try_out(one.choice, READ_S).result()
    values = values_of(one.platform_id, tried.last)
    newest_ns = max((packet.t_ns for packet in tried.last.values()), default=0)
    said = ", ".join(values.words(newest_ns))
    if not said and tried.phase is not Phase.LIVE:
        said = tried.text
    return ["; ".join(values.facts()) or "not told", said or "none that are known"]


def _choices(survey: Survey, words: list[str]) -> tuple[SensorChoice, ...]:
    """Find each named sensor; one that is not heard yet is taken at its word.

    Raises:
        BadInput: a name belongs to several.
    """
    from posewatch.core.sensor_choice import SensorChoice
    from posewatch.errors import BadInput

    choices = []
    for word in dict.fromkeys(words):
        found = [
            one
            for one in survey.seen
            if word.casefold() in (one.name.casefold(), one.platform_id.casefold())
        ]
        if len(found) > 1:
            ids = " or ".join(one.platform_id for one in found)
            raise BadInput(f"{len(found)} sensors are called {word}.", f"Give an id: {ids}.")
        if found:
            choices.append(found[0].choice)
        elif word.count(":") == 5 or word.count("-") == 4:
            choices.append(SensorChoice(word, word))
        else:
            choices.append(SensorChoice(word))
    return tuple(choices)
