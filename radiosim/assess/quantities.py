"""A figure's value with its unit, by the figure's path."""

from radiosim.results.formats import duration_text, fmt_sig3


def is_time(figure: str) -> bool:
    """Whether a figure is in milliseconds, by its path: `stream.drive.gap_ms.max` is."""
    return any(step.endswith("_ms") for step in figure.split("."))


def quantity_text(figure: str, value: float) -> str:
    """A value as prose has it: times with their unit, all else with three digits."""
    return duration_text(value) if is_time(figure) else fmt_sig3(value)
