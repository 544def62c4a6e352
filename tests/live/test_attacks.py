"""Attacks on the live page's server, each made: all are refused, and the page goes on.

What is attacked: OWASP cheat sheets on cross-site request forgery, DNS rebinding, clickjacking and
path traversal; CWE-22, CWE-352, CWE-400, CWE-1021; from memory.
"""

import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from radiosim.live.guards import LARGEST_BYTES
from radiosim.live.server import MOST_AT_ONCE, LiveServer
from tests.live.served import desk, lines, request, served

ASKED = {"page": "a", "set": {}}
PERIOD = "transmitter.drive.period_ms"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    with served(desk(tmp_path_factory.mktemp("live"))) as found:
        yield found


def connected(server: LiveServer) -> socket.socket:
    return socket.create_connection(server.server_address[:2], timeout=20)


def said(server: LiveServer, raw: bytes) -> bytes:
    """All that comes back for some bytes as they are."""
    with connected(server) as connection:
        connection.sendall(raw)
        connection.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: connection.recv(65536), b""))


@pytest.mark.parametrize(
    "host", ["radio.example", "localhost", "127.0.0.1", "127.0.0.1:1", "[::1]:80", "", None]
)
def test_another_host_name_is_refused(server: LiveServer, host: str | None) -> None:
    assert request(server, "GET", "", Host=host)[0] == 421
    assert request(server, "POST", "answer", ASKED, Host=host)[0] == 421


def test_two_host_names_are_refused(server: LiveServer) -> None:
    own = f"127.0.0.1:{server.server_port}"
    raw = f"GET /{server.door.token}/ HTTP/1.1\r\nHost: {own}\r\nHost: radio.example\r\n\r\n"

    assert said(server, raw.encode()).startswith(b"HTTP/1.1 421")


@pytest.mark.parametrize(
    "origin", ["null", "http://radio.example", "http://127.0.0.1:1", "https://127.0.0.1", None]
)
def test_another_origin_may_not_ask(server: LiveServer, origin: str | None) -> None:
    assert request(server, "POST", "answer", ASKED, Origin=origin)[0] == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none", "anything"])
def test_a_browser_that_comes_from_elsewhere_may_not_ask(server: LiveServer, site: str) -> None:
    assert request(server, "POST", "answer", ASKED, Sec_Fetch_Site=site)[0] == 403
    expected = 200 if site == "none" else 403
    assert request(server, "GET", "", Sec_Fetch_Site=site)[0] == expected


@pytest.mark.parametrize(
    "kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "", None]
)
def test_what_a_form_of_another_site_can_send_is_refused(
    server: LiveServer, kind: str | None
) -> None:
    assert request(server, "POST", "answer", ASKED, Content_Type=kind)[0] == 415


@pytest.mark.parametrize("method", ["OPTIONS", "HEAD", "PUT", "DELETE", "TRACE", "CONNECT", "X<b>"])
def test_other_methods_are_refused_without_a_word_of_them(server: LiveServer, method: str) -> None:
    status, body = request(server, method, "")

    assert status == 501
    assert body in (b"refused\n", b"")


def test_a_wrong_token_finds_nothing(server: LiveServer) -> None:
    token = server.door.token
    for wrong in ("", "x", token[:-1], f"{token}x", token.swapcase(), f"%00{token}", "é"):
        raw = f"GET /{wrong}/ HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n"
        assert said(server, raw.encode("latin-1")).startswith(b"HTTP/1.1 404"), wrong
    assert len(token) >= 32


@pytest.mark.parametrize(
    "name",
    [
        "../live.css",
        "..%2f..%2fpyproject.toml",
        "%2e%2e/%2e%2e/etc/passwd",
        "....//answer.py",
        "/etc/passwd",
        "live.html.j2",
        "page.py",
        "live.css%00",
        "live.css/",
        "./live.css",
        "\\..\\page.py",
    ],
)
def test_no_other_file_can_be_had(server: LiveServer, name: str) -> None:
    status, body = request(server, "GET", f"/{server.door.token}/{name}")

    assert (status, body) == (404, b"nothing here\n")
    assert request(server, "POST", f"/{server.door.token}/{name}", ASKED)[0] == 404


def test_every_word_forbids_frames_and_all_that_is_foreign(server: LiveServer) -> None:
    raw = f"HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n"
    for path in (f"/{server.door.token}/", f"/{server.door.token}/live.js", "/x/", "/"):
        told = said(server, f"GET {path} {raw}".encode()).partition(b"\r\n\r\n")[0].decode()
        assert "frame-ancestors 'none'" in told
        assert "default-src 'none'" in told
        assert "unsafe" not in told
        assert "X-Frame-Options: DENY" in told
        assert "Cross-Origin-Resource-Policy: same-origin" in told
        assert "Access-Control" not in told


