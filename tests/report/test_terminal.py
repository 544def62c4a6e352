import io

import msgspec
import pytest
from rich.console import Console

from radiosim.measure.summary import (
    FailsafeFigures,
    FaultFigures,
    Finding,
    OutputAtFault,
    StreamFigures,
    Summary,
)
from radiosim.report.terminal import print_summary
from radiosim.report.terminal.verdict import verdict
from radiosim.scenario import Scenario, parse
from tests.report.samples import fault, one_start, output, scenario, several_starts, stream


def printed(
    summary: Summary, scene: Scenario | None = None, *, more: bool = False, width: int = 80
) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=width, highlight=False, markup=False, emoji=False)
    print_summary(summary, scene or scenario(), console, more=more)
    return stream.getvalue()


def with_stream(summary: Summary, name: str, figures: StreamFigures) -> Summary:
    streams = {**summary.figures.stream, name: figures}
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, stream=streams)
    )


def with_faults(summary: Summary, *faults: FaultFigures) -> Summary:
    return msgspec.structs.replace(
        summary, figures=msgspec.structs.replace(summary.figures, faults=faults)
    )


@pytest.mark.parametrize("more", [False, True])
@pytest.mark.parametrize("summary", [one_start(), several_starts()], ids=["one", "several"])
def test_lines_fit_80_columns_in_plain_ascii(summary: Summary, more: bool) -> None:
    text = printed(summary, more=more)

    assert max(map(len, text.splitlines())) <= 80
    assert text.isascii()
    assert not [line for line in text.splitlines() if line != line.rstrip()]
    assert "\x1b" not in text


def test_six_streams_with_long_names_fit_80_columns() -> None:
    names = [f"hand_controller_number_{number}" for number in range(6)]
    units = "\n".join(f"transmitter.{n} = {{ period_ms = 20, payload_bytes = 6 }}" for n in names)
    outs = "\n".join(
        f'output.{n}_servo = {{ stream = "{n}", field = "value", '
        f"on_failsafe = {{ preset_us = 1500 }} }}"
        for n in names
    )
    scene = parse(f'radio.profile = "gfsk-1M"\n{units}\n{outs}\n')
    figures = msgspec.structs.replace(
        several_starts().figures,
        stream={name: stream(None) for name in names},
        output={f"{name}_servo": output(name) for name in names},
        faults=(),
    )
    summary = msgspec.structs.replace(several_starts(), figures=figures, stopping={}, worst={})

    text = printed(summary, scene, more=True)

    assert max(map(len, text.splitlines())) <= 80
    assert "hand_controller_number_5" in text.replace("\n", "")


def test_the_first_line_says_what_was_simulated() -> None:
    assert printed(several_starts()).splitlines()[0] == (
        "Culvert crawler: 40 starts of 10 min, 6.67 h in all (seed 1, reference engine)"
    )
    assert printed(one_start()).splitlines()[0] == (
        "Culvert crawler: start 3, 10 min (seed 1, reference engine)"
    )


def test_hazards_stand_before_everything_else() -> None:
    text = printed(several_starts())

    order = [
        "!  look has NO FAILSAFE: if its sender goes silent, nothing stops pan",
        "!  drive STARVES: up to 412 ms without a value; 12 nuisance trips in 3 of 40",
        "!  requirement FAILED: stream.drive.hole_ms is 412, at most 200 was asked",
        "!  requirement not judged: worst.drive.stop_ms not measured, at most 300",
        "!  radio.channel: 82 may leave the band",
        "Assumed, because the scene does not say it",
        "Streams",
        "Failsafe",
        "Faults of the scene",
        "Outputs",
        "Requirements, in the worst start",
        "A simulation is not proof.",
        "5 warnings above, marked with !. More figures: --more.",
    ]
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_a_stream_shows_its_mean_and_its_worst_start() -> None:
    row = next(line for line in printed(several_starts()).splitlines() if line.startswith("drive "))

    assert row.split() == ["drive", "50.0", "49.8", "31.2", "1.40", "60.0", "412", "starves"]


