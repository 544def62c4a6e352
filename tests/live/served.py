"""A live page of a small scenario, served in this process, and questions to it."""

import http.client
import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from radiosim.live.desk import Desk
from radiosim.live.hall import Hall, Single
from radiosim.live.server import LiveServer

SMALL = """
title = "Two </script> units"
starts = 5
duration_s = 4
radio.profile = "gfsk-1M"
receiver = { boot_s = 0, loop_ms = 2 }  # read as it comes
failsafe.drive = { timeout_ms = 250 }
[transmitter.drive]
period_ms = 20  # of its timer
boot_s = 0
payload_bytes = 6
[transmitter.head]
period_ms = 23
boot_s = 0
payload_bytes = 4
[[requirement]]
figure = "stream.drive.gap_ms.max"
at_most = 900
"""


def desk(folder: Path, text: str = SMALL) -> Desk:
    """A desk of a scenario in a file of its own."""
    path = folder / "small.toml"
    path.write_text(text, encoding="utf-8")
    return Desk(path, str(path))


@contextmanager
def served(on: Desk | Hall, **seconds: float) -> Iterator[LiveServer]:
    """A server that ends with the block; `seconds` that it is patient for."""
    with LiveServer(on if isinstance(on, Hall) else Single(on), **seconds) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        try:
            yield server
        finally:
            server.shutdown()
            thread.join()


def request(
    server: LiveServer, method: str, name: str, asked: Any = None, **headers: str | None
) -> tuple[int, bytes]:
    """Status and body of one request as the server's own page makes it, but for some headers."""
    host = f"127.0.0.1:{server.server_port}"
    given: dict[str, str | None] = {"Host": host}
    if method == "POST":
        given |= {"Origin": f"http://{host}", "Content-Type": "application/json"}
    given |= {key.replace("_", "-"): value for key, value in headers.items()}
    path = name if name.startswith("/") else f"/{server.door.token}/{name}"
    connection = http.client.HTTPConnection(*server.server_address[:2], timeout=120)
    try:
        connection.putrequest(method, path, skip_host=True)
        body = b"" if asked is None else json.dumps(asked).encode()
        for key, value in {"Content-Length": str(len(body)), **given}.items():
            if value is not None:
                connection.putheader(key, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        return answer.status, answer.read()
    finally:
        connection.close()


def lines(body: bytes) -> list[dict[str, Any]]:
    """The lines of an answer."""
    return [json.loads(line) for line in body.splitlines()]
