"""A theme on the whole program's widgets."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication

from posewatch.ui.theme import Theme


def apply_theme(app: QApplication, theme: Theme) -> None:
    """Paint the whole program in a theme."""
    app.setStyle("Fusion")
    palette = QPalette()
    roles = {
        QPalette.ColorRole.Window: theme.ground,
        QPalette.ColorRole.Base: theme.panel,
        QPalette.ColorRole.AlternateBase: theme.ground,
        QPalette.ColorRole.Button: theme.panel,
        QPalette.ColorRole.WindowText: theme.text,
        QPalette.ColorRole.Text: theme.text,
        QPalette.ColorRole.ButtonText: theme.text,
        QPalette.ColorRole.ToolTipBase: theme.panel,
        QPalette.ColorRole.ToolTipText: theme.text,
        QPalette.ColorRole.PlaceholderText: theme.faint,
        QPalette.ColorRole.Highlight: theme.held,
        QPalette.ColorRole.HighlightedText: "#FFFFFF",
        QPalette.ColorRole.Mid: theme.line,
    }
    for role, colour in roles.items():
        palette.setColor(role, QColor(colour))
    for role in (
        QPalette.ColorRole.WindowText,
        QPalette.ColorRole.Text,
        QPalette.ColorRole.ButtonText,
    ):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.unknown))
    app.setPalette(palette)
