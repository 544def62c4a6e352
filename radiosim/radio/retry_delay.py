"""Retry delays as radios hold them: step numbers of 250 us."""

STEP_US = 250
"""Radios know retry delays in these steps (PS 7.4.2)."""
LONGEST_US = 4000
"""Step 15, the last (PS 7.4.2)."""


def step_of(delay_us: float) -> int | None:
    """The number that a firmware gives the radio for a delay (delay/250 − 1); None if it has none.

    Source: PS 7.4.2, delays of 250 to 4000 us in steps of 250 (S).
    """
    steps, rest = divmod(delay_us, STEP_US)
    return int(steps) - 1 if not rest and STEP_US <= delay_us <= LONGEST_US else None


def with_step(delay_us: float) -> str:
    """A delay with its step number, as every message shows it: `750 us (step 2)`."""
    step = step_of(delay_us)
    return f"{delay_us:g} us ({'no step' if step is None else f'step {step}'})"


def neighbours(delay_us: float) -> str:
    """The steps around a delay that is none, with their numbers."""
    if delay_us > LONGEST_US:
        return f"the last is {with_step(LONGEST_US)}"
    if delay_us < STEP_US:
        return f"the first is {with_step(STEP_US)}"
    below_us = delay_us // STEP_US * STEP_US
    return f"next to it are {with_step(below_us)} and {with_step(below_us + STEP_US)}"
