"""Choosing settings before any firmware is written."""
