"""A real planner on a port of its own, in a thread of the test; and requests as plain bytes."""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sunsched.job.edited_file import EditedFile
from sunsched.planner import server
from sunsched.planner.guard import KEY_HEADER
from sunsched.planner.server import Planner

NOW = dt.datetime(2027, 6, 21, 10, 0, tzinfo=dt.UTC)
DAY = "2027-03-28"


@dataclass(frozen=True)
class Served:
    """A planner that answers, and its faults as it told them."""

    planner: Planner
    port: int
    told: list[str]

    @property
    def address(self) -> str:
        """Where the page is, with its key."""
        return f"http://127.0.0.1:{self.port}/?k={self.planner.key}"

    def post(self, what: str, **body: Any) -> tuple[int, Any]:
        """Status and JSON of a request as the page makes it."""
        status, _, content = self.request("POST", f"/api/{what}", self.body(**body))
        return status, json.loads(content)

    def body(self, **more: Any) -> bytes:
        """A request's body as the page writes it."""
        return json.dumps({"page": "a", "year": 2027, "day": DAY, **more}).encode()

    def request(
        self, method: str, path: str, body: bytes = b"", headers: dict[str, str] | None = None
    ) -> tuple[int, str, bytes]:
        """Status, head and content of a request; `headers` replace those of the page, '' leaves one out."""
        usual = {"Host": f"127.0.0.1:{self.port}", "Connection": "close", "Content-Length": str(len(body))}
        if method == "POST":
            usual |= {KEY_HEADER: self.planner.key, "Content-Type": "application/json"}
        lines = [f"{name}: {value}" for name, value in {**usual, **(headers or {})}.items() if value]
        head = "\r\n".join([f"{method} {path} HTTP/1.1", *lines, "", ""])
        return self.raw(head.encode("latin-1") + body)

    def raw(self, content: bytes, timeout_s: float = 30.0) -> tuple[int, str, bytes]:
        """The answer to bytes; status 0 where the connection was closed without one."""
        with socket.create_connection(("127.0.0.1", self.port), timeout_s) as connection:
            with contextlib.suppress(ConnectionError):
                connection.sendall(content)
            return answer_of(connection)


def answer_of(connection: socket.socket) -> tuple[int, str, bytes]:
    """What comes until the connection is closed."""
    parts = []
    with contextlib.suppress(ConnectionError):
        while part := connection.recv(65536):
            parts.append(part)
    head, _, content = b"".join(parts).partition(b"\r\n\r\n")
    return int(head.split()[1]) if head else 0, head.decode("latin-1"), content


@contextlib.contextmanager
def served(config: Path | None) -> Iterator[Served]:
    """A planner for a file, ended with the block."""
    told: list[str] = []
    planner = Planner(EditedFile(None if config is None else str(config)), lambda: NOW, told.append)
    found = server.listening(0)
    running = server.server_of(planner, found)
    thread = threading.Thread(target=running.run, kwargs={"sockets": [found]}, daemon=True)
    thread.start()
    try:
        yield Served(planner, found.getsockname()[1], told)
    finally:
        running.should_exit = True
        thread.join(10)
        planner.close()
        found.close()
    assert told == []
