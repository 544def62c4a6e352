"""A server of the standard library on this machine alone: a page, its parts, answers as lines."""

import json
import secrets
import select
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Literal

import msgspec

from radiosim.errors import RadiosimError
from radiosim.live.desk import Desk, Question
from radiosim.live.guards import HEADERS, LARGEST_BYTES, Door
from radiosim.live.hall import Hall, Single
from radiosim.live.turns import Turn, Turns
from radiosim.report.live.page import hall_html, page_html, part_of

MOST_AT_ONCE = 64
"""Connections; more are closed."""
SILENT_S = 3.0
"""A connection that says nothing for so long is closed, and one that takes no more of an answer."""
SLOW_S = 10.0
"""One that has not asked its whole question after so long is closed."""
MOST_STUDIES, STUDY_WAIT_S = 2, 0.1
"""Processes beside this one, and how often who waits for one looks whether somebody still does."""
STUDY = "study"
"""Added to a page's name: what takes seconds is not outdated by what does not."""
NAME_LETTERS = 40
"""Of a page's name that count."""


class LiveServer(ThreadingHTTPServer):
    """On this machine alone, on a port that was free."""

    daemon_threads = True
    request_queue_size = 1024
    """Who comes while others are let in waits no second for it."""

    def __init__(
        self,
        places: Hall | Single,
        port: int = 0,
        *,
        silent_s: float = SILENT_S,
        slow_s: float = SLOW_S,
    ) -> None:
        super().__init__(("127.0.0.1", port), _Handler)
        token = secrets.token_urlsafe(24)
        self.places, self.door = places, Door(port=self.server_port, token=token)
        self.turns = Turns()
        self.address = f"http://127.0.0.1:{self.server_port}/{token}/"
        self.silent_s, self._slow_s = silent_s, slow_s
        self._studies = threading.BoundedSemaphore(MOST_STUDIES)
        self._writing = threading.Lock()
        self._room = threading.BoundedSemaphore(MOST_AT_ONCE)
        self.asking: dict[socket.socket, float] = {}
        """Connections that have not asked their whole question yet → since when."""

    def process_request(self, request: Any, client_address: Any) -> None:
        """A thread for it, unless there are too many."""
        if self._room.acquire(blocking=False):
            self.asking[request] = time.monotonic()
            try:
                super().process_request(request, client_address)
            except BaseException:  # no thread could be started
                self.asking.pop(request, None)
                self._room.release()
                raise
        else:
            self.shutdown_request(request)

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """The same, until it ends."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self.asking.pop(request, None)
            self._room.release()

    def service_actions(self) -> None:
        """Close what asks too slowly: each of its letters comes in time, but not their end."""
        late = time.monotonic() - self._slow_s
        for connection, since in tuple(self.asking.items()):
            if since < late:
                with suppress(OSError):
                    connection.shutdown(socket.SHUT_RDWR)

    def studied(
        self, desk: Desk, kind: Literal["cure", "tune"], question: Question, turn: Turn
    ) -> Iterator[bytes]:
        """Lines of what takes seconds; no more than a few at once."""
        while not self._studies.acquire(timeout=STUDY_WAIT_S):
            if turn.is_outdated():
                return
        try:
            yield from desk.study(kind, question, turn.is_outdated)
        finally:
            self._studies.release()

    def write(self, place: str, desk: Desk, asked: Any) -> dict[str, Any]:
        """Write a scenario's file, one page after the other; its name."""
        with self._writing:
            written = desk.write(asked)
            self.places.put(place, written)
        return {"written": written.hello()["file"]}

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A reader who is gone is no error; the terminal gets what nobody foresaw."""
        if not isinstance(sys.exception(), OSError):
            super().handle_error(request, client_address)


def _in_turns(desk: Desk, question: Question, turn: Turn) -> Iterator[bytes]:
    return turn.lines(desk.answer(question, turn.is_outdated))


class _Handler(BaseHTTPRequestHandler):
    server: LiveServer
    protocol_version = "HTTP/1.1"
    server_version = "radiosim"
    sys_version = ""
    disable_nagle_algorithm = True
    """Else small answers on a kept connection wait 40 ms for the other end's word."""

    def setup(self) -> None:
        """Its time to be silent is the server's."""
        self.request.settimeout(self.server.silent_s)
        super().setup()

    def handle_one_request(self) -> None:
        """One question of a connection that may have more."""
        self.server.asking[self.connection] = time.monotonic()
        super().handle_one_request()

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """What the library refuses, without a word of what was asked."""
        self.close_connection = True
        self._send(code, "text/plain", b"refused\n")

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - its name there
        """Nothing: the address has the token in it."""

    def do_GET(self) -> None:
        """A page, or one of its parts."""
        self._has_asked()
        if self._is_refused():
            return
        place, name = self._place()
        page = self._page(place) if name == "" else None
        is_place = not place or self.server.places.desk_at(place) is not None
        found = part_of(name) if is_place else None
        if page is not None:
            self._send(200, "text/html; charset=utf-8", page.encode())
        elif found is not None:
            self._send(200, *found)
        else:
            self._send(404, "text/plain", b"nothing here\n")

    def _page(self, place: str) -> str | None:
        places = self.server.places
        if not place and isinstance(places, Hall):
            return hall_html(places.hello())
        desk = places.desk_at(place)
        return None if desk is None else page_html(desk.hello())

    def do_POST(self) -> None:
        """A question."""
        if self._is_refused():
            return
        length = self.headers.get("Content-Length", "")
        if not length.isdecimal() or int(length) > LARGEST_BYTES:
            self.send_error(413)
            return
        body = self.rfile.read(int(length))
        self._has_asked()
        try:
            asked = json.loads(body)
        except (ValueError, RecursionError):
            self.send_error(400)
            return
        try:
            self._answer(*self._place(), asked)
        except RadiosimError as error:
            refused = {"kind": "refused", "problems": str(error).splitlines()}
            self._send(409, "application/json", json.dumps(refused).encode())

    def _has_asked(self) -> None:
        self.server.asking.pop(self.connection, None)

    def _answer(self, place: str, name: str, asked: Any) -> None:
        server = self.server
        places, desk = server.places, server.places.desk_at(place)
        if desk is not None:
            self._answer_of(desk, place, name, asked)
        elif not place and isinstance(places, Hall) and name in ("form", "save"):
            found = places.form(asked) if name == "form" else places.save(asked)
            self._send(200, "application/json", msgspec.json.encode(found))
        else:
            self._send(404, "text/plain", b"nothing here\n")

    def _answer_of(self, desk: Desk, place: str, name: str, asked: Any) -> None:
        server, page = self.server, place
        if isinstance(asked, dict):
            page = f"{place} {str(asked.get('page', ''))[:NAME_LETTERS]}"
        match name:
            case "answer":
                self._stream(page, partial(_in_turns, desk, desk.read(asked)))
            case "cure" | "tune":
                studied = partial(server.studied, desk, name, desk.read(asked))
                self._stream(f"{page} {STUDY}", studied)
            case "text":
                self._send(200, "application/json", msgspec.json.encode(desk.taken(asked)))
            case "write":
                written = server.write(place, desk, asked)
                self._send(200, "application/json", msgspec.json.encode(written))
            case _:
                self._send(404, "text/plain", b"nothing here\n")

    def _place(self) -> tuple[str, str]:
        """Which scenario, empty for the only one or for none, and what of it."""
        _, _, *parts = self.path.partition("?")[0].split("/")
        match parts:
            case [name]:
                return "", name
            case [place, name]:
                return place, name
            case _:
                return "", "no such part"

    def _stream(self, page: str, lines_of: Callable[[Turn], Iterator[bytes]]) -> None:
        turn = self.server.turns.ask(page, self._is_gone)
        try:
            self.close_connection = True
            self.send_response(200)
            self._headers("application/x-ndjson")
            self.send_header("Connection", "close")
            self.end_headers()
            for line in lines_of(turn):
                self.wfile.write(line)
        finally:
            turn.leave()

    def _is_gone(self) -> bool:
        """Whether the browser has hung up."""
        readable, _, _ = select.select([self.connection], [], [], 0)
        return bool(readable) and self.connection.recv(1, socket.MSG_PEEK) == b""

    def _is_refused(self) -> bool:
        status = self.server.door.refusal(self.command, self.path, self.headers)
        if status:
            self.send_error(status)
        return bool(status)

    def _headers(self, kind: str) -> None:
        self.send_header("Content-Type", kind)
        for name, value in HEADERS.items():
            self.send_header(name, value)

    def _send(self, status: int, kind: str, body: bytes) -> None:
        self.send_response(status)
        self._headers(kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)
