"""Figures of reports: one file a figure, each a value of numbers and what draws it.

A figure's module has a frozen dataclass of numbers (`…Data`), a function that takes them from
results, and `draw(data)`, which gives a `Drawn`: pictures for wide and narrow screens, the finding
as a title, the numbers in words, and the numbers themselves.
"""

from radiosim.report.figures.drawn import Drawn

__all__ = ["Drawn"]
