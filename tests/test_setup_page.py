"""The set-up page without a browser: what it is told, what it may send, and who is refused."""

import json
from collections.abc import Iterator
from dataclasses import replace
from http.client import HTTPConnection

import pytest

from assistant.cli import door
from assistant.commands.choosing import models_of
from assistant.commands.set_up_page import as_options, begin_with, site_of
from assistant.core.club.consent import Consent
from assistant.core.club.setting_up import Choose, Deed, Do, SettingUp, SetUpOrder, TellApart, Wanted, What
from assistant.core.club.settings import Settings
from assistant.core.plans.model import Piece
from assistant.pages.board import Notices
from assistant.pages.orders import BadOrderError, read_set_up_order
from assistant.pages.server import Server
from assistant.pages.setup_page import SetUpBoard
from assistant.pages.setup_telling import SetUpPage
from assistant.pages.telling import Page
from assistant.terms import Seat
from tests.rehearsal import Rehearsal
from tests.test_setting_up import AT_CONSENT, AT_VOICES, BOAT, NEXT, OFFER, after

BY_KEY = (Choose(What.TELL_APART, "keys"), NEXT)
SMALL_CHILD = after(Choose(What.SMALL_CHILD, "yes"))


@pytest.fixture(scope="module")
def board() -> SetUpBoard:
    return Notices[SettingUp, SetUpOrder](SettingUp(OFFER))


@pytest.fixture(scope="module")
def server(board: SetUpBoard) -> Iterator[Server]:
    with Server(site_of(board, models_of(OFFER.plans))) as server:
        yield server


def ask(server: Server, path: str, method: str = "GET", body: bytes | None = None, **headers: str) -> tuple[int, str]:
    connection = HTTPConnection("127.0.0.1", server.port, timeout=60)
    try:
        connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        return answer.status, answer.read().decode()
    finally:
        connection.close()


def path_of(server: Server, file: str = "") -> str:
    return "/" + server.address(SetUpPage.SET_UP).split("/", 3)[3] + file


def order(server: Server, sent: object, **headers: str) -> int:
    ours = {"Content_Type": "application/json", "Origin": f"http://127.0.0.1:{server.port}"}
    return ask(server, path_of(server, "orders"), "POST", json.dumps(sent).encode(), **ours | headers)[0]


# --- what it is told --------------------------------------------------------------------------------------------------------


def told(state: SettingUp) -> str:
    """Everything that the page is told of a state, as text."""
    site = site_of(Notices[SettingUp, SetUpOrder](state), models_of(OFFER.plans))
    return json.dumps(site.tell(SetUpPage.SET_UP, state), ensure_ascii=False)


def test_a_model_is_shown_with_its_tray_and_how_hard_it_is() -> None:
    said = told(after(NEXT))
    assert "4 pieces on the tray, 4 steps: a first model." in said
    assert "model/little-boat.svg" in said
    assert "under 3" not in said


def test_small_parts_are_said_when_somebody_under_three_is_in_the_room() -> None:
    plans = {**OFFER.plans, "little-boat": replace(OFFER.plans["little-boat"], pieces=shrunk())}
    at_plans = replace(after(NEXT, state=SMALL_CHILD), offer=replace(OFFER, plans=plans))
    assert "Small parts. A child under 3 could choke on:" in told(at_plans)
    ready = after(NEXT, BOAT, NEXT, NEXT, *BY_KEY, NEXT, state=SMALL_CHILD)
    assert "no piece of this plan goes into the small-parts cylinder" in told(ready)


def shrunk() -> dict[str, Piece]:
    pieces = OFFER.plans["little-boat"].pieces
    return {key: replace(piece, mm=(20.0, 20.0, 20.0)) for key, piece in pieces.items()}


def test_a_child_is_asked_in_its_own_words_and_by_its_name() -> None:
    yes = Do(Deed.ANSWER, level=Consent.WORDS)
    named = after(Choose(What.NAME, "Ada", Seat.A))
    at_consent = after(NEXT, BOAT, NEXT, NEXT, *BY_KEY, Choose(What.KEEP, "timeline"), state=named)
    assert "For the guardian of child Ada: how much may be kept?" in told(at_consent)
    assert "Ada, I have a question for you. You can say yes or no." in told(after(*[yes] * 4, state=at_consent))


def test_the_page_says_who_is_known_and_what_is_kept_before_it_begins() -> None:
    ready = after(Choose(What.KEEP, "words"), *[Do(Deed.ANSWER, level=Consent.WORDS)] * 7, NEXT, state=AT_CONSENT)
    assert "Will be kept, because everybody agreed: the words, until 2027-07-11." in told(ready)
    assert "Who speaks is marked by key." in told(ready)
    assert "What is kept is not locked" in told(ready)
    locked = replace(ready, offer=replace(ready.offer, is_locked=True))
    assert "What is kept is locked with the passphrase." in told(locked) and "is not locked" not in told(locked)
    assert "locked" not in told(after(NEXT, state=AT_CONSENT))  # nothing is kept


@pytest.mark.parametrize(("swap", "is_said"), [("1", False), ("2", True), ("5min", False), ("component", True)])
def test_too_few_swaps_for_every_child_to_have_every_role_are_said(swap: str, is_said: bool) -> None:
    short = after(NEXT, Choose(What.PLAN, "four-block-tower"), NEXT, Choose(What.SWAP, swap))
    assert ("not each of the 3 children gets every role" in told(short)) is is_said


