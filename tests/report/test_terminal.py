import io

import msgspec
import pytest
from rich.console import Console

from radiosim.measure.summary import FailsafeFigures, Finding, Summary
from radiosim.report.terminal import print_summary
from radiosim.report.terminal.findings import cure_parts
from radiosim.scenario import parse
from tests.report.printing import QUIET, printed, with_stream
from tests.report.samples import one_start, output, scenario, several_starts, stream


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
    given = parse(f'radio.profile = "gfsk-1M"\n{units}\n{outs}\n')
    figures = msgspec.structs.replace(
        several_starts().figures,
        stream={name: stream(None) for name in names},
        output={f"{name}_servo": output(name) for name in names},
        faults=(),
    )
    summary = msgspec.structs.replace(several_starts(), figures=figures, stopping={}, worst={})

    text = printed(summary, given, more=True)

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
        "!  head has NO FAILSAFE: if its transmitter goes silent, nothing stops pan",
        "!  drive STARVES: up to 412 ms without a value; 12 nuisance trips in 3 of 40",
        "!  requirement FAILED: stream.drive.gap_ms.max is 412, at most 200 was asked",
        "!  requirement not judged: worst.drive.reaction_ms not measured, at most 300",
        "!  radio.channel: 82 may leave the band",
        "Assumed, because the scenario does not say it",
        "Streams",
        "Failsafe",
        "Faults of the scenario",
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
        trips_on_fault=0,
        nuisance_trips=0,
        nuisance_per_hour=0.0,
        nuisance_per_hour_ci95=(0.0, 0.553),
        starts_with_nuisance=0,
        seconds_on=0.0,
    )
    text = printed(with_stream(several_starts(), "drive", stream(quiet)))

    flat = " ".join(text.split())
    assert "no nuisance trips seen in 6.67 h: at most 0.553 an hour" in flat
    assert "--rare tells more)" in flat


def test_no_trip_seen_in_a_short_run_says_nothing() -> None:
    assert "no nuisance trips seen in 10 min: too short to tell" in printed(one_start())


def test_a_stream_that_never_delivered_has_been_in_failsafe_from_the_start() -> None:
    summary = with_stream(one_start(), "drive", msgspec.structs.replace(stream(QUIET), read=0))
    text = printed(summary)

    assert "never delivered a value; failsafe was on from the start" in text
    assert "no nuisance trips" not in text


def test_an_output_without_any_value_has_no_pulses() -> None:
    summary = one_start()
    dead = msgspec.structs.replace(output("drive"), update_rate_hz=0.0)
    outputs = {**summary.figures.output, "left_track": dead}
    figures = msgspec.structs.replace(summary.figures, output=outputs)
    rows = [
        line.split()
        for line in printed(msgspec.structs.replace(summary, figures=figures)).split("\n")
    ]

    assert ["left_track", "none", "0", "12.0", "140", "1500", "us"] in rows


def test_outputs_that_wait_for_a_stick_that_never_rests_are_a_hazard() -> None:
    summary = one_start()
    dead = msgspec.structs.replace(output("drive"), update_rate_hz=0.0)
    outputs = {**summary.figures.output, "left_track": dead}
    figures = msgspec.structs.replace(summary.figures, output=outputs)
    text = printed(msgspec.structs.replace(summary, figures=figures))

    assert "!  left_track NEVER COMES ALIVE: " in text
    assert "but its failsafe waits for a frame; " in " ".join(text.split())
    assert "NEVER COMES ALIVE" not in printed(summary)


def test_a_motor_is_told_until_it_stands_still() -> None:
    summary = one_start()
    drive = msgspec.structs.replace(summary.stopping["drive"], stopping_ms={"left_track": 593.2})
    text = printed(msgspec.structs.replace(summary, stopping={"drive": drive}))

    assert "left_track: 1500 us within 293 ms, standing still within 593 ms" in text


def test_what_a_failsafe_never_sees_is_told() -> None:
    summary = one_start()
    drive = msgspec.structs.replace(summary.stopping["drive"], blind_to=("a", "b"))
    text = printed(msgspec.structs.replace(summary, stopping={"drive": drive}))

    assert "blind to: a; b" in text


