"""Scenario texts that the tests of this folder start from."""

from pathlib import Path

HERE = Path(__file__).parent
SMALLEST = (HERE / "good" / "smallest.toml").read_text(encoding="utf-8")
FULL = (HERE / "good" / "full.toml").read_text(encoding="utf-8")
