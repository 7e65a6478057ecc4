"""From a wish to a PDF: which sheets, in which order, on which paper.

What lives here: the list of sheets. What must not: what stands on them.
"""

from collections.abc import Collection
from enum import StrEnum

from assistant.core.plans.look import Look
from assistant.core.plans.sheets import SheetTexts
from assistant.outputs.paper.page import Format, Page
from assistant.outputs.paper.sheets import (
    Order,
    checklists,
    role_cards,
    rota_sheet,
    rules_sheet,
    step_cards,
    steps_in_words,
    timetable,
    tray_list,
)
from assistant.outputs.pictures.drawing import Drawing


class Sheet(StrEnum):
    """What can be printed, in the order in which it is printed."""

    TIMETABLE = "timetable"
    ROLES = "roles"
    RULES = "rules"
    ROTA = "rota"
    TRAY = "tray"
    STEPS = "steps"
    WORDS = "words"
    LISTS = "lists"


def printed(
    sheets: Collection[Sheet], order: Order, texts: SheetTexts, look: Look, paper: Format = Format.A4, language: str = "en"
) -> bytes:
    """The sheets as one PDF.

    Raises:
        SettingsError: a name or a text has a sign that the typeface does not have.
    """
    drawing = Drawing(order.plan, look, texts.words["care"])
    with Page(paper, look, order.plan.title, language) as page:
        for sheet in Sheet:
            if sheet in sheets:
                _draw(sheet, page, order, texts, drawing)
        return page.to_bytes()


def _draw(sheet: Sheet, page: Page, order: Order, texts: SheetTexts, drawing: Drawing) -> None:
    match sheet:
        case Sheet.TIMETABLE:
            timetable(page, order, texts)
        case Sheet.ROLES:
            role_cards(page, order, texts)
        case Sheet.RULES:
            rules_sheet(page, order, texts)
        case Sheet.ROTA:
            rota_sheet(page, order, texts)
        case Sheet.TRAY:
            tray_list(page, order, texts, drawing)
        case Sheet.STEPS:
            step_cards(page, order, texts, drawing)
        case Sheet.WORDS:
            steps_in_words(page, order, texts)
        case Sheet.LISTS:
            checklists(page, order, texts)
