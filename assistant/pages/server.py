"""The pages' server in a thread of its own: on this machine alone, or, when the family asks for it, on the home network.

What lives here: the socket and the thread. What must not: what is served.
"""

import socket
import threading
import time
from types import TracebackType
from typing import Any

import uvicorn
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from assistant.errors import DeviceError
from assistant.pages.guard import Guard
from assistant.pages.site import Site

HERE = "127.0.0.1"
GOODBYE_S = 2  # how long open pages have to hear that the session is over; a broken line is taken up again after one
GOODBYE_LOOK_S = 0.02
MOST_CONNECTIONS = 256


AnySite = Site[Any, Any, Any]


class Server:
    """Serves pages while it is entered.

    Args:
        site: what is served; more can be added.
        host: the address of this machine at which it listens, and at no other.
        port: 0 for any that is free.

    Raises:
        DeviceError: the port cannot be had.
    """

    def __init__(self, site: AnySite, host: str = HERE, port: int = 0) -> None:
        self.sites = [site]
        self._host = host
        self._socket = _listening(host, port)
        self.port = int(self._socket.getsockname()[1])
        names = (host, "localhost") if host == HERE else (host,)
        app = Guard(self._answer, [f"{name}:{self.port}" for name in names])
        self._server = uvicorn.Server(
            uvicorn.Config(
                app,
                lifespan="off",
                ws="none",
                log_config=None,
                log_level="error",  # warnings are of others who send nonsense; the terminal is the session's
                access_log=False,  # a key stands in every address
                server_header=False,
                limit_concurrency=MOST_CONNECTIONS,
                timeout_graceful_shutdown=GOODBYE_S,
            )
        )
        self._thread = threading.Thread(target=self._server.run, args=([self._socket],), name="pages", daemon=True)

    def add(self, site: AnySite) -> None:
        """Serve this too, at the same address."""
        self.sites = [*self.sites, site]

    def address(self, page: str) -> str:
        """Where this page is."""
        keys = {page: key for site in self.sites for page, key in site.keys.items()}
        return f"http://{self._host}:{self.port}/{keys[page]}/"

    @property
    def is_on(self) -> bool:
        """Whether it has not been stopped."""
        return not self._server.should_exit

    def stop(self) -> None:
        """Let every open page go and take no more; does not wait for them."""
        for site in self.sites:
            site.is_closing = True
        self._server.should_exit = True

    def __enter__(self) -> "Server":
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._say_goodbye()
        self.stop()
        self._thread.join()
        self._socket.close()

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the pages answer that this key opens."""
        key = scope["path"].removeprefix("/").partition("/")[0]
        sites = [site for site in self.sites if site.page_of(key) is not None]
        app = sites[0].app if sites else PlainTextResponse("There is nothing here.", 404)
        await app(scope, receive, send)

    def _say_goodbye(self) -> None:
        """Stay until every open page knows that the session is over, or has had its time; the road is at its end by then."""
        until_s = time.monotonic() + GOODBYE_S
        while self.is_on and any(site.is_owed_the_end for site in self.sites) and time.monotonic() < until_s:
            time.sleep(GOODBYE_LOOK_S)


def home_address() -> str:
    """This machine's address on the home network. Nothing is sent to find it: a datagram socket only looks up the way.

    Raises:
        DeviceError: it is in no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as looking:
        try:
            looking.connect(("192.0.2.1", 9))  # an address that is nobody's (RFC 5737)
            return str(looking.getsockname()[0])
        except OSError as error:
            raise DeviceError("This laptop is in no network. Leave out --share, or join the home network first.") from error


def _listening(host: str, port: int) -> socket.socket:
    listening = socket.socket()
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen()
    except OSError as error:
        listening.close()
        raise DeviceError(
            f"The pages cannot be served at {host}, port {port} ({error}). Leave out --pages, or free the port."
        ) from error
    return listening
