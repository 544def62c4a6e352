"""Texts for terminals of the commands that have no report yet."""
