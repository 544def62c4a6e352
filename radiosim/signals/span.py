"""What a signal needs to know of the field that it feeds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Range of a field, in the field's own unit."""

    minimum: float
    """Lowest value."""
    maximum: float
    """Highest value."""
    neutral: float
    """Value of the control at rest."""
    steps: int
    """Distinct numbers on the wire between minimum and maximum; 0 for a float."""
    scale: float
    """What one step on the wire stands for; below 0 if the wire counts the other way."""

    @property
    def middle(self) -> float:
        """Half way between minimum and maximum."""
        # Halved before adding: the ends of a 64-bit float have no finite sum.
        return self.minimum / 2 + self.maximum / 2

    def reach(self, middle: float) -> float:
        """How far one can go both ways from `middle`; 0 if it is not inside."""
        return max(0.0, min(self.maximum - middle, middle - self.minimum))


def clip(value: float, low: float, high: float) -> float:
    """The value, or the end that it passes."""
    return min(max(value, low), high)