def test_one_start_shows_its_worst_second() -> None:
    row = next(line for line in printed(one_start()).splitlines() if line.startswith("drive "))

    assert row.split() == ["drive", "50.0", "49.8", "41", "1.40", "60.0", "120", "steady"]


def test_failsafe_says_what_each_output_does_and_when() -> None:
    text = printed(several_starts())

    assert "after 250 ms of silence" in text
    assert "12 nuisance trips in 3 of 40 starts, 1.80 an hour (0.210 to 4.60)" in text
    assert "left_track: 1500 us within 293 ms" in text
    assert "lamp: off within 255 ms" in text
    assert "NO FAILSAFE: pan keeps its last value for good" in text


def test_no_trip_seen_says_how_often_they_may_still_come() -> None:
    quiet = FailsafeFigures(
        entries_true=0,
        nuisance_trips=0,
        nuisance_per_hour=0.0,
        nuisance_per_hour_ci95=(0.0, 0.553),
        starts_with_nuisance=0,
        seconds_on=0.0,
    )
    text = printed(with_stream(several_starts(), "drive", stream(quiet)))

    assert "no nuisance trips seen in 6.67 h: at most 0.553 an hour" in text


def test_an_output_that_holds_has_no_bound() -> None:
    summary = one_start()
    scene = scenario()
    output = {**scene.output, "lamp": msgspec.structs.replace(scene.output["lamp"])}
    output["lamp"] = msgspec.structs.replace(output["lamp"], on_failsafe="hold")
    drive = msgspec.structs.replace(
        summary.stopping["drive"],
        bound_ms={"left_track": 293.2, "lamp": None},
        why={"lamp": "it holds its last value"},
    )
    text = printed(
        msgspec.structs.replace(summary, stopping={"drive": drive}),
        msgspec.structs.replace(scene, output=output),
    )

    assert "!  lamp: NO BOUND on the time until failsafe: it holds its last value" in text
    assert "lamp: holds its last value: NO BOUND" in text


def test_a_failsafe_that_cannot_work_is_the_first_hazard() -> None:
    summary = one_start()
    drive = msgspec.structs.replace(
        summary.stopping["drive"], cannot_work="passes of 310 ms are longer than its timeout"
    )
    text = printed(msgspec.structs.replace(summary, stopping={"drive": drive}))

    assert text.splitlines()[2].startswith("!  drive: THIS FAILSAFE CANNOT WORK: passes of 310 ms")


def test_a_fault_is_one_line() -> None:
    text = " ".join(printed(one_start()).split())

    assert (
        "40 s power_off drive for 5 s failsafe in effect after 271 ms; "
        "fresh again 42.1 ms after its end"
    ) in text


def test_a_fault_that_nothing_answers_is_told_so() -> None:
    silent = msgspec.structs.replace(
        fault(),
        kind="frozen",
        detected_ms=None,
        recovered_ms=None,
        undetected_starts=7,
        unrecovered_starts=2,
        outputs={"left_track": OutputAtFault(action="preset", detected_ms=None, recovered_ms=None)},
    )
    text = " ".join(printed(with_faults(several_starts(), silent)).split())

    assert "FAILSAFE NEVER CAME in 7 of 40 starts on left_track" in text
    assert "NEVER FRESH AGAIN in 2 of 40 starts: left_track" in text


def test_a_fault_after_the_end_is_no_alarm() -> None:
    late = msgspec.structs.replace(
        fault(), at_s=600.0, detected_ms=None, recovered_ms=None, outputs={}
    )

    assert "600 s power_off drive for 5 s  never reached" in printed(with_faults(one_start(), late))


def test_a_fault_too_short_for_failsafe_is_no_alarm() -> None:
    reset = msgspec.structs.replace(
        fault(),
        kind="reset",
        for_s=None,
        detected_ms=None,
        outputs={
            "left_track": OutputAtFault(action="preset", detected_ms=None, recovered_ms=12.0),
            "pan": OutputAtFault(action="hold", detected_ms=None, recovered_ms=10.0),
        },
    )
    text = " ".join(printed(with_faults(one_start(), reset)).split())

    assert "no failsafe on left_track, nothing stops pan; fresh again after 42.1 ms" in text


