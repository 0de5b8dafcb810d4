"""Fonts and colours of the operator's window, by theme and size. Without Qt."""

from __future__ import annotations

from posewatch.ui.theme import Theme

#: A window of this height has the smallest letters, px.
LEAST_PX = 13
HEIGHT_TO_LETTERS = 55
#: The header's figures stand side by side in a window so wide, in letters; else they are smaller.
WIDTH_TO_LETTERS = 95


def letters_px(window_height_px: int) -> int:
    """Return the height of plain letters in a window."""
    return max(LEAST_PX, round(window_height_px / HEIGHT_TO_LETTERS))


def style_sheet(theme: Theme, letters: int, window_width_px: int) -> str:
    """Return the style of all parts."""
    middle, small = round(1.5 * letters), round(0.9 * letters)
    head = min(letters, window_width_px / WIDTH_TO_LETTERS)
    large = round(2.3 * head)
    return f"""
    * {{ font-size: {letters}px; color: {theme.text}; }}
    QLabel {{ background: transparent; }}
    QLabel#state {{ font-size: {round(2.35 * head)}px; font-weight: 700; }}
    QLabel#figure {{ font-size: {large}px; font-weight: 600; }}
    QLabel#under {{ font-size: {round(0.9 * max(head, 12))}px; color: {theme.faint}; }}
    QLabel#small {{ font-size: {small}px; color: {theme.faint}; }}
    QLabel#notes {{ font-size: {small}px; font-weight: 700; }}
    QLabel#reason {{ font-size: {middle}px; font-weight: 600; }}
    QLabel#question {{ font-size: {round(1.2 * letters)}px; font-weight: 600; }}
    QLabel#key {{ font-weight: 700; }}
    QLabel#where {{ font-weight: 600; }}
    QLabel#step {{ font-size: {round(1.2 * letters)}px; font-weight: 600; }}
    QLabel#done {{
        font-size: {round(1.2 * letters)}px; font-weight: 700; color: {theme.ground};
        background: {theme.counted}; padding: 2px 6px;
    }}
    QLabel#fault {{
        font-size: {round(1.2 * letters)}px; font-weight: 700; color: {theme.ground};
        background: {theme.fault}; padding: 2px 6px;
    }}
    QLabel#missing {{ font-size: {small}px; }}
    QLabel#problem {{ font-weight: 700; border-left: 6px solid {theme.off}; padding-left: 6px; }}
    QFrame#strip {{ background: {theme.panel}; border: 1px solid {theme.line}; }}
    QListWidget, QLineEdit {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 3px;
        font-size: {small}px;
    }}
    QLineEdit {{ padding: 3px; }}
    QLineEdit:focus {{ border: 2px solid {theme.held}; }}
    QLineEdit:disabled {{ color: {theme.faint}; }}
    QPushButton {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 3px;
        padding: {round(0.35 * letters)}px {round(0.8 * letters)}px;
    }}
    QPushButton:pressed {{ border: 2px solid {theme.text}; }}
    QPushButton:disabled {{ color: {theme.unknown}; }}
    QPushButton#safe {{ border: 2px solid {theme.text}; font-weight: 700; }}
    QFrame#overlay {{
        background: {theme.panel}; border: 2px solid {theme.text}; border-radius: 4px;
    }}
    QToolTip {{ background: {theme.panel}; color: {theme.text}; border: 1px solid {theme.line}; }}
    """