def test_a_field_says_what_will_not_do_in_it() -> None:
    wrong = after(NEXT, BOAT, NEXT).refused(Choose(What.LENGTH, "120"), "Up to 90.")
    fields = {part["key"]: part for part in json.loads(told(wrong))["parts"] if part["kind"] == "number"}
    assert [fields[key]["wrong"] for key in ("length", "set up", "clear away")] == ["Up to 90.", "", ""]
    elsewhere = after(NEXT).refused(Choose(What.LENGTH, "120"), "That belongs to another step of the set-up. Go there first.")
    assert after(BOAT, NEXT, state=elsewhere).told == ""  # a field that is not in sight stops nobody


def test_while_one_voice_is_learnt_the_others_wait() -> None:
    said = json.loads(told(after(Do(Deed.LISTEN, Seat.A), state=replace(AT_VOICES, left_s=0.0))))
    off = {button["label"]: button["off"] for part in said["parts"] if part["kind"] == "person" for button in part["buttons"]}
    assert off["Listen to B now"] and off["Not now: B"] and not off["Not now: A"]


def test_what_was_chosen_is_what_the_options_would_have_said() -> None:
    options = door().parse_args(["session", "--pages"])
    wanted = after(Choose(What.KEEP, "timeline"), state=AT_CONSENT).wanted
    same = as_options(options, replace(wanted, microphone="3", younger=True, own_rules=("No shoes.",)))
    by_hand = "session --pages --mic 3 --younger --keep timeline".split()
    assert vars(same) == vars(door().parse_args([*by_hand, "--rule", "No shoes."]))
    assert wanted.settings == Settings()
    assert begin_with(door().parse_args([*by_hand, "--children", "2", "--volume", "0.5"]), OFFER).wanted == replace(
        Wanted(), children=2, microphone="3", younger=True, keep=Consent.TIMELINE, volume=0.5
    )
    assert as_options(options, replace(wanted, channels="A=1", tell_apart=TellApart.KEYS)).channels == ""


# --- what it may send -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ({"do": "choose", "what": "plan", "value": "little-boat"}, BOAT),
        ({"do": "choose", "what": "name", "value": "Ada", "seat": "A"}, Choose(What.NAME, "Ada", Seat.A)),
        ({"do": "listen", "seat": "F"}, Do(Deed.LISTEN, Seat.FACILITATOR)),
        ({"do": "answer", "level": "words"}, Do(Deed.ANSWER, level=Consent.WORDS)),
        ({"do": "next"}, NEXT),
        ({"do": "next", "at": "consent A child"}, Do(Deed.NEXT, at="consent A child")),
    ],
)
def test_what_an_order_means(sent: object, meant: SetUpOrder) -> None:
    assert read_set_up_order(json.dumps(sent).encode()) == meant


@pytest.mark.parametrize(
    "sent",
    [
        {},
        [],
        {"do": "format the disk"},
        {"do": ["next"]},
        {"do": "choose"},
        {"do": "choose", "what": "password", "value": "x"},
        {"do": "choose", "what": "plan", "value": 7},
        {"do": "choose", "what": "own rules", "value": "x" * 401},
        {"do": "listen", "seat": "?"},
        {"do": "listen", "seat": "D"},
        {"do": "answer", "level": "everything"},
        {"do": "answer", "level": 2},
        {"do": "next", "at": "x" * 41},
    ],
)
def test_what_is_no_order(sent: object) -> None:
    with pytest.raises(BadOrderError):
        read_set_up_order(json.dumps(sent).encode())


# --- who is refused ---------------------------------------------------------------------------------------------------------


def test_it_is_guarded_like_every_page(server: Server, board: SetUpBoard) -> None:
    assert ask(server, path_of(server))[0] == 200
    assert ask(server, "/x/") == (404, "There is nothing here.")
    assert ask(server, path_of(server), Host="evil.example")[0] == 403
    assert ask(server, path_of(server), Origin="http://evil.example")[0] == 403
    assert ask(server, path_of(server, "model/..%2f..%2fNOTICE"))[0] == 404
    assert order(server, {"do": "next"}, Origin="http://evil.example") == 403
    assert order(server, {"do": "next"}, Content_Type="text/plain") == 415
    assert order(server, {"do": "unlock", "passphrase": "four cakes"}, Host="evil.example") == 403
    assert order(server, {"do": "unlock", "passphrase": "four cakes"}, Sec_Fetch_Site="cross-site") == 403
    assert ask(server, path_of(server, "orders?do=unlock&passphrase=four%20cakes"))[0] == 404  # in no address, ever
    assert order(server, {"do": "dance"}) == 400
    assert list(board.orders()) == []
    assert [order(server, {"do": "next"}) for _ in range(34)] == [204] * 32 + [503] * 2
    assert list(board.orders()) == [NEXT] * 32


def test_a_session_added_at_the_same_address_keeps_keys_of_its_own(server: Server) -> None:
    with Rehearsal() as club:
        server.add(*club.server.sites)
        for page in Page:
            path = "/" + server.address(page).split("/", 3)[3]
            status, html = ask(server, path)
            assert status == 200 and f'src="{page.value}.js"' in html
            assert path_of(server).strip("/") not in html
        assert ask(server, path_of(server, "step/1.svg"))[0] == 404
