"""Who may ask the planner anything: the browser on this computer that was given the key, and nobody else.

`Guard` stands before every route: Host, Origin, the browser's own word on where a request comes from, the key, and the
size and the time of a body. `Connection` closes what is too slow to be a browser. docs/planner.md says what each gets.
"""

from __future__ import annotations

import asyncio
import hmac
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from typing import Any
from urllib.parse import parse_qs

from uvicorn.protocols.http.h11_impl import H11Protocol

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Any, Receive, Send], Awaitable[None]]

# The file's own limit is 250 kB; twice that, written as JSON, with the settings to compare.
MOST_BODY_BYTES = 600_000
REQUEST_S, ANSWER_S = 10.0, 30.0
KEY_HEADER = "x-planner-key"
_WORDS = {
    400: "not a request that the planner knows",
    403: "this page answers the browser that sunsched planner opened, by the address that it printed",
    408: "the request was not there in time",
    413: "more than the planner reads",
    421: "this is no name of the planner: open the address that sunsched planner printed",
}


class Guard:
    """Lets through what has the key and comes from the page itself; adds the policy to every answer.

    port   the port that the planner listens on
    policy   the Content-Security-Policy of answers that bring none of their own
    """

    def __init__(self, app: App, port: int, key: str, policy: str) -> None:
        self._app, self._key = app, key.encode()
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        if port == 80:
            self._hosts |= {"127.0.0.1", "localhost"}
        self._origins = {f"http://{host}" for host in self._hosts}
        self._policy = policy.encode()

    async def __call__(self, scope: Any, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        guarded = self._with_policy(send)
        refused = self._refused(scope, headers)
        body = b""
        if not refused:
            refused, body = await _body(headers, receive)
        if refused:
            await _refuse(refused, guarded)
            return
        await self._app(scope, _told(body, receive), guarded)

    def _refused(self, scope: Any, headers: Mapping[str, str]) -> int:
        """The status with which a request is refused, 0 for one that may pass."""
        if headers.get("host") not in self._hosts:
            return 421
        if "origin" in headers and headers["origin"] not in self._origins:
            return 403
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403
        if not hmac.compare_digest(self._given_key(scope, headers), self._key):
            return 403
        return 0

    def _given_key(self, scope: Any, headers: Mapping[str, str]) -> bytes:
        """The key: in a header, or in the address where a page is opened."""
        if scope["method"] in ("GET", "HEAD"):
            given = parse_qs(scope["query_string"].decode("latin-1")).get("k", [""])
            return given[0].encode() if len(given) == 1 else b""
        return headers.get(KEY_HEADER, "").encode()

    def _with_policy(self, send: Send) -> Send:
        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = {name.lower() for name, _ in message["headers"]}
                more = [
                    (b"cache-control", b"no-store"),
                    (b"x-content-type-options", b"nosniff"),
                    (b"referrer-policy", b"no-referrer"),
                    (b"cross-origin-resource-policy", b"same-origin"),
                    (b"cross-origin-opener-policy", b"same-origin"),
                ]
                more += [] if b"content-security-policy" in own else [(b"content-security-policy", self._policy)]
                message["headers"] = [*message["headers"], *more]
            await send(message)

        return sent


async def _body(headers: Mapping[str, str], receive: Receive) -> tuple[int, bytes]:
    """The whole body, or the status with which it is refused: too long by its own word, too long in fact, too slow."""
    stated = headers.get("content-length", "0")
    if not stated.isascii() or not stated.isdigit():
        return 400, b""
    if len(stated) > 12 or int(stated) > MOST_BODY_BYTES:
        return 413, b""
    parts: list[bytes] = []
    size = 0
    try:
        async with asyncio.timeout(REQUEST_S):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    return 400, b""
                parts.append(message.get("body", b""))
                size += len(parts[-1])
                if size > MOST_BODY_BYTES:
                    return 413, b""
                if not message.get("more_body"):
                    return 0, b"".join(parts)
    except TimeoutError:
        return 408, b""


def _told(body: bytes, receive: Receive) -> Receive:
    """The body once, then whatever the connection says."""
    waiting = [body]

    async def received() -> Message:
        if waiting:
            return {"type": "http.request", "body": waiting.pop(), "more_body": False}
        return await receive()

    return received


async def _refuse(status: int, send: Send) -> None:
    words = f"sunsched planner: {_WORDS[status]}\n".encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
    headers.append((b"content-length", str(len(words)).encode()))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": words})


class Connection(H11Protocol):
    """A connection that is closed where a request that has begun is not there in time, or its answer is not taken.

    uvicorn itself waits without end for the head of a request, and for a client to read.
    """

    _seen: tuple[object, int] = (None, 0)
    _stuck = 0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to watch."""
        super().connection_made(transport)
        self.loop.call_later(REQUEST_S, self._watch)

    def _watch(self) -> None:
        unsent = self.transport.get_write_buffer_size()
        if self.transport.is_closing() and not unsent:
            return
        answering = self.cycle is not None and not self.cycle.response_complete
        now = (self.cycle, unsent)
        self._stuck = self._stuck + 1 if unsent and now == self._seen else 0
        waits_for_head = not answering and not unsent and (self.cycle is None or now == self._seen)
        if waits_for_head or self._stuck * REQUEST_S >= ANSWER_S:
            self.transport.abort()
            return
        self._seen = now
        self.loop.call_later(REQUEST_S, self._watch)
