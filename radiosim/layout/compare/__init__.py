"""What one end reads of what the other end sends, when their layouts differ."""

from radiosim.layout.compare._questions import Question
from radiosim.layout.compare._reading import FieldReading, Misreading
from radiosim.layout.compare.compared import Comparison, Direction, Outcome, compare

__all__ = [
    "Comparison",
    "Direction",
    "FieldReading",
    "Misreading",
    "Outcome",
    "Question",
    "compare",
]
