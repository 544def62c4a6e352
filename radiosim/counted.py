"""A count with its noun."""


def counted(count: int, noun: str, plural: str = "") -> str:
    """`1 frame`, `2 frames`, `1,200 frames`; `plural` where it is not the noun with an s."""
    return f"{count:,} {noun if count == 1 else plural or f'{noun}s'}"
