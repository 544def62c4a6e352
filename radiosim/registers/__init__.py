"""Registers: one row a kind of fault, one row a figure; all that names one is made from its row."""
