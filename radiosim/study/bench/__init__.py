"""The bench test sheet: steps to try on the bench, each with what is predicted for it."""

from radiosim.study.bench.sheet import MINUTES, bench_test_sheet
from radiosim.study.bench.step import STARTS, BenchTestSheet, Chapter, Prediction, Step, StepCase

__all__ = [
    "MINUTES",
    "STARTS",
    "BenchTestSheet",
    "Chapter",
    "Prediction",
    "Step",
    "StepCase",
    "bench_test_sheet",
]
