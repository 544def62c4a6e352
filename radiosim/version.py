"""The version: part of what makes a run repeatable (rule T2)."""

VERSION = "0.1.0"
