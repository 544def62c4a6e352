"""What a builder is taken to want who asks for nothing else (common practice, no source)."""

USUAL_GAP_MS = 200.0
"""Longest time without a value."""
USUAL_WAIT_MS = 100.0
"""From one value to the next, 99 of 100: longer than this and what moves is jerky."""
USUAL_LATENCY_MS = 100.0
"""From a hand or a head to the servo, 99 of 100 values: later than this and it is felt."""
