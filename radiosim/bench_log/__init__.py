"""Logs that units write on the bench: their records, how files of them are read, and what they
tell as numbers with intervals. Knows nothing of scenarios."""
