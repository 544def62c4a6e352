"""What a run says, on a terminal of 80 columns unless a test says otherwise."""

import io
import re

import msgspec
import pytest
from rich.console import Console

from radiosim.findings.examined import Seen
from radiosim.measure.summary import Cure, Effect, FailsafeFigures, Finding, Summary
from radiosim.report.run_findings import BY_THE_MODEL, proof_text
from radiosim.results.document import Table
from radiosim.results.terminal import print_report
from radiosim.scenario import parse
from radiosim.scenario.assumed import OF_PROGRAM
from tests.report.printing import QUIET, flat, printed, reported, with_stream
from tests.report.samples import one_start, output, scenario, several_starts, stream


def table(summary: Summary, key: str) -> Table:
    return next(table for table in reported(summary).data_tables() if table.key == key)


def shown_row(summary: Summary, key: str, name: str) -> dict[str, str]:
    """Key → text of what screens show of a row, told by its first cell."""
    found = table(summary, key)
    row = next(row for row in found.rows if row[0] == name)
    return {found.columns[k].key: found.columns[k].text(row[k]) for k in found.on_screen}


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
    summary = msgspec.structs.replace(several_starts(), figures=figures, reaction={}, worst={})

    text = printed(summary, given, more=True)

    assert max(map(len, text.splitlines())) <= 80
    assert "hand_controller_number_5" in text.replace("\n", "")


def test_the_first_line_says_what_was_simulated() -> None:
    assert printed(several_starts()).splitlines()[0] == (
        "Culvert crawler: 40 starts of 10 min, 6 h 40 min in all (seed 1, reference"
    )
    assert printed(one_start()).splitlines()[0] == (
        "Culvert crawler: start 3, 10 min (seed 1, reference engine)"
    )


def test_three_acknowledgements_come_first_then_hazards_then_all_else() -> None:
    text = printed(several_starts())

    order = [
        "Failsafe ",
        "Stutter ",
        "Change ",
        "1 of 3 requirements holds, 1 cannot be judged here.",
        "! if drive freezes and repeats its last values, they feed its failsafe (no",
        "! if the receiver's program hangs, nothing resets it (no watchdog)",
        "! head has NO FAILSAFE: if its transmitter goes silent, nothing stops pan",
        "! if the radio of receiver, drive or head loses its settings in a supply dip",
        "! drive STARVES: 12 nuisance trips in 3 of 40",
        "! requirement FAILED: stream.drive.gap_ms.max is 412 ms, at most 200 ms was",
        "! requirement not judged: worst.drive.reaction_ms not measured, at most 300 ms",
        "! radio.channel: 82 may leave the band",
        "Assumed, because the scenario does not say it",
        "\nStreams",
        "\nFailsafe",
        "\nFaults of the scenario",
        "\nOutputs",
        "\nRequirements, in the worst start",
        "A simulation is not proof.",
        "8 warnings at the top, marked with !. More figures: --more.",
    ]
    places = [text.index(part) for part in order]
    assert places == sorted(places)


def test_a_stream_shows_its_rates_latency_and_gaps_and_its_worst_start() -> None:
    assert shown_row(several_starts(), "streams", "drive") == {
        "stream": "drive",
        "send_rate_hz": "50.0",
        "update_rate_hz": "49.8",
        "worst.update_rate_hz": "31.2",
        "latency_ms.median": "1.4 ms",
        "latency_ms.p99": "4.2 ms",
        "gap_ms.p99": "60 ms",
        "gap_ms.max": "412 ms",
        "verdict": "starves",
    }


def test_one_start_shows_its_worst_second() -> None:
    row = shown_row(one_start(), "streams", "drive")

    assert (row["worst_second_updates"], row["gap_ms.max"]) == ("41", "120 ms")
    assert row["verdict"] == "steady"


def test_failsafe_says_what_each_output_does_and_when() -> None:
    summary = several_starts()
    rows = {name: shown_row(summary, "reaction", name) for name in ("left_track", "lamp", "pan")}

    assert "drive after 250 ms of silence; 12 nuisance trips in 3 of 40 starts, 1.80" in flat(
        summary
    )
    assert [rows["left_track"][key] for key in ("action", "bound_ms")] == ["1500 us", "293 ms"]
    assert [rows["lamp"][key] for key in ("action", "bound_ms")] == ["off", "255 ms"]
    assert [rows["pan"][key] for key in ("action", "bound_ms")] == ["none", "NO BOUND"]
    assert "! head NO FAILSAFE: pan keeps its last value for good" in flat(summary)


