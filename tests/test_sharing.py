"""A second device on the home network: what it can reach, how it is found, and that one key ends it."""

import io
import socket
from collections.abc import Iterator
from http.client import HTTPConnection

import numpy as np
import pytest
import zxingcpp
from rich.console import Console

from assistant.assembly import Sources, open_site
from assistant.commands.pages import BLOCKS, as_picture
from assistant.errors import DeviceError
from assistant.pages.server import Server, home_address
from assistant.pages.telling import Page
from tests.rehearsal import ELSEWHERE, Rehearsal


@pytest.fixture
def club() -> Iterator[Rehearsal]:
    with Rehearsal(share=True) as rehearsal:
        yield rehearsal


def asked(club: Rehearsal, path: str, host: str = "") -> int:
    """What the shared server answers."""
    assert club.shared
    connection = HTTPConnection(ELSEWHERE, club.shared.port, timeout=20)
    try:
        connection.request("GET", path, headers={"Host": host or f"{ELSEWHERE}:{club.shared.port}"})
        return connection.getresponse().status
    finally:
        connection.close()


def path_of(club: Rehearsal, page: Page) -> str:
    assert club.shared
    return "/" + club.shared.address(page).split("/", 3)[3]


def test_the_helper_and_the_engineer_are_there_behind_keys_of_their_own(club: Rehearsal) -> None:
    for page in (Page.HELPER, Page.ENGINEER):
        assert asked(club, path_of(club, page)) == 200
        assert asked(club, club.path(page)) == 404  # the laptop's own key
        assert club.ask(path_of(club, page))[0] == 404  # and the other way round


def test_the_room_page_stays_on_the_laptop(club: Rehearsal) -> None:
    assert club.shared
    with pytest.raises(KeyError):
        club.shared.address(Page.ROOM)
    assert asked(club, club.path(Page.ROOM)) == 404


def test_another_host_is_refused_there_too(club: Rehearsal) -> None:
    assert club.shared
    for host in ("evil.example", "localhost", f"127.0.0.1:{club.server.port}", f"localhost:{club.shared.port}"):
        assert asked(club, path_of(club, Page.HELPER), host) == 403


def test_one_key_ends_it_and_the_club_goes_on(club: Rehearsal) -> None:
    assert club.shared and club.board.newest[1].is_shared
    assert club.order(b'{"do": "key", "key": "o"}')[0] == 204
    club.step()
    assert not club.shared.is_on
    assert not club.board.newest[1].is_shared
    club.shared.__exit__(None, None, None)
    with pytest.raises(ConnectionRefusedError):
        asked(club, path_of(club, Page.HELPER))
    assert club.ask(club.path(Page.HELPER))[0] == 200
    club.play(29.5)
    assert club.session.state.step == 2


def test_without_sharing_nothing_listens_but_this_machine() -> None:
    with Rehearsal() as club, pytest.raises(ConnectionRefusedError):
        socket.create_connection((ELSEWHERE, club.server.port), timeout=5)


def test_the_home_address_is_one_of_this_machine() -> None:
    with socket.socket() as listening:
        listening.bind((home_address(), 0))


def test_a_phone_reads_the_address_from_the_terminal() -> None:
    """Read by ZXing, the reader that many phones have."""
    address = "http://192.0.2.17:43185/cFovAoFTPMupmJNl-tWPEg/"
    out = io.StringIO()
    Console(file=out, width=80, color_system=None).print(as_picture(address))
    halves = {block: pair for pair, block in BLOCKS.items()}
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= 60
    dark = np.array([[halves[block][half] for block in line] for line in lines for half in (0, 1)], np.uint8)
    found = zxingcpp.read_barcodes(np.kron(255 * (1 - dark), np.ones((6, 6), np.uint8)).astype(np.uint8))
    assert [code.text for code in found] == [address]


def test_a_port_that_is_taken_is_said_in_a_sentence(club: Rehearsal) -> None:
    with pytest.raises(DeviceError, match="cannot be served at 127.0.0.1, port"):
        Server(open_site(club.session, club.board, Sources("", "")), port=club.server.port)
