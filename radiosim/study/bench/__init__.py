"""The bench test sheet: steps to try on the bench, each with what is predicted for it."""

from radiosim.study.bench.sheet import bench_test_sheet
from radiosim.study.bench.step import BenchTestSheet, Chapter, Prediction, Step, StepCase

__all__ = ["BenchTestSheet", "Chapter", "Prediction", "Step", "StepCase", "bench_test_sheet"]
