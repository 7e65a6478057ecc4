"""Who is refused, and what nobody can bring to a standstill."""

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from assistant.pages import server
from assistant.pages.board import MOST_WAITING, Snapshot
from assistant.pages.site import LONGEST_ORDER, MOST_STREAMS
from assistant.pages.telling import Page
from tests.rehearsal import Rehearsal


@pytest.fixture
def club() -> Iterator[Rehearsal]:
    with Rehearsal() as rehearsal:
        yield rehearsal


def test_each_key_opens_its_own_page(club: Rehearsal) -> None:
    for page in Page:
        status, answer, text = club.ask(club.path(page))
        assert status == 200
        assert f'src="{page.value}.js"'.encode() in text
        assert answer.getheader("Content-Type") == "text/html; charset=utf-8"


@pytest.mark.parametrize("path", ["/", "/x/", "/x/events", "/x/step/1.svg", "//", "/../", "/helper/", "/x/look.css"])
def test_no_key_or_a_wrong_one_opens_nothing(club: Rehearsal, path: str) -> None:
    status, _, text = club.ask(path)
    assert (status, text) == (404, b"There is nothing here.")


@pytest.mark.parametrize(
    "file",
    [
        "../app.py", "..%2fapp.py", "..%2f..%2f..%2fetc%2fpasswd", "%2e%2e/app.py", "icon/../room.html", "room.html", "app.py",
        "icon/..%2f..%2fapp.py", "%00", "step/0.svg", "step/-1.svg", "step/1e3.svg", "step/99999999999999999999.svg", "orders",
        "font/%2e%2e%2fNOTICE", "C:%5cboot.ini",
    ],
)  # fmt: skip
def test_no_path_leads_out(club: Rehearsal, file: str) -> None:
    status, _, text = club.ask(club.path(Page.HELPER, file))
    assert status in (404, 405)
    assert b"import" not in text


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost", "", "127.0.0.1.evil.example:80"])
def test_another_host_is_refused(club: Rehearsal, host: str) -> None:
    status, _, text = club.ask(club.path(Page.HELPER), headers={"Host": host})
    assert status in (400, 403)
    assert b"<html" not in text


def test_localhost_is_this_machine_too(club: Rehearsal) -> None:
    assert club.ask(club.path(Page.ROOM), headers={"Host": f"localhost:{club.server.port}"})[0] == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1", "http://127.0.0.1:1"])
def test_another_origin_is_refused(club: Rehearsal, origin: str) -> None:
    assert club.ask(club.path(Page.ROOM, "events"), headers={"Origin": origin})[0] == 403
    assert club.order(b'{"do": "stop"}', Origin=origin)[0] == 403


def test_a_request_that_the_browser_calls_foreign_is_refused(club: Rehearsal) -> None:
    assert club.ask(club.path(Page.ROOM), headers={"Sec-Fetch-Site": "cross-site"})[0] == 403


def test_an_order_without_its_origin_is_refused(club: Rehearsal) -> None:
    path, headers = club.path(Page.HELPER, "orders"), {"Content-Type": "application/json"}
    assert club.ask(path, method="POST", body=b'{"do": "stop"}', headers=headers)[0] == 403


def test_an_order_as_a_form_of_another_site_would_send_it_is_refused(club: Rehearsal) -> None:
    assert club.order(b'{"do": "stop"}', **{"Content-Type": "text/plain"})[0] == 415


def test_an_order_that_is_none_gets_a_sentence(club: Rehearsal) -> None:
    assert club.order(b'{"do": "dance"}') == (400, "There is no such order.")
    assert club.order(b" " * LONGEST_ORDER)[0] == 400
    assert club.order(b" " * (LONGEST_ORDER + 1))[0] == 413


def test_two_children_are_not_called_the_same_and_the_helper_page_says_so(club: Rehearsal) -> None:
    for names, note, called in (
        ('{"A": "Ada", "B": "Bo"}', "", {"A": "Ada", "B": "Bo"}),
        ('{"A": "Bo", "B": "Ada", "C": ""}', "", {"A": "Bo", "B": "Ada"}),
        ('{"A": "Ada", "B": "ada"}', "Two children are called 'ada'. Add a letter to one of them.", {"A": "Bo", "B": "Ada"}),
        ('{"A": ""}', "", {}),
    ):
        assert club.order(f'{{"do": "names", "names": {names}}}'.encode())[0] == 204
        club.step()
        assert (club.board.newest[1].note, club.board.newest[1].names) == (note, called)


def test_more_orders_than_anybody_can_press_are_refused_and_the_session_goes_on(club: Rehearsal) -> None:
    answers = [club.order(b'{"do": "say roles"}')[0] for _ in range(MOST_WAITING + 5)]
    assert answers == [204] * MOST_WAITING + [503] * 5
    club.step()
    assert club.order(b'{"do": "say roles"}')[0] == 204


def test_the_rooms_and_the_engineers_keys_give_no_orders(club: Rehearsal) -> None:
    headers = {"Content-Type": "application/json", "Origin": f"http://127.0.0.1:{club.server.port}"}
    for page in (Page.ROOM, Page.ENGINEER):
        assert club.ask(club.path(page, "orders"), method="POST", body=b'{"do": "stop"}', headers=headers)[0] == 404


