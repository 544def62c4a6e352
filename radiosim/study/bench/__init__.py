"""A card of steps to try on the bench, each with what is predicted for it."""

from radiosim.study.bench.card import bench_card
from radiosim.study.bench.step import Card, Chapter, Prediction, Step, Turn

__all__ = ["Card", "Chapter", "Prediction", "Step", "Turn", "bench_card"]
