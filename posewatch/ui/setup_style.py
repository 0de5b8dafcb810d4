"""How the set-up window's widgets look in a theme, at a size of text."""

from __future__ import annotations

from posewatch.ui.theme import Theme

SMALLEST_PX, LARGEST_PX = 13, 24
#: So many lines of text, and letters a line, fit in the window's height and width.
LINES, LETTERS = 45, 80


def text_px(width_px: int, height_px: int) -> int:
    """Return the size of text in a window of a size."""
    wanted = min(width_px // LETTERS, height_px // LINES)
    return max(SMALLEST_PX, min(LARGEST_PX, wanted))


def style(theme: Theme, px: int) -> str:
    """Return the window's style sheet; px: size of plain text."""
    return f"""
    QWidget {{ font-size: {px}px; color: {theme.text}; }}
    QWidget#setup, QWidget#page, QScrollArea, QWidget#rows {{ background: {theme.ground}; }}
    QScrollArea {{ border: none; }}
    QFrame#steps {{ background: {theme.panel}; border: none; min-width: {17 * px}px; }}
    QLabel {{ background: transparent; }}
    QLabel#title {{ font-size: {round(px * 1.7)}px; font-weight: 600; }}
    QLabel#head {{ font-weight: 600; }}
    QLabel#faint {{ color: {theme.faint}; }}
    QLabel#note {{
        background: {theme.panel}; border-left: {px // 3}px solid {theme.off};
        padding: {px // 3}px {px // 2}px;
    }}
    QPushButton {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: {px // 4}px;
        padding: {px // 2}px {px}px; min-height: {px}px;
    }}
    QPushButton:hover {{ border-color: {theme.faint}; }}
    QPushButton:focus {{ border: 2px solid {theme.edge}; }}
    QPushButton:disabled {{ color: {theme.unknown}; }}
    QPushButton#main {{
        background: {theme.held}; color: #F4F7F9; font-weight: 600; padding: {px // 2}px {2 * px}px;
        border: 2px solid {theme.held};
    }}
    QPushButton#main:focus {{ border: 2px solid {theme.text}; }}
    QPushButton#main:disabled {{
        background: {theme.panel}; color: {theme.unknown}; border: 2px solid {theme.line};
    }}
    QPushButton#large {{
        text-align: left; font-size: {round(px * 1.25)}px; padding: {px}px {round(px * 1.5)}px;
    }}
    QPushButton#step {{
        text-align: left; background: transparent; border: 2px solid transparent;
        border-radius: 0px; padding: {px // 2}px {px // 2}px;
    }}
    QPushButton#step:checked {{ background: {theme.ground}; font-weight: 600; }}
    QPushButton#step:focus {{ border: 2px solid {theme.edge}; }}
    QLineEdit, QComboBox, QListWidget {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: {px // 4}px;
        padding: {px // 3}px; selection-background-color: {theme.held};
        selection-color: #F4F7F9;
    }}
    QLineEdit:focus, QComboBox:focus, QListWidget:focus {{ border: 2px solid {theme.edge}; }}
    QCheckBox:disabled {{ color: {theme.faint}; }}
    QCheckBox::indicator {{
        width: {px}px; height: {px}px; border: 1px solid {theme.faint};
        background: {theme.panel};
    }}
    QLabel#command {{
        font-family: monospace; font-size: {round(px * 0.9)}px; background: {theme.panel};
        border: 1px solid {theme.line}; padding: {px // 3}px;
    }}
    QLabel#command:focus {{ border: 2px solid {theme.edge}; }}
    QComboBox QAbstractItemView {{
        background: {theme.panel}; selection-background-color: {theme.held};
    }}
    QListWidget::item {{ padding: {px // 3}px; }}
    QListWidget::item:selected {{ background: {theme.held}; color: #F4F7F9; }}
    """
