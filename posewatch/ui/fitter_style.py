"""How the fitter's window looks in a theme, at a size of text."""

from __future__ import annotations

from posewatch.ui.theme import Theme

SMALLEST_PX, LARGEST_PX = 12, 17
#: So many lines of text, and letters a line, fit in the window's height and width.
LINES, LETTERS = 55, 98


def text_px(width_px: int, height_px: int) -> int:
    """Return the size of text in a window of a size."""
    wanted = min(width_px // LETTERS, height_px // LINES)
    return max(SMALLEST_PX, min(LARGEST_PX, wanted))


def style(theme: Theme, px: int) -> str:
    """Return the window's style sheet; px: size of plain text."""
    small, pad = px - 1, px // 4
    return f"""
    QWidget {{ font-size: {px}px; color: {theme.text}; }}
    QWidget#fitter {{ background: {theme.ground}; }}
    QLabel {{ background: transparent; }}
    QLabel#title {{ font-size: {round(px * 1.6)}px; font-weight: 600; }}
    QLabel#steps {{ color: {theme.faint}; font-size: {round(px * 1.15)}px; }}
    QLabel#faint {{ color: {theme.faint}; font-size: {small}px; }}
    QLabel#tight {{
        font-size: {small}px; border-left: {pad}px solid {theme.off}; padding-left: {pad}px;
    }}
    QLabel#note {{ background: {theme.panel}; border-left: {pad}px solid {theme.edge};
        padding: {pad}px {2 * pad}px; }}
    QLabel#trouble {{ background: {theme.panel}; border-left: {pad}px solid {theme.fault};
        padding: {pad}px {2 * pad}px; }}
    QGroupBox {{
        border: 1px solid {theme.line}; border-radius: {pad}px; margin-top: {round(px * 0.7)}px;
        padding-top: {pad}px; font-weight: 600;
    }}
    QGroupBox::title {{ subcontrol-origin: margin; left: {px}px; padding: 0 {pad}px; }}
    QPushButton {{
        background: {theme.panel}; border: 1px solid {theme.line}; border-radius: {pad}px;
        padding: {pad}px {px // 2}px; min-height: {px}px;
    }}
    QPushButton:hover {{ border-color: {theme.faint}; }}
    QPushButton:focus {{ border: 2px solid {theme.edge}; }}
    QPushButton:disabled {{ color: {theme.unknown}; }}
    QPushButton#main {{
        background: {theme.held}; color: #F4F7F9; font-weight: 600; border-color: {theme.held};
    }}
    QPushButton#main:focus {{ border: 2px solid {theme.text}; }}
    QPushButton#main:disabled {{
        background: {theme.panel}; color: {theme.unknown}; border-color: {theme.line};
    }}
    QLineEdit {{
        background: {theme.panel}; border: 1px solid {theme.line}; padding: 1px {pad}px;
        min-height: {round(px * 1.3)}px; selection-background-color: {theme.held};
        selection-color: #F4F7F9;
    }}
    QLineEdit:focus {{ border-color: {theme.edge}; }}
    QComboBox QLineEdit {{ border: none; min-height: 0; }}
    QRadioButton::indicator, QCheckBox::indicator {{
        width: {px - 3}px; height: {px - 3}px; border: 1px solid {theme.faint};
        background: {theme.panel};
    }}
    QRadioButton::indicator {{ border-radius: {(px - 1) // 2}px; }}
    QRadioButton::indicator:checked, QCheckBox::indicator:checked {{
        background: {theme.edge}; border-color: {theme.text};
    }}
    QRadioButton::indicator:disabled, QCheckBox::indicator:disabled {{
        border-color: {theme.line};
    }}
    QComboBox QAbstractItemView {{
        background: {theme.panel}; selection-background-color: {theme.held};
        selection-color: #F4F7F9;
    }}
    QRadioButton {{ font-weight: 600; }}
    QRadioButton:focus, QCheckBox:focus {{ color: {theme.edge}; }}
    """
