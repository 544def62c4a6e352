"""The process that parses headers: it serves one request and ends, whatever a header does to it.

Started by `struct_reader`, with the request as JSON on standard input and the result on standard
output. It imports little, for it starts anew for each header; its time and memory are limited; and
it ends with whoever started it.
"""

import json
import os
import signal
import sys
from _thread import start_new_thread
from contextlib import suppress
from dataclasses import asdict
from typing import Any

from radiosim.c_header._parse import load_parser
from radiosim.c_header._struct import found_struct
from radiosim.c_header.abi import ABIS
from radiosim.c_header.sources import Sources
from radiosim.errors import LayoutError


def main(longest_s: int, most_memory_mb: int) -> None:
    """Serve the request on standard input: for each target a struct, or what is wrong with it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started this ends it
    request = json.loads(sys.stdin.buffer.readline())
    start_new_thread(_end_with_the_asker, ())
    try:
        load_parser()
        _limit(longest_s, most_memory_mb)
        result: Any = _results(request)
    except LayoutError as error:
        result = {target: {"problems": error.problems} for target in request["targets"]}
    except (MemoryError, RecursionError):
        os._exit(1)
    except Exception:
        import traceback  # noqa: PLC0415 - it is hardly ever needed

        result = traceback.format_exc()
    sys.stdout.write(json.dumps(result))
    sys.stdout.flush()
    os._exit(0)


def _end_with_the_asker() -> None:
    """End when the pipe that the request came by is closed: nobody waits any more."""
    sys.stdin.buffer.read()
    os._exit(1)


def _results(request: dict[str, Any]) -> dict[str, Any]:
    comments = {
        file: {int(line): text for line, text in said.items()}
        for file, said in request["comments"].items()
    }
    sources = Sources(files=request["files"], ignored=tuple(request["ignored"]), comments=comments)
    result: dict[str, Any] = {}
    for target in request["targets"]:
        try:
            found = found_struct(request["main"], sources, request["struct"], ABIS[target])
            result[target] = asdict(found)
        except LayoutError as error:
            result[target] = {"problems": error.problems}
    return result


def _limit(longest_s: int, most_memory_mb: int) -> None:
    """Limit this process: its time, its memory, and what it may write."""
    try:
        import resource  # noqa: PLC0415 - not on every system: there, the asker's clock alone
    except ImportError:
        return
    limits = {
        resource.RLIMIT_CORE: 0,
        resource.RLIMIT_CPU: longest_s,
        resource.RLIMIT_FSIZE: 0,
        resource.RLIMIT_AS: most_memory_mb * 1_000_000,
    }
    for limit, most in limits.items():
        _, hard = resource.getrlimit(limit)
        within = most if hard == resource.RLIM_INFINITY else min(most, hard)
        with suppress(ValueError, OSError):
            resource.setrlimit(limit, (within, hard))
