"""What the name of a field says about its use."""

_COUNTERS = ("count", "counter", "seq", "sequence", "serial", "packet_number", "frame_number")
_VERSIONS = ("version", "ver", "proto", "protocol", "revision")
_SPARES = ("spare", "reserved", "pad", "padding", "unused", "dummy", "filler")


def is_counter(name: str) -> bool:
    """Does a field count frames, by its name?"""
    return _is_among(name, _COUNTERS)


def is_version(name: str) -> bool:
    """Does a field tell one layout from another, by its name?"""
    return _is_among(name, _VERSIONS)


def is_spare(name: str) -> bool:
    """Does a field carry nothing, by its name?"""
    return _is_among(name, _SPARES)


def _is_among(name: str, words: tuple[str, ...]) -> bool:
    """Is a name one of the words, or does it begin or end with one and an underscore?"""
    lower = name.lower().rstrip("0123456789").rstrip("_")
    return any(
        lower == word or lower.startswith(f"{word}_") or lower.endswith(f"_{word}")
        for word in words
    )
