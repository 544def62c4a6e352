"""A number with its noun."""


def counted(number: float, noun: str, plural: str = "") -> str:
    """`1 frame`, `1,200 frames`, `0.5 times`; `plural` where it is not the noun with an s."""
    shown = f"{number:,}" if isinstance(number, int) else f"{number:g}"
    return f"{shown} {noun if number == 1 else plural or f'{noun}s'}"