def test_an_output_that_holds_has_no_bound() -> None:
    summary = one_start()
    given = scenario()
    output = {**given.output, "lamp": msgspec.structs.replace(given.output["lamp"])}
    output["lamp"] = msgspec.structs.replace(output["lamp"], on_failsafe="hold")
    drive = msgspec.structs.replace(
        summary.stopping["drive"],
        bound_ms={"left_track": 293.2, "lamp": None},
        why={"lamp": "it holds its last value"},
    )
    text = printed(
        msgspec.structs.replace(summary, stopping={"drive": drive}),
        msgspec.structs.replace(given, output=output),
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


def test_outputs_show_their_action_on_failsafe() -> None:
    rows = [line.split() for line in printed(several_starts()).splitlines()]

    assert ["left_track", "50", "49.1", "30.0", "12.0", "430", "1500", "us"] in rows
    assert ["lamp", "at", "once", "49.1", "-", "12.0", "140", "off"] in rows
    assert ["pan", "50", "49.1", "-", "12.0", "140", "none"] in rows


def test_a_rounded_figure_never_seems_to_meet_its_limit() -> None:
    summary = several_starts()
    near = msgspec.structs.replace(summary.requirements[1], measured=200.04)
    text = printed(msgspec.structs.replace(summary, requirements=(near,)))

    assert "FAILED  stream.drive.gap_ms.max is 200.04, at most 200" in text


def test_a_count_is_shown_as_one() -> None:
    summary = several_starts()
    count = msgspec.structs.replace(summary.requirements[1], measured=3, at_most=0)
    text = printed(msgspec.structs.replace(summary, requirements=(count,)))

    assert "FAILED  stream.drive.gap_ms.max is 3, at most 0" in text


def finding(what: str, where: str) -> Finding:
    return Finding(
        what=what,
        where=where,
        why="both send every 20 ms",
        figure="stream.drive.gap_ms.max",
        proof={"before": None, "after": 61.0, "cured": 62.0},
        cure="--set x=19: not 20",
        set=("x=19",),
        measure="look at the gaps",
    )


def test_a_finding_comes_with_proof_cure_and_how_to_measure_it() -> None:
    found = finding("equal periods", "drive")
    text = printed(msgspec.structs.replace(one_start(), findings=(found,)))

    assert "!  1 finding below: what is wrong, its proof and its cure" in text
    assert "  1          drive: equal periods" in text
    assert "    WHY      both send every 20 ms. stream.drive.gap_ms.max: never, 61.0" in text
    assert "62.0 with the cure" in text
    assert "    TRY      --set x=19\n             not 20\n" in text
    assert "    MEASURE  look at the gaps" in text


def test_each_line_of_a_cure_stands_alone_to_be_pasted() -> None:
    several = msgspec.structs.replace(
        finding("equal periods", "drive"),
        cure="--set x=19 --set 'y=[1, 2]': not 20: never",
        set=("x=19", "y=[1, 2]"),
    )

    assert cure_parts(several) == (("--set x=19", "--set 'y=[1, 2]'"), "not 20: never")
    untried = msgspec.structs.replace(several, cure="measure it", set=())
    assert cure_parts(untried) == ((), "measure it")


def test_more_shows_where_every_frame_ended() -> None:
    plain, more = printed(one_start()), printed(one_start(), more=True)

    for part in ("Where every frame ended", "What became of every attempt", "Verdicts"):
        assert part in more
        assert part not in plain
    assert "wait in the FIFO 4.26 + timeout 250 + longest pass 1.02" in more
    assert "busy 1.53 % of the time, 90 collisions" in more


def test_a_finding_that_a_line_tells_already_adds_its_cure_to_it() -> None:
    summary = one_start()
    drive = msgspec.structs.replace(summary.stopping["drive"], cannot_work="passes of 310 ms")
    found = finding("this failsafe cannot work: passes of 310 ms", "failsafe.drive.timeout_ms")
    text = printed(msgspec.structs.replace(summary, stopping={"drive": drive}, findings=(found,)))

    assert "CANNOT WORK: passes of 310 ms. Cure: --set x=19: not 20" in text


def test_colour_is_never_the_only_carrier() -> None:
    target = io.StringIO()
    console = Console(file=target, width=80, force_terminal=True, no_color=True, highlight=False)
    print_summary(several_starts(), scenario(), console)

    assert "starves" in target.getvalue()
    assert "\x1b[31m" not in target.getvalue()


def test_requirements_that_one_reason_keeps_from_being_judged_are_told_once() -> None:
    summary = several_starts()
    [unjudged] = [it for it in summary.requirements if it.ok is None]
    twice = (unjudged, msgspec.structs.replace(unjudged, figure="worst.head.reaction_ms"))
    text = " ".join(printed(msgspec.structs.replace(summary, requirements=twice)).split())

    assert f"! 2 requirements not judged: {unjudged.why}" in text
    assert text.count(unjudged.why) == 3  # once as a warning, and once a row below