def test_no_trip_seen_says_how_often_they_may_still_come() -> None:
    quiet = FailsafeFigures(
        trips_on_fault=0,
        nuisance_trips=0,
        nuisance_per_hour=0.0,
        nuisance_per_hour_ci95=(0.0, 0.553),
        starts_with_nuisance=0,
        seconds_on=0.0,
    )
    text = flat(with_stream(several_starts(), "drive", stream(quiet)))

    assert "no nuisance trips seen in 6 h 40 min: at most 0.553 an hour" in text
    assert "--rare tells more)" in text


def test_no_trip_seen_in_a_short_run_says_nothing() -> None:
    assert "no nuisance trips seen in 10 min: too short to tell" in flat(one_start())


def test_a_stream_that_never_delivered_has_been_in_failsafe_from_the_start() -> None:
    summary = with_stream(one_start(), "drive", msgspec.structs.replace(stream(QUIET), read=0))
    text = flat(summary)

    assert "no value was ever read, failsafe was on from the start" in text
    assert "no nuisance trips" not in text


def test_an_output_without_any_value_has_no_pulses() -> None:
    summary = one_start()
    dead = msgspec.structs.replace(output("drive"), update_rate_hz=0.0)
    outputs = {**summary.figures.output, "left_track": dead}
    figures = msgspec.structs.replace(summary.figures, output=outputs)
    row = shown_row(msgspec.structs.replace(summary, figures=figures), "outputs", "left_track")

    assert (row["pulses"], row["update_rate_hz"]) == ("none", "0")


def test_outputs_that_wait_for_a_stick_that_never_rests_are_a_hazard() -> None:
    summary = one_start()
    dead = msgspec.structs.replace(output("drive"), update_rate_hz=0.0)
    outputs = {**summary.figures.output, "left_track": dead}
    figures = msgspec.structs.replace(summary.figures, output=outputs)
    text = printed(msgspec.structs.replace(summary, figures=figures))

    assert "! left_track NEVER COMES ALIVE: " in text
    assert "but its failsafe waits for a frame; " in " ".join(text.split())
    assert "NEVER COMES ALIVE" not in printed(summary)


def test_a_motor_is_told_until_it_stands_still() -> None:
    summary = one_start()
    drive = msgspec.structs.replace(summary.reaction["drive"], stopping_ms={"left_track": 593.2})
    changed = msgspec.structs.replace(summary, reaction={"drive": drive})

    assert shown_row(changed, "reaction", "left_track")["stopping_ms"] == "593 ms"
    assert shown_row(changed, "reaction", "lamp")["stopping_ms"] == "-"
    assert "stopping_ms" not in shown_row(summary, "reaction", "left_track")


def test_what_a_failsafe_never_sees_is_a_warning_and_no_clause() -> None:
    text = flat(one_start())

    assert "! if head freezes" not in text
    assert "! if the radio of receiver, drive or head loses its settings" in text
    assert "blind to" not in text


def test_an_output_that_holds_has_no_bound() -> None:
    summary = one_start()
    given = scenario()
    output = {**given.output, "lamp": msgspec.structs.replace(given.output["lamp"])}
    output["lamp"] = msgspec.structs.replace(output["lamp"], on_failsafe="hold")
    drive = msgspec.structs.replace(
        summary.reaction["drive"],
        bound_ms={"left_track": 293.2, "lamp": None},
        why={"lamp": "it holds its last value"},
    )
    text = printed(
        msgspec.structs.replace(summary, reaction={"drive": drive}),
        msgspec.structs.replace(given, output=output),
    )

    assert "! lamp: NO BOUND on the failsafe reaction time: it holds its last value" in text
    assert "lamp keeps its last value when the transmitter goes silent" in " ".join(text.split())


def test_outputs_show_rates_latency_and_the_oldest_value() -> None:
    summary = several_starts()
    rows = {name: shown_row(summary, "outputs", name) for name in ("left_track", "lamp", "pan")}

    assert list(rows["left_track"].values()) == [
        *("left_track", "drive", "50", "49.1", "30.0"),
        *("12 ms", "36 ms", "66 ms", "430 ms"),
    ]
    assert (rows["lamp"]["pulses"], rows["lamp"]["worst.update_rate_hz"]) == ("at once", "-")
    assert rows["pan"]["stream"] == "head"


