"""The set-up page: everything that a session needs, asked in the browser.

What lives here: how its HTML is filled, and what lies beside it. What must not: what it is told (``setup_telling``), what may
follow what (:mod:`assistant.core.club.setting_up`).

::

    /KEY/model/NAME.svg   the finished model of each plan
"""

from collections.abc import Mapping
from html import escape

from assistant.core.club.setting_up import SettingUp, SetUpOrder
from assistant.pages.app import Drawn
from assistant.pages.board import Notices
from assistant.pages.orders import read_set_up_order
from assistant.pages.setup_telling import SetUpPage, SetUpTeller
from assistant.pages.site import Site, filled, fresh_keys

SetUpBoard = Notices[SettingUp, SetUpOrder]


def set_up_site(
    board: SetUpBoard, teller: SetUpTeller, models: Mapping[str, str], drawn: Drawn
) -> Site[SetUpPage, SettingUp, SetUpOrder]:
    """The set-up page behind a fresh key.

    Args:
        models: the picture of each finished model, as SVG, by the plan's name.
    """
    words = {word: escape(text) for word, text in teller.texts.words["page"].items()}
    files = drawn.files | {f"model/{name}.svg": svg.encode() for name, svg in models.items()}
    html = {SetUpPage.SET_UP: filled("setup", words)}
    return Site(board, teller.tell, fresh_keys(SetUpPage), html, files, {SetUpPage.SET_UP: read_set_up_order})
