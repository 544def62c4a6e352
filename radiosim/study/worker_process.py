"""What a process of a pool runs: it works out what it is sent, until nobody sends any more.

Requests come on standard input and results go to standard output, each pickled. It starts as a new
interpreter: no thread of whoever started it, and no main program of theirs, is in it.
"""

import os
import pickle
import sys
import traceback
import warnings
from queue import SimpleQueue
from threading import Thread
from typing import IO

from radiosim.endings import end
from radiosim.errors import RadiosimError

_LENGTH_BYTES = 8


def send(stream: IO[bytes], data: bytes) -> None:
    """Write a message to a pipe without a buffer. OSError or ValueError if nobody reads it."""
    left = memoryview(len(data).to_bytes(_LENGTH_BYTES, "little") + data)
    while left:
        left = left[stream.write(left) or 0 :]


def receive(stream: IO[bytes]) -> bytes | None:
    """The next message from a pipe; None if there is none, or not all of it."""
    head = stream.read(_LENGTH_BYTES)
    length = int.from_bytes(head, "little")
    data = stream.read(length) if len(head) == _LENGTH_BYTES else b""
    return data if data and len(data) == length else None


def serve() -> None:
    """Work out one request after the other; ends with whoever started it."""
    results = open(os.dup(sys.stdout.fileno()), "wb", buffering=0)  # noqa: SIM115, PTH123
    # What else is printed here must not stand among results, and is nothing for a user.
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    warnings.simplefilter("ignore")
    requests: SimpleQueue[bytes] = SimpleQueue()
    # Beside the work: only so is it seen at once that nobody waits for it any more.
    Thread(target=_receive_all, args=(requests,), daemon=True).start()
    while True:
        try:
            send(results, _result_of(requests.get()))
        except (OSError, MemoryError):
            end(1)


def _receive_all(requests: "SimpleQueue[bytes]") -> None:
    try:
        while (request := receive(sys.stdin.buffer)) is not None:
            requests.put(request)
    finally:
        end(1)


def _result_of(request: bytes) -> bytes:
    """Whether it went well, and the result or the error, pickled."""
    try:
        work, arguments = pickle.loads(request)
        return pickle.dumps((True, work(*arguments)))
    except Exception as error:
        if not isinstance(error, RadiosimError):
            error.add_note(f"in a process of its own: {traceback.format_exc()}")
        return _told(error)


def _told(error: Exception) -> bytes:
    try:
        data = pickle.dumps((False, error))
        pickle.loads(data)
    except Exception:
        return pickle.dumps((False, RuntimeError(f"{type(error).__name__}: {error}")))
    return data
