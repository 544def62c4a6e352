"""The least of a mutant that still shows what is wrong."""

from collections.abc import Callable, Sequence

MOST_TRIES = 3_000


def shrunk(text: bytes, is_wrong: Callable[[bytes], bool]) -> bytes:
    """A text that is wrong without any of its lines, and then without any of its bytes."""
    lines = _without_parts(text.splitlines(keepends=True), lambda left: is_wrong(b"".join(left)))
    single = [bytes([byte]) for byte in b"".join(lines)]
    return b"".join(_without_parts(single, lambda left: is_wrong(b"".join(left))))


def _without_parts(
    parts: Sequence[bytes], is_wrong: Callable[[Sequence[bytes]], bool]
) -> Sequence[bytes]:
    """What is left when ever smaller runs of parts are taken out for as long as that may be."""
    tries, size = 0, max(1, len(parts) // 2)
    while True:
        at, before = 0, len(parts)
        while at < len(parts) and tries < MOST_TRIES:
            left = [*parts[:at], *parts[at + size :]]
            tries += 1
            if is_wrong(left):
                parts = left
            else:
                at += size
        if size == 1 and (len(parts) == before or tries >= MOST_TRIES):
            return parts
        size = max(1, size // 2)
