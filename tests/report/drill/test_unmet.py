"""What was asked and is not kept, in words."""

import pytest

from radiosim.report.drill.unmet import unmet_text
from radiosim.study.drill.results import Violation


@pytest.mark.parametrize(
    ("figure", "asked", "found", "where", "why", "is_drilled", "text"),
    [
        (
            "reaction_ms", 400, 542.1, "motor", "", False,
            "drive: its timeout of 500 ms stops within 542 ms, not within the 400 ms asked "
            "(--reaction-ms)",
        ),
        (
            "reaction_ms", 400, 400.02, "motor", "", False,
            "drive: its timeout of 500 ms stops within 400.02 ms, not within the 400 ms asked "
            "(--reaction-ms)",
        ),
        (
            "reaction_ms", 400, None, "motor", "its stream has no failsafe", False,
            "drive: no bound for motor, not within the 400 ms asked (--reaction-ms): its stream "
            "has no "
            "failsafe",
        ),
        (
            "reaction_ms", 400, 900, "motor at hang receiver", "", True,
            "drive: motor at hang receiver stops after up to 900 ms, not within the 400 ms asked "
            "(--reaction-ms)",
        ),
        (
            "nuisance_per_hour", 1, 3.79, "", "", False,
            "drive: its timeout of 500 ms trips for nothing at least 3.79 times an hour (95 % "
            "sure), not under the 1 time asked (--nuisance-per-hour)",
        ),
    ],
)  # fmt: skip
def test_each_says_what_the_stream_does_and_what_was_asked(
    figure: str,
    asked: float,
    found: float | None,
    where: str,
    why: str,
    is_drilled: bool,
    text: str,
) -> None:
    unmet = Violation(
        stream="drive",
        figure=figure,
        asked=asked,
        found=found,
        timeout_ms=500,
        where=where,
        why=why,
        is_drilled=is_drilled,
    )

    assert unmet_text(unmet) == text