def test_a_rounded_figure_never_seems_to_meet_its_limit() -> None:
    summary = several_starts()
    near = msgspec.structs.replace(summary.requirements[1], measured=200.04)
    text = flat(msgspec.structs.replace(summary, requirements=(near,)))

    assert "stream.drive.gap_ms.max is 200.04 ms, at most 200 ms was asked" in text
    assert "FAILED stream.drive.gap_ms.max 200.04 ms at most 200 ms" in text


def test_a_count_is_shown_as_one() -> None:
    summary = several_starts()
    count = msgspec.structs.replace(
        summary.requirements[1], figure="stream.drive.skipped", measured=3, at_most=0
    )
    text = flat(msgspec.structs.replace(summary, requirements=(count,)))

    assert "FAILED stream.drive.skipped 3 at most 0" in text


def finding(what: str, where: str) -> Finding:
    return Finding(
        what=what,
        where=where,
        why="both send every 20 ms",
        figure="stream.drive.gap_ms.max",
        proof={"before": None, "after": 61.0, "cured": 62.0},
        cure="not 20",
        set=("x=19",),
        measure="look at the gaps",
    )


CURE = Cure(
    set=("x=19", "y=[1, 2]"),
    starts=20,
    effects=(
        Effect(
            figure="stream.drive.gap_ms.max",
            at_most=100.0,
            before=900.0,
            before_ok=False,
            after=62.0,
            after_ok=True,
        ),
        Effect(figure="stream.head.gap_ms.max", before=50.0, after=51.0),
    ),
    caution="raises power",
    why="there is no line to paste for z",
)


def test_a_finding_comes_with_proof_cure_and_how_to_measure_it() -> None:
    found = finding("equal periods", "drive")
    text = printed(msgspec.structs.replace(one_start(), findings=(found,), cure=CURE))

    assert "! 1 finding below: what is wrong, its proof and its cure" in text
    assert "\n1. drive: equal periods\n" in text
    assert "  WHY      both send every 20 ms. stream.drive.gap_ms.max: never, 61 ms" in text
    assert "62 ms with all cures" in text
    assert "  CURE     above: x\n  NOTE     not 20\n" in text
    assert "  MEASURE  look at the gaps" in text


def test_a_failsafe_that_was_on_when_a_fault_struck_took_no_time() -> None:
    found = msgspec.structs.replace(
        finding("cannot work", "failsafe.drive"),
        figure="fault.reaction_ms",
        proof={"before": 0.0, "after": 240.0},
    )

    assert proof_text(found) == (
        "fault.reaction_ms: on before it was due, 240 ms without the cause"
    )


def test_the_joint_cure_is_a_block_to_paste_and_what_it_does() -> None:
    found = finding("equal periods", "drive")
    text = printed(msgspec.structs.replace(one_start(), findings=(found,), cure=CURE))

    # One line each, with nothing behind it.
    assert "\n  --set x=19\n  --set 'y=[1, 2]'\n" in text
    assert "Not all is cured: there is no line to paste for z." in text
    assert "in the worst of 20 starts" in text
    assert re.search(r"ok +stream.drive.gap_ms.max +900 ms +62 ms +at most 100 ms", text)
    assert re.search(r"- +stream.head.gap_ms.max +50 ms +51 ms +-", text)
    assert "With all of it" not in text


def test_cures_of_a_run_with_a_program_say_that_it_was_not_run_again() -> None:
    summary = msgspec.structs.replace(
        one_start(), findings=(finding("hangs", "receiver"),), cure=CURE
    )
    with_program = msgspec.structs.replace(summary, assumed=(f"{OF_PROGRAM}rx.c",))

    assert BY_THE_MODEL in flat(with_program)
    assert BY_THE_MODEL not in flat(summary)


def test_a_gap_that_a_scripted_fault_lies_in_is_marked_beside_the_joint_cure() -> None:
    found = finding("equal periods", "drive")
    asked, gap = CURE.effects
    struck = msgspec.structs.replace(gap, before=6020.0, after=6030.0, has_fault_after=True)
    cure = msgspec.structs.replace(CURE, effects=(asked, struck))
    text = printed(msgspec.structs.replace(one_start(), findings=(found,), cure=cure))

    assert re.search(r"- +stream.head.gap_ms.max +6.02 s +6.03 s \*", text)
    assert "a fault of the scenario lies in that gap" in text
    plain = printed(msgspec.structs.replace(one_start(), findings=(found,), cure=CURE))
    assert "a fault of the scenario" not in plain


