"""What a receiver's program may be found to do, made up."""

from radiosim.firmware.results import ProgramOutput, ProgramResults, ProgramSpan

LINK = """
radio.profile = "gfsk-1M"
transmitter.drive = { period_ms = 20, payload_bytes = 8 }
failsafe.drive = { timeout_ms = 300 }
output.motor = { stream = "drive", field = "value" }
"""
FAULT = "fault = [{ kind = 'power_off', unit = 'drive', at_s = 1 }]\n"
LONG = ProgramSpan(
    start=0,
    output="motor",
    at_s=1.0,
    for_s=0.5,
    fault="",
    predicted=1500.0,
    real=2000.0,
    kind="pulse",
    is_judged=True,
)


def program_results(*, moves: bool = True, on: str = "host", ok: bool = True) -> ProgramResults:
    """One start; `moves`: whether its output does; not `ok`: it does other than predicted."""
    motor = ProgramOutput(
        name="motor",
        changes=2,
        most_changes=2,
        moves=moves,
        spans=0,
        longest_s=0.0,
        short_spans=0,
        longest_short_ms=0.0,
    )
    return ProgramResults(
        scenario="link",
        on=on,
        sources=("rx.c",),
        stamp="00000001",
        verdict="HELD" if ok else "NOT HELD",
        ok=ok,
        starts=1,
        duration_s=2.0,
        clock_from_ms=0,
        frames=1,
        reads_as_predicted=1,
        tolerance_ms=1.0,
        read_elsewhere=None,
        ended=(),
        outputs=(motor,),
        failsafe=(),
        spans=() if ok else (LONG,),
        drills=None,
        notes=(),
    )
