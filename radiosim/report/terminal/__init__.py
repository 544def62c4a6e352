"""A summary in a builder's words, for a terminal of 80 columns or a pipe."""

from radiosim.report.terminal.whole import print_summary

__all__ = ["print_summary"]
