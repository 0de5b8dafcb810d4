"""Colours and sizes, in a dark and a light theme.

The colours are the published Okabe-Ito set (M. Okabe, K. Ito, "Color Universal Design", 2008),
which people of every colour vision tell apart; shape and place carry each meaning first.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

BLUE, SKY, GREEN, YELLOW = "#0072B2", "#56B4E9", "#009E73", "#F0E442"
ORANGE, VERMILLION, PURPLE = "#E69F00", "#D55E00", "#CC79A7"


class ThemeName(StrEnum):
    """The two themes."""

    DARK = "dark"
    LIGHT = "light"


@dataclass(frozen=True, slots=True)
class Theme:
    """What things are painted with.

    ground: behind everything. panel: of a part. line: between parts. text, faint: of words. held:
    in band. edge: near a limit. off: out of band, a correction. unknown: not known. fault: a
    failure. counted: what counts.
    """

    name: ThemeName
    ground: str
    panel: str
    line: str
    text: str
    faint: str
    held: str
    edge: str
    off: str
    unknown: str
    fault: str
    counted: str


DARK = Theme(
    ThemeName.DARK,
    ground="#101418",
    panel="#1A2026",
    line="#39434D",
    text="#DCE3E8",
    faint="#9AA6B0",
    held=BLUE,
    edge=SKY,
    off=ORANGE,
    unknown="#5B6670",
    fault=VERMILLION,
    counted=SKY,
)
LIGHT = Theme(
    ThemeName.LIGHT,
    ground="#E9ECEE",
    panel="#F5F6F7",
    line="#A9B3BB",
    text="#14191E",
    faint="#4A555E",
    held=BLUE,
    edge=SKY,
    off=ORANGE,
    unknown="#8A959E",
    fault=VERMILLION,
    counted=BLUE,
)
THEMES = {theme.name: theme for theme in (DARK, LIGHT)}
