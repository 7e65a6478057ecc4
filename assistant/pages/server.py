"""The pages' server in a thread of its own, on this machine alone.

What lives here: the socket and the thread. What must not: what is served.
"""

import socket
import threading
from types import TracebackType

import uvicorn

from assistant.errors import DeviceError
from assistant.pages.app import Keys, Pages
from assistant.pages.telling import Page

HERE = "127.0.0.1"
GOODBYE_S = 2  # how long open pages have to hear that the session is over
MOST_CONNECTIONS = 256


class Server:
    """Serves the pages while it is entered.

    Args:
        pages: what is served.
        keys: which key opens which page.
        port: 0 for any that is free.

    Raises:
        DeviceError: the port cannot be had.
    """

    def __init__(self, pages: Pages, keys: Keys, port: int = 0) -> None:
        self._pages = pages
        self._keys = keys
        self._socket = _listening(port)
        self.port = int(self._socket.getsockname()[1])
        app = pages.app([f"{HERE}:{self.port}", f"localhost:{self.port}"])
        self._server = uvicorn.Server(
            uvicorn.Config(
                app,
                lifespan="off",
                ws="none",
                log_config=None,
                access_log=False,  # a key stands in every address
                server_header=False,
                limit_concurrency=MOST_CONNECTIONS,
                timeout_graceful_shutdown=GOODBYE_S,
            )
        )
        self._thread = threading.Thread(target=self._server.run, args=([self._socket],), name="pages", daemon=True)

    def address(self, page: Page) -> str:
        """Where this page is."""
        return f"http://{HERE}:{self.port}/{self._keys[page]}/"

    def __enter__(self) -> "Server":
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._pages.is_closing = True
        self._server.should_exit = True
        self._thread.join()
        self._socket.close()


def _listening(port: int) -> socket.socket:
    listening = socket.socket()
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((HERE, port))
        listening.listen()
    except OSError as error:
        listening.close()
        raise DeviceError(
            f"The pages cannot be served at port {port} ({error}). Leave out --pages, or free the port."
        ) from error
    return listening