def test_every_answer_tells_the_browser_to_keep_and_fetch_nothing(club: Rehearsal) -> None:
    for path in (club.path(Page.ROOM), club.path(Page.ROOM, "room.js"), "/wrong/"):
        _, answer, _ = club.ask(path)
        assert answer.getheader("Cache-Control") == "no-store"
        assert (answer.getheader("Content-Security-Policy") or "").startswith("default-src 'none'; script-src 'self';")
        assert answer.getheader("X-Content-Type-Options") == "nosniff"
        assert answer.getheader("Referrer-Policy") == "no-referrer"
        assert answer.getheader("Set-Cookie") is None
        assert answer.getheader("Server") is None


# --- the engineer's instructions --------------------------------------------------------------------------------------------


def test_nothing_of_the_instructions_is_reachable_from_the_room(club: Rehearsal) -> None:
    club.play(29)
    texts = [club.ask(club.path(Page.ROOM))[2].decode(), json.dumps(first_told(club, Page.ROOM))]
    for step in club.session.plan.steps:
        assert club.ask(club.path(Page.ROOM, f"step/{step.number}.svg"))[0] == 404
        words = [part for part in (step.where, step.hint, *step.measured) if part]
        assert not any(word in text for word in words for text in texts)
    assert not any(club.path(page).strip("/") in text for page in (Page.HELPER, Page.ENGINEER) for text in texts)


def test_every_step_but_the_one_being_built_is_covered(club: Rehearsal) -> None:
    assert club.ask(club.path(Page.ENGINEER, "step/1.svg"))[0] == 404  # setting up
    club.play(29.5)
    there = [club.ask(club.path(Page.ENGINEER, f"step/{number}.svg"))[0] for number in range(1, 9)]
    assert there == [404, 200, 404, 404, 404, 404, 404, 404]


def test_a_page_may_still_ask_for_the_step_it_was_told_of_when_the_next_has_begun(club: Rehearsal) -> None:
    club.play(12)
    first_told(club, Page.ENGINEER)
    club.play(29.5)
    first_told(club, Page.ENGINEER)
    there = [club.ask(club.path(Page.ENGINEER, f"step/{number}.svg"))[0] for number in range(1, 5)]
    assert there == [200, 200, 404, 404]
    assert club.ask(club.path(Page.ROOM, "step/1.svg"))[0] == 404


# --- whoever is slow, many or in a hurry ------------------------------------------------------------------------------------


def test_ten_thousand_snapshots_at_once_reach_a_page_as_the_newest(club: Rehearsal) -> None:
    with Listening(club, Page.ROOM) as page:
        page.told()
        snapshot = club.board.newest[1]
        for sample in range(10_000):
            club.board.post(Snapshot(sample, snapshot.view))
        club.board.post(Snapshot(60 * 16_000, snapshot.view))
        assert page.told_until("left", 0.5) < 100


def test_fifty_open_pages_and_one_that_never_reads_hold_up_nobody(club: Rehearsal) -> None:
    with ExitStack() as stack:
        stack.enter_context(Listening(club, Page.HELPER))  # asks and never reads
        pages = [stack.enter_context(Listening(club, Page.ROOM)) for _ in range(50)]
        club.play(125)
        assert club.session.is_over
        for page in pages:
            page.told_until("over", True)


def test_the_last_word_reaches_every_open_page_before_the_server_goes(club: Rehearsal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "GOODBYE_S", 60)  # a busy machine is no failure
    with Listening(club, Page.ROOM) as room, Listening(club, Page.HELPER) as helper:
        room.told()
        helper.told()
        club.play(125)
        club.lose()
        room.told_until("over", True)
        helper.told_until("over", True)


def test_a_page_whose_line_is_broken_at_the_end_has_time_to_come_back(club: Rehearsal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "GOODBYE_S", 60)  # a busy machine is no failure
    club.ask(club.path(Page.ROOM))
    club.play(125)
    leaving = threading.Thread(target=club.lose)
    leaving.start()
    assert first_told(club, Page.ROOM)["over"] is True
    leaving.join()


def test_a_page_that_is_gone_for_good_is_waited_for_no_longer_than_that(
    club: Rehearsal, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "GOODBYE_S", 0)
    club.ask(club.path(Page.ROOM))
    club.play(125)
    club.lose()
    with pytest.raises(ConnectionRefusedError):
        club.ask(club.path(Page.ROOM))


def test_more_streams_than_any_home_has_are_refused(club: Rehearsal) -> None:
    with ExitStack() as stack:
        pages = [stack.enter_context(Listening(club, Page.ROOM)) for _ in range(MOST_STREAMS)]
        for page in pages:
            page.told()
        assert club.ask(club.path(Page.ROOM, "events"))[0] == 503


def first_told(club: Rehearsal, page: Page) -> dict[str, object]:
    with Listening(club, page) as listening:
        return listening.told()


class Listening:
    """A page's stream, read by hand."""

    def __init__(self, club: Rehearsal, page: Page) -> None:
        self._socket = socket.create_connection(("127.0.0.1", club.server.port), timeout=20)
        asked = f"GET {club.path(page, 'events')} HTTP/1.1\r\nHost: 127.0.0.1:{club.server.port}\r\n\r\n"
        self._socket.sendall(asked.encode())
        self._file = self._socket.makefile("rb")

    def __enter__(self) -> "Listening":
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()
        self._socket.close()

    def told(self) -> dict[str, object]:
        """The next snapshot."""
        for line in self._file:
            if line.startswith(b"data: "):
                found: dict[str, object] = json.loads(line.removeprefix(b"data: "))
                return found
        raise AssertionError("the stream ended")

    def told_until(self, key: str, value: object) -> int:
        """Read on until it is told this; how many snapshots that took."""
        count = 1
        while self.told()[key] != value:
            count += 1
        return count