def test_outputs_show_their_action_on_failsafe() -> None:
    rows = [line.split() for line in printed(several_starts()).splitlines()]

    assert ["left_track", "50", "49.1", "30.0", "12.0", "430", "1500", "us"] in rows
    assert ["lamp", "at", "once", "49.1", "-", "12.0", "140", "off"] in rows
    assert ["pan", "50", "49.1", "-", "12.0", "140", "none"] in rows


def test_a_rounded_figure_never_seems_to_meet_its_limit() -> None:
    summary = several_starts()
    near = msgspec.structs.replace(summary.requirements[1], measured=200.04)
    text = printed(msgspec.structs.replace(summary, requirements=(near,)))

    assert "FAILED  stream.drive.hole_ms is 200.04, at most 200" in text


def test_a_count_is_shown_as_one() -> None:
    summary = several_starts()
    count = msgspec.structs.replace(summary.requirements[1], measured=3, at_most=0)
    text = printed(msgspec.structs.replace(summary, requirements=(count,)))

    assert "FAILED  stream.drive.hole_ms is 3, at most 0" in text


def test_a_finding_comes_with_proof_and_cure() -> None:
    finding = Finding(
        what="equal periods", where="drive", proof={"before": 412.3, "after": 61.0}, cure="use 19"
    )
    text = printed(msgspec.structs.replace(one_start(), findings=(finding,)))

    assert "!  drive: equal periods (before 412, after 61.0). Cure: use 19" in text


def test_more_shows_where_every_frame_ended() -> None:
    plain, more = printed(one_start()), printed(one_start(), more=True)

    for part in ("Where every frame ended", "What became of every attempt", "Verdicts"):
        assert part in more
        assert part not in plain
    assert "wait in the FIFO 4.26 + timeout 250 + longest pass 1.02" in more
    assert "busy 1.53 % of the time, 90 collisions" in more


def test_colour_is_never_the_only_carrier() -> None:
    target = io.StringIO()
    console = Console(file=target, width=80, force_terminal=True, no_color=True, highlight=False)
    print_summary(several_starts(), scenario(), console)

    assert "starves" in target.getvalue()
    assert "\x1b[31m" not in target.getvalue()


QUIET = FailsafeFigures(entries_true=0, nuisance_trips=0, nuisance_per_hour=0.0, seconds_on=0.0)


@pytest.mark.parametrize(
    ("hole_ms", "word"),
    [(125.0, "steady"), (125.1, "gaps"), (250.0, "gaps"), (250.1, "starves")],
)
def test_a_verdict_compares_the_longest_wait_with_the_timeout(hole_ms: float, word: str) -> None:
    scene = msgspec.structs.replace(scenario(), fault=())

    assert (
        verdict(with_stream(one_start(), "drive", stream(QUIET, hole_ms)), scene, "drive") == word
    )


def test_a_long_wait_in_a_fault_is_not_called_starving() -> None:
    summary = with_stream(one_start(), "drive", stream(QUIET, 5100.0))

    assert verdict(summary, scenario(), "drive") == "cut by fault"


def test_a_nuisance_trip_is_starving_even_with_faults() -> None:
    assert verdict(several_starts(), scenario(), "drive") == "starves"


def test_without_failsafe_ten_periods_stand_for_the_timeout() -> None:
    summary = with_stream(one_start(), "look", stream(None, 200.1))

    assert verdict(summary, scenario(), "look") == "starves"


def test_a_stream_that_is_never_read_is_silent() -> None:
    figures = msgspec.structs.replace(stream(None), read=0, hole_ms=None)
    summary = with_stream(one_start(), "look", figures)

    assert "!  look: none of its 30,000 frames was ever read" in printed(summary)