def test_what_a_cure_makes_worse_warns_only_beyond_what_is_fine() -> None:
    found = finding("equal periods", "drive")
    late, duty = "output.throttle.latency_ms.p99", "stream.drive.duty_cycle"
    charge = "stream.drive.charge_mah_per_hour"
    effects = (
        *CURE.effects,
        Effect(figure=late, before=21.0, after=160.0),
        Effect(figure=duty, before=0.01, after=0.02),
        Effect(figure=charge, before=0.5, after=None),
    )
    cure = msgspec.structs.replace(CURE, effects=effects, worse=(late, duty, charge))
    told = flat(msgspec.structs.replace(one_start(), findings=(found,), cure=cure))
    beyond = msgspec.structs.replace(cure, in_return=(late,))
    warned = flat(msgspec.structs.replace(one_start(), findings=(found,), cure=beyond))

    assert f"It takes more of the air or of a cell: {duty}." in told
    assert f"Not known with it: {charge}." in told
    assert "In return" not in told
    assert f"! In return, beyond what is fine: {late} 21 ms, then 160 ms." in warned


def test_a_requirement_that_the_joint_cure_does_not_reach_is_named() -> None:
    short = tuple(
        msgspec.structs.replace(effect, after_ok=effect.after_ok and False)
        for effect in CURE.effects
    )
    cure = msgspec.structs.replace(CURE, effects=short)
    found = finding("equal periods", "drive")
    text = printed(msgspec.structs.replace(one_start(), findings=(found,), cure=cure))

    assert "With all of it stream.drive.gap_ms.max still does not hold." in text


@pytest.mark.parametrize(
    ("seen", "said"),
    [
        ("together", "61 ms without it and those that hide it"),
        ("later", "Seen once the others are cured: stream.drive.gap_ms.max: never"),
    ],
)
def test_how_a_finding_was_proved_is_said(seen: Seen, said: str) -> None:
    found = msgspec.structs.replace(finding("equal periods", "drive"), seen=seen)

    assert said in flat(msgspec.structs.replace(one_start(), findings=(found,), cure=CURE))


def test_more_shows_where_every_frame_ended() -> None:
    plain, more = printed(one_start()), printed(one_start(), more=True)

    for part in ("Where every frame ended", "What became of every attempt", "Verdicts"):
        assert part in more
        assert part not in plain
    assert "wait in the FIFO 4.26 ms + timeout 250 ms + longest pass 1.02 ms" in more
    assert "Busy 1.53 % of the time, 90 collisions" in more
    assert "More figures: --more." in plain
    assert "More figures: --more." not in more


@pytest.mark.parametrize("interval", [None, (0.4, 0.6)])
def test_shares_without_intervals_say_why(interval: tuple[float, float] | None) -> None:
    summary = several_starts()
    streams = {
        name: msgspec.structs.replace(stream, delivery_ratio_ci95=interval)
        for name, stream in summary.figures.stream.items()
    }
    figures = msgspec.structs.replace(summary.figures, stream=streams)
    text = printed(msgspec.structs.replace(summary, figures=figures), more=True)

    assert ("fewer than 12 have no interval" in " ".join(text.split())) == (interval is None)


def test_colour_is_never_the_only_carrier() -> None:
    target = io.StringIO()
    console = Console(file=target, width=80, force_terminal=True, no_color=True, highlight=False)
    print_report(reported(several_starts()), console)

    assert "starves" in target.getvalue()
    assert "\x1b[31m" not in target.getvalue()


def test_requirements_that_one_reason_keeps_from_being_judged_are_told_once() -> None:
    summary = several_starts()
    [unjudged] = [it for it in summary.requirements if it.ok is None]
    twice = (unjudged, msgspec.structs.replace(unjudged, figure="worst.head.reaction_ms"))
    text = " ".join(printed(msgspec.structs.replace(summary, requirements=twice)).split())

    assert f"! 2 requirements not judged: {unjudged.why}" in text
    assert text.count(unjudged.why) == 3  # once as a warning, and once a row below


@pytest.mark.parametrize(
    ("figure", "where"),
    [
        ("stream.drive.gap_ms.max", "in the worst start"),
        ("stream.drive.failsafe.nuisance_per_hour", "in the worst start; rates over all"),
    ],
)
def test_requirements_say_over_which_starts_they_are_judged(figure: str, where: str) -> None:
    summary = several_starts()
    asked = msgspec.structs.replace(summary.requirements[0], figure=figure)
    text = printed(msgspec.structs.replace(summary, requirements=(asked,)))

    assert f"\nRequirements, {where}\n" in text
