"""Whether an address is that of a cluster's scheduler, found out in a few seconds at most.

A client that is handed any other address may wait for minutes, or take what it reads for a length.
"""

import asyncio
import re
from typing import Any

_ADDRESS = re.compile(r"(?:(?P<scheme>\w+)://)?(?P<host>[^\s/:]+|\[[0-9a-fA-F:.]+\]):(?P<port>\d+)")
SCHEMES = ("tcp", "tls")
MOST_PORT = 65_535
_MUST_BE = "must be the address of a scheduler"


def why_no_address(address: str) -> str:
    """What is wrong with the text of an address; nothing if it can be one."""
    found = _ADDRESS.fullmatch(address)
    if found is None or not 0 < int(found["port"]) <= MOST_PORT:
        return f"{_MUST_BE}, as tcp://a:8786 with a port up to {MOST_PORT}, got {address}"
    if found["scheme"] not in (None, *SCHEMES):
        return f"{_MUST_BE}, one of {' or '.join(SCHEMES)}, got {address}"
    return ""


def why_no_scheduler(address: str, within_s: float) -> str:
    """What is wrong with what is found at an address; nothing if a scheduler is."""
    from distributed.comm.core import connect  # noqa: PLC0415 - an extra, and loads slowly

    try:
        told = asyncio.run(asyncio.wait_for(_identity(connect, address, within_s), within_s))
    except TimeoutError:
        return f"{_MUST_BE}: nothing came from {address} in {within_s:g} s"
    except MemoryError:
        told = None  # the first bytes of what it says were taken for a length
    except Exception as error:
        # Whatever may come up as something else than a scheduler is listened to.
        return f"{_MUST_BE}: {address}: {_cause(error)}"
    if not isinstance(told, dict) or told.get("type") != "Scheduler":
        return f"{_MUST_BE}, got another program at {address}"
    return ""


async def _identity(connect: Any, address: str, within_s: float) -> Any:
    """What a program at an address says it is."""
    # It tries again and again, and knows at its end why none of that went well.
    comm: Any = await connect(address, timeout=within_s / 2)
    try:
        await comm.write({"op": "identity", "reply": True})
        return await comm.read()
    finally:
        comm.abort()


def _cause(error: BaseException) -> str:
    """What the system said, if it is behind an error; else what the error says."""
    found: BaseException | None = error
    while found is not None:
        if isinstance(found, OSError) and found.strerror:
            return found.strerror
        found = found.__cause__
    return str(error) or type(error).__name__
