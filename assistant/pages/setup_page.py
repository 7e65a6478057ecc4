"""The set-up page: everything that a session needs, asked in the browser.

What lives here: how its HTML is filled, and what lies beside it. What must not: what it is told (``setup_telling``), what may
follow what (:mod:`assistant.core.club.setting_up`).

::

    /KEY/model/NAME.svg   the finished model of each plan, .jpg where the family took a photo
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
    board: SetUpBoard, teller: SetUpTeller, pictures: Mapping[str, bytes], drawn: Drawn
) -> Site[SetUpPage, SettingUp, SetUpOrder]:
    """The set-up page behind a fresh key.

    Args:
        pictures: of each finished model, by its place under a key.
    """
    words = {word: escape(text) for word, text in teller.texts.words["page"].items()}
    html = {SetUpPage.SET_UP: filled("setup", words)}
    files = drawn.files | dict(pictures)
    return Site(board, teller.tell, fresh_keys(SetUpPage), html, files, {SetUpPage.SET_UP: read_set_up_order})
