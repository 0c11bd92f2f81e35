"""Who is refused, by real requests to a real planner: nothing is read or written for them, and the page goes on."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from sunsched.base.errors import UsageError
from sunsched.planner import guard, server
from sunsched.planner.guard import KEY_HEADER, MOST_BODY_BYTES
from tests.conftest import CONFIGS
from tests.planner.served import Served, answer_of, served

LARCH = CONFIGS[0].parent / "larch_end.toml"


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file of the planner's own."""
    path = tmp_path_factory.mktemp("planner") / "hut.toml"
    path.write_bytes(LARCH.read_bytes())
    return path


@pytest.fixture(scope="module")
def page(config: Path) -> Iterator[Served]:
    """One planner for all attacks: it must outlive them."""
    with served(config) as one:
        yield one


@pytest.fixture(autouse=True)
def untouched(config: Path, page: Served) -> Iterator[None]:
    """After every attack the file is as it was, it lies alone, and the page answers."""
    yield
    assert config.read_bytes() == LARCH.read_bytes()
    assert [path.name for path in config.parent.iterdir()] == ["hut.toml"]
    assert page.request("GET", f"/?k={page.planner.key}")[0] == 200


def save(page: Served, headers: dict[str, str], path: str = "/api/save") -> int:
    """The status of a request to save that is whole but for what `headers` say."""
    digest = page.planner.session.state().digest
    body = page.body(text=LARCH.read_text().replace("birds = 6", "birds = 7"), digest=digest)
    return page.request("POST", path, body, headers)[0]


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "localhost.evil.example:{port}",
        "127.1:{port}",
    ],
)
def test_a_foreign_host_is_refused(page: Served, host: str) -> None:
    # A name of another site that was turned to 127.0.0.1 (DNS rebinding) still names itself in Host.
    name = host.format(port=page.port)
    assert save(page, {"Host": name}) == 421
    assert page.request("GET", f"/?k={page.planner.key}", headers={"Host": name})[0] == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1:1"])
def test_a_foreign_origin_is_refused(page: Served, origin: str) -> None:
    assert save(page, {"Origin": origin.format(port=page.port)}) == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "Same-Origin", "anything"])
def test_what_the_browser_calls_foreign_is_refused(page: Served, site: str) -> None:
    assert save(page, {"Sec-Fetch-Site": site}) == 403
    assert page.request("GET", f"/?k={page.planner.key}", headers={"Sec-Fetch-Site": site})[0] == 403


@pytest.mark.parametrize("key", ["", "x", "{key}x", "{short}", "é"])
def test_a_missing_or_wrong_key_is_refused(page: Served, key: str) -> None:
    given = key.format(key=page.planner.key, short=page.planner.key[:-1])
    assert save(page, {KEY_HEADER: given}) == 403
    # Where a page is opened the key stands in the address; elsewhere it does not count there.
    assert page.request("GET", f"/?k={given}".replace("é", "%C3%A9"))[0] == 403
    assert save(page, {KEY_HEADER: ""}, f"/api/save?k={page.planner.key}") == 403


def test_two_keys_are_none(page: Served) -> None:
    assert page.request("GET", f"/?k={page.planner.key}&k={page.planner.key}")[0] == 403


def test_two_hosts_are_refused(page: Served) -> None:
    head = f"GET /?k={page.planner.key} HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\nHost: evil.example\r\n\r\n"
    assert page.raw(head.encode())[0] == 400
    assert page.raw(f"GET /?k={page.planner.key} HTTP/1.0\r\n\r\n".encode())[0] == 421


@pytest.mark.parametrize(
    "path",
    [
        *("/etc/passwd", "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd", "/api/../hut.toml"),
        *("/hut.toml", "/api/", "/api/save/../plan", "/play/../../x", "/\\..\\x", "/api/file%00", "/page.html"),
    ],
)
def test_no_path_leads_to_a_file(page: Served, path: str) -> None:
    key = f"?k={page.planner.key}"
    status, _, content = page.request("GET", path + key)
    assert status in (404, 405), content
    assert b"root:" not in content and b"Larch" not in content
    assert page.request("POST", path, page.body())[0] in (404, 405)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "GET"])
def test_a_way_of_asking_that_is_none_is_refused(page: Served, method: str) -> None:
    status = page.request(method, f"/api/save?k={page.planner.key}", headers={KEY_HEADER: page.planner.key})[0]
    assert status == 405


def test_every_answer_bears_the_policy(page: Served) -> None:
    for path, status in ((f"/?k={page.planner.key}", 200), ("/", 403), (f"/x?k={page.planner.key}", 404)):
        got, head, _ = page.request("GET", path)
        assert got == status
        policy = next(line for line in head.split("\r\n") if line.startswith("content-security-policy: "))
        assert "default-src 'none'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
        assert "cache-control: no-store" in head and "x-content-type-options: nosniff" in head
        assert "referrer-policy: no-referrer" in head and "server:" not in head.lower()


