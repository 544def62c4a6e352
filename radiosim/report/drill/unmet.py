"""What was asked on the command line and is not kept, in one line each."""

from radiosim.counted import counted
from radiosim.report.terminal.words import digits, limit
from radiosim.study.drill.results import Violation


def unmet_text(unmet: Violation) -> str:
    """One line: what the stream does, and what was asked."""
    asked, found = limit(unmet.asked), digits(unmet.found)
    if found == digits(unmet.asked) and unmet.found is not None:
        # A rounded figure must not seem to meet a limit that it misses.
        found = f"{unmet.found:.6g}"
    timeout = "" if unmet.timeout_ms is None else f"its timeout of {limit(unmet.timeout_ms)} ms "
    if unmet.figure == "nuisance_per_hour":
        return (
            f"{unmet.stream}: {timeout}trips for nothing at least {found} times an hour (95 % "
            f"sure), not under the {counted(unmet.asked, 'time')} asked (--nuisance-per-hour)"
        )
    not_within = f"not within the {asked} ms asked (--reaction-ms)"
    if unmet.is_drilled:
        return f"{unmet.stream}: {unmet.where} stops after up to {found} ms, {not_within}"
    if unmet.found is None:
        return f"{unmet.stream}: no bound for {unmet.where}, {not_within}: {unmet.why}"
    return f"{unmet.stream}: {timeout}stops within {found} ms, {not_within}"
