"""Figures of a run: accounting, gaps, latency, age, intervals, requirements."""

from radiosim.measure.summarise import summarise, summary_of
from radiosim.measure.summary import Summary

__all__ = ["Summary", "summarise", "summary_of"]
