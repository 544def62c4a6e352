"""Figures of reports: one file a figure, each a value of numbers and what draws it.

A figure's module has a frozen dataclass of numbers (`…Data`), a function that takes them from
results, and `figure_of(data)`, which gives a `Figure`: the finding as a title, the numbers in
words, the numbers themselves, and what paints them for wide and narrow screens.
"""
