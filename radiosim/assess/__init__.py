"""What figures mean: verdicts, hazards, what faults led to; no screen or file is known here."""
