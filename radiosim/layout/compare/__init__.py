"""What one end reads of what the other end sends, when their layouts differ."""

from radiosim.layout.compare._questions import OF_FILE, OF_LAYOUT, Comments, Question, Values
from radiosim.layout.compare._reading import FieldReading, Misreading
from radiosim.layout.compare.compared import Comparison, Direction, Outcome, compare

__all__ = [
    "OF_FILE",
    "OF_LAYOUT",
    "Comments",
    "Comparison",
    "Direction",
    "FieldReading",
    "Misreading",
    "Outcome",
    "Question",
    "Values",
    "compare",
]