@pytest.mark.parametrize(
    "asked",
    [
        {"set": {"starts": 100_000}},
        {"set": {"transmitter.drive.payload_bytes ": 6}},
        {"set": {"receiver.program": "/bin/sh"}},
        {"set": {"transmitter.drive.signals.x.file": "/etc/passwd"}},
        {"set": {"__class__": 1}},
        {"set": {PERIOD: "20"}},
        {"set": {PERIOD: True}},
        {"set": {PERIOD: None}},
        {"set": {PERIOD: [20]}},
        {"set": {PERIOD: 1e300}},
        {"set": {PERIOD: 10**400}},
        {"set": {PERIOD: float("nan")}},
        {"set": {"transmitter.drive.retry_limit": 2.5}},
        {"set": {"receiver.read": "all\nfault=[]"}},
        {"set": {"receiver.read": ["all"]}},
        {"set": {"receiver.read": 1}},
        {"set": [PERIOD]},
        {"set": None},
        ["set"],
        "set",
        None,
    ],
    ids=str,
)
def test_what_the_page_does_not_offer_can_not_be_set(server: LiveServer, asked: Any) -> None:
    status, body = request(server, "POST", "answer", asked)

    assert status in (400, 409)
    assert b"/etc" not in body


def test_a_value_that_the_scenario_can_not_have_is_refused_in_words(server: LiveServer) -> None:
    _, body = request(server, "POST", "answer", {"set": {PERIOD: -5}})

    (line,) = lines(body)
    assert line["kind"] == "refused"
    assert "period_ms" in line["problems"][0]


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"\xff", b'{"set":{"a":1e999}}', b"9" * 5000, b"[" * 16000],
    ids=["nothing", "half", "no text", "too large", "many digits", "deep"],
)
def test_what_is_no_question_is_refused(server: LiveServer, body: bytes) -> None:
    head = (
        f"POST /{server.door.token}/answer HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n"
        f"Origin: http://127.0.0.1:{server.server_port}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )

    assert said(server, head.encode() + body)[9:12] in (b"400", b"409")


@pytest.mark.parametrize("length", [str(LARGEST_BYTES + 1), "-1", "1e3", "9" * 400, "", "x"])
def test_a_question_of_no_or_too_great_a_length_is_not_read(
    server: LiveServer, length: str
) -> None:
    assert request(server, "POST", "answer", ASKED, Content_Length=length)[0] == 413


def test_a_head_without_an_end_is_refused(server: LiveServer) -> None:
    many = b"".join(b"X-%d: 1\r\n" % k for k in range(200))
    assert said(server, b"GET / HTTP/1.1\r\n" + many)[9:12] == b"431"
    assert said(server, b"GET /" + b"x" * 70_000)[9:12] == b"414"
    assert said(server, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n")[9:12] in (
        b"400",
        b"",
    )


def test_who_says_nothing_is_sent_away(tmp_path: Path) -> None:
    with served(desk(tmp_path), silent_s=0.05) as server, connected(server) as connection:
        assert connection.recv(1) == b""


def test_who_speaks_for_ever_without_asking_is_sent_away(tmp_path: Path) -> None:
    with served(desk(tmp_path), slow_s=0.1) as server, connected(server) as connection:
        connection.settimeout(0.01)
        connection.sendall(b"GET / HTTP/1.1\r\n")
        for _ in range(1000):
            try:
                if connection.recv(1) == b"":
                    break
            except TimeoutError:
                connection.sendall(b"x")
            except ConnectionError:
                break
        else:
            pytest.fail("it is still listened to")


@pytest.mark.slow
def test_a_thousand_connections_take_no_more_threads_than_there_is_room_for(
    tmp_path: Path,
) -> None:
    before = threading.active_count()
    with served(desk(tmp_path), silent_s=0.2) as server:
        crowd = [connected(server) for _ in range(1000)]
        assert threading.active_count() <= before + 1 + MOST_AT_ONCE
        for one in crowd:
            one.close()
        status = 0
        while status != 200:
            try:
                status, _ = request(server, "GET", "")
            except OSError:  # there was no room yet
                continue
        assert request(server, "POST", "answer", ASKED)[0] == 200


def test_the_token_is_new_each_time_and_stands_in_no_list_of_arguments(tmp_path: Path) -> None:
    with served(desk(tmp_path)) as one, served(desk(tmp_path)) as other:
        assert one.door.token != other.door.token
        asked = Path("/proc/self/cmdline")
        if asked.exists():
            assert one.door.token.encode() not in asked.read_bytes()


HOSTILE = "</script><img src=x onerror=alert(1)>\"'`${x}"


def test_hostile_names_of_a_scenario_are_no_markup(tmp_path: Path) -> None:
    text = f"""
title = '''{HOSTILE}'''
starts = 1
duration_s = 1
radio.profile = "gfsk-1M"
transmitter.drive = {{ period_ms = 20, payload_bytes = 6 }}
"""
    with served(desk(tmp_path, text)) as server:
        _, page = request(server, "GET", "")
        _, taken = request(server, "POST", "text", {"set": {PERIOD: 21}})

    assert b"<img" not in page
    assert page.count(b"</script>") == page.count(b"<script")
    assert b"toml" in taken
