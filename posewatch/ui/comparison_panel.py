"""How the target on the table differs from a saved version, and how much of that is told."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QGroupBox, QLabel, QVBoxLayout, QWidget

from posewatch.core.envelope import Target
from posewatch.store.target_shelf import SavedTarget
from posewatch.ui.fitter_view import difference_caution, difference_lines, path_name

NOTHING = "with no other version"
TOLD, NOT_TOLD = "\N{BLACK CIRCLE}", "\N{WHITE CIRCLE}"
HEADS = ("this less that", f"mean ({TOLD} told)", "told from", "largest")
KEY = "The other version's centre is drawn dash-dotted."
N_LINES = 7


class ComparisonPanel(QGroupBox):
    """Signal: wanted(name), empty = compare with none."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Compare", parent)
        self._choice = QComboBox()
        self._choice.setAccessibleName("compare with a saved version")
        self._caution = QLabel()
        self._caution.setObjectName("faint")
        self._caution.setWordWrap(True)
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(0)
        grid.setColumnStretch(3, 1)
        self._cells = [
            [self._cell(grid, row, column) for column in range(len(HEADS))]
            for row in range(N_LINES + 1)
        ]
        layout = QVBoxLayout(self)
        layout.addWidget(self._choice)
        layout.addLayout(grid)
        layout.addWidget(self._caution)
        layout.addStretch(1)
        self._choice.activated.connect(lambda _: self.wanted.emit(self._choice.currentData()))
        self.show_shelf((), None, None)

    def _cell(self, grid: QGridLayout, row: int, column: int) -> QLabel:
        cell = QLabel()
        cell.setObjectName("faint" if row == 0 or column == 2 else "cell")
        grid.addWidget(cell, row, column)
        return cell

    def show_shelf(
        self, shelf: Sequence[SavedTarget], target: Target | None, other: Target | None
    ) -> None:
        """Offer the saved versions, the target's own rider, bike and hands first."""
        mine = () if target is None else (target.rider, target.bike, target.hands)
        own = [s for s in reversed(shelf) if (s.rider, s.bike, s.hands) == mine]
        same_rider = [s for s in shelf if s not in own and s.rider in mine[:1]]
        chosen = "" if other is None else path_name(other)
        with QSignalBlocker(self._choice):
            self._choice.clear()
            self._choice.addItem(NOTHING, "")
            for saved in (*own, *same_rider):
                self._choice.addItem(f"with {saved.name}", saved.name)
            self._choice.setCurrentIndex(max(0, self._choice.findData(chosen)))
        self._choice.setEnabled(self._choice.count() > 1)

    def show_difference(self, other: Target | None, target: Target | None) -> None:
        """Show how the target differs from the other one."""
        lines = [] if other is None or target is None else list(difference_lines(other, target))
        rows = [HEADS] if lines else []
        rows += [
            (
                line.channel,
                f"{TOLD if line.is_told else NOT_TOLD} {line.mean}",
                line.told_from,
                line.largest,
            )
            for line in lines
        ]
        for number, cells in enumerate(self._cells):
            texts = rows[number] if number < len(rows) else ("",) * len(HEADS)
            for cell, text in zip(cells, texts, strict=True):
                cell.setText(text)
                cell.setVisible(number < len(rows))
        caution = ""
        if other is not None and target is not None:
            caution = f"{KEY} {difference_caution(other, target)}"
        self._caution.setText(caution)
        self._caution.setVisible(bool(caution))
