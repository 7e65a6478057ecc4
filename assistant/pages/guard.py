"""Who may speak to the pages: this machine, our own pages, with the session's own address.

What lives here: Host, Origin, size and the headers of every answer, as one ASGI layer around the application. What must not:
what a page holds.

An address on 127.0.0.1 can be reached by every web page that is open in the same browser. So: the Host must be ours (a name
that was made to point here is refused), an Origin, where there is one, must be ours, a browser that says the request comes from
another site is refused, and whoever sends an order must say its Origin.
"""

from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}


class Guard:
    """Lets a request through to ``app``, or answers it with a refusal. ``hosts``: as they stand in the Host header."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str]) -> None:
        self._app = app
        self._hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refusal = self._refusal(scope["method"], Headers(scope=scope))
        app = PlainTextResponse(refusal, 403) if refusal else self._app
        await app(scope, receive, with_headers)

    def _refusal(self, method: str, headers: Headers) -> str:
        """Why not, empty when there is nothing against it."""
        host, origin = headers.getlist("host"), headers.getlist("origin")
        if len(host) != 1 or host[0] not in self._hosts:
            return "This address is not known here."
        if origin not in ([], [f"http://{host[0]}"]) or headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return "Other sites cannot use these pages."
        if method not in ("GET", "HEAD") and not origin:
            return "An order has to come from the helper page."
        return ""