def test_the_document_holds_neither_key_nor_file(page: Served) -> None:
    content = page.request("GET", f"/?k={page.planner.key}")[2]
    assert page.planner.key.encode() not in content and b"larch" not in content.lower()


def test_a_body_that_says_it_is_too_long_is_refused_unread(page: Served) -> None:
    head = (
        f"POST /api/plan HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n{KEY_HEADER}: {page.planner.key}\r\n"
        "Content-Type: application/json\r\nContent-Length: {}\r\n\r\n"
    )
    for length in (100_000_000, MOST_BODY_BYTES + 1, 10**12):
        # Not a byte of the body is sent: who waited for it would wait in vain.
        assert page.raw(head.format(length).encode())[0] == 413
    assert {page.raw(head.format(length).encode())[0] for length in ("-1", 10**30)} == {400}


def test_a_body_of_pieces_is_cut_off_at_the_limit(page: Served) -> None:
    head = (
        f"POST /api/plan HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n{KEY_HEADER}: {page.planner.key}\r\n"
        "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    piece = b"10000\r\n" + b" " * 65536 + b"\r\n"
    with socket.create_connection(("127.0.0.1", page.port), 30) as connection:
        connection.sendall(head.encode())
        sent = 0
        try:
            while sent < 100_000_000:
                sent += connection.send(piece)
        except ConnectionError:
            pass
        # The rest of 100 MB found no reader: what was sent fits into the limit and the system's own buffers.
        assert sent < 20_000_000
    # Sent a little more than the limit, the answer can be read.
    status = page.raw(head.encode() + piece * (MOST_BODY_BYTES // 65536 + 1))[0]
    assert status in (413, 0)


def test_slow_clients_are_let_go(page: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "REQUEST_S", 0.3)
    head = f"POST /api/plan HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n{KEY_HEADER}: {page.planner.key}\r\n"
    mute, dripping, half = (socket.create_connection(("127.0.0.1", page.port), 30) for _ in range(3))
    half.sendall(f"{head}Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{{".encode())
    try:
        for _ in range(40):  # a byte of a head now and then
            dripping.sendall(b"G")
            time.sleep(0.05)
        ended = False
    except ConnectionError:
        ended = True
    assert ended
    assert answer_of(mute)[0] == 0
    assert answer_of(half)[0] == 408
    for connection in (mute, dripping, half):
        connection.close()


def test_an_answer_that_nobody_takes_is_let_go(page: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "REQUEST_S", 0.1)
    monkeypatch.setattr(guard, "ANSWER_S", 0.3)
    asked = f"GET /?k={page.planner.key} HTTP/1.1\r\nHost: 127.0.0.1:{page.port}\r\n\r\n".encode()
    one = len(page.request("GET", f"/?k={page.planner.key}")[2])
    count = 30_000_000 // one  # more than the system holds on the way
    with socket.socket() as deaf:
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1024)
        deaf.settimeout(30)
        deaf.connect(("127.0.0.1", page.port))
        deaf.sendall(asked * count)
        time.sleep(1.5)
        answered = 0
        try:
            while part := deaf.recv(65536):
                answered += len(part)
        except ConnectionError:
            pass
    assert answered < count * one


def test_many_connections_do_not_shut_the_page_out_for_long(page: Served, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "REQUEST_S", 0.3)
    held = [socket.create_connection(("127.0.0.1", page.port), 30) for _ in range(100)]
    try:
        end = time.monotonic() + 20
        while page.request("GET", f"/?k={page.planner.key}")[0] != 200:
            assert time.monotonic() < end
            time.sleep(0.1)
    finally:
        for one in held:
            one.close()


@pytest.mark.parametrize(
    "body",
    [
        *(b"", b"[]", b"{", b"\xff", b'{"text": 1}', b'{"year": 1e400}', b'{"year": 2027, "day": "x"}', b"[" * 100_000),
        b'{"text": "", "year": 2027, "day": "2027-01-01", "typed": {"../x": "1"}}',
        b'{"year": 99, "day": "2027-01-01"}',
    ],
)
def test_a_body_of_another_form_is_told(page: Served, body: bytes) -> None:
    status, _, content = page.request("POST", "/api/plan", body)
    assert status == 400 and b"not what the planner takes" in content


def test_only_json_is_read(page: Served) -> None:
    # A form of another site can send these kinds without asking first.
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""):
        assert save(page, {"Content-Type": kind}) == 415


def test_a_port_in_use_is_told_in_words(page: Served) -> None:
    with pytest.raises(UsageError, match=f"--port is {page.port}, which cannot be had .*; wanted a free port"):
        server.listening(page.port)


def test_it_listens_on_this_computer_alone() -> None:
    found = server.listening(0)
    try:
        assert found.getsockname()[0] == "127.0.0.1"
        # Where the protocol is not named asyncio leaves Nagle's algorithm on, and each answer waits 40 ms.
        assert found.proto == socket.IPPROTO_TCP
    finally:
        found.close()
