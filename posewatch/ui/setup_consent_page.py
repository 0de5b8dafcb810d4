"""Set-up's page of cautions and consent."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLabel, QScrollArea, QWidget

from posewatch.store.consent import (
    CAUTIONS,
    CAUTIONS_TITLE,
    CONSENT_VERSION,
    consent_text,
    video_text,
)
from posewatch.ui import setup_view
from posewatch.ui.scene import Scene
from posewatch.ui.setup_desk import Desk
from posewatch.ui.setup_pages import Page
from posewatch.ui.setup_parts import buddy, field, label
from posewatch.ui.setup_view import Action, Do

VIDEO = "A video, only if it is ticked below"


class ConsentPage(Page):
    """Cautions, what is recorded, the rider's code, and whether a video is kept."""

    def __init__(self, desk: Desk, changed: Callable[[], None]) -> None:
        super().__init__(desk, changed)
        texts = QWidget()
        texts.setObjectName("rows")
        columns = QHBoxLayout(texts)
        columns.setContentsMargins(0, 0, 0, 0)
        columns.setSpacing(28)
        columns.addWidget(_articles(CAUTIONS_TITLE, [("", text) for text in CAUTIONS]), 2)
        agreed = [(one.title, one.text) for one in consent_text(desk.studio.settings.data_folder)]
        agreed.append((VIDEO, video_text(blur_faces=True)))
        columns.addWidget(_articles("What the rider agrees to", agreed), 3)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setAccessibleName("cautions and consent")
        scroll.setWidget(texts)
        self.column.addWidget(scroll, 1)
        self._code = field("rider's code", "a code, not a name: r17")
        self._code.setMaximumWidth(420)
        self._code.textChanged.connect(lambda: changed())
        self._video = QCheckBox("Keep a &video, the face blurred")
        self._video.setAccessibleDescription(video_text(blur_faces=True))
        row = QHBoxLayout()
        row.addWidget(buddy("&Rider's code", self._code))
        row.addWidget(self._code)
        row.addWidget(
            label(f"logged with the text's version ({CONSENT_VERSION}) and the time", "faint"), 1
        )
        row.addWidget(self._video)
        self.column.addLayout(row)
        self._has_agreed = False

    def tell(self, scene: Scene) -> None:
        """Suggest the code of the rider who is expected; a new one has ticked nothing yet."""
        if self._has_agreed and not self.desk.setup.consent_of:
            self._video.setChecked(False)
        self._has_agreed = bool(self.desk.setup.consent_of)
        if not self._code.isModified() and not self._code.text():
            self._code.setText(self.desk.setup.rider)

    def action(self, scene: Scene) -> Action | None:
        """Agree."""
        return setup_view.consent_action(self._code.text().strip())

    def act(self, do: Do) -> None:
        """Tell the desk who agreed."""
        self._has_agreed = True
        self.told(self.desk.agree, self._code.text().strip(), self._video.isChecked())

    def first(self) -> QWidget | None:
        """Return the line for the code."""
        return self._code


def _articles(title: str, articles: list[tuple[str, str]]) -> QLabel:
    """Return texts under a title, each with a head of its own or a dash."""
    parts = [f"<p style='font-weight: 600'>{escape(title)}</p>"]
    for head, text in articles:
        begins = f"<b>{escape(head)}.</b> " if head else ""
        parts.append(f"<p>{begins}{escape(text)}</p>")
    made = QLabel("".join(parts))
    made.setWordWrap(True)
    made.setTextFormat(Qt.TextFormat.RichText)
    made.setAlignment(Qt.AlignmentFlag.AlignTop)
    return made
