"""What a drill says on screens and in files."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.assess.in_words import requirement_text
from radiosim.report.drill import drill_report
from radiosim.report.drill_junit import drill_junit
from radiosim.report.drill_sentences import (
    feasible_sentences,
    verdict_text,
    violation_text,
    warnings,
)
from radiosim.results.data import csv_files, json_text
from radiosim.results.document import Report
from radiosim.results.terminal import plain_text
from radiosim.scenario import parse
from radiosim.scenario.danger import Danger
from radiosim.study.drill.results import (
    Drilled,
    FeasibleRange,
    OtherFigures,
    Violation,
    is_all_well,
)
from tests.examples import examples
from tests.report.reports import origin_of
from tests.study.drill.scenarios import BASE, HEAD, TIMER, drilled, scenario_with

SHARED = TIMER + 'fed_by = "any"\n' + HEAD
REQUIRED = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 300\n'


@pytest.fixture(scope="module")
def found() -> Drilled:
    return drilled(scenario_with(SHARED + REQUIRED), repeats=8)


@pytest.fixture(scope="module")
def sound() -> Drilled:
    return drilled(scenario_with(TIMER + REQUIRED), "power_off", repeats=8)


def report_of(found: Drilled, speed_m_s: float | None = None) -> Report:
    return drill_report(found, origin_of("failsafe"), speed_m_s=speed_m_s)


def printed(found: Drilled, speed_m_s: float | None = None) -> str:
    return plain_text(report_of(found, speed_m_s))


def told(found: Drilled) -> tuple[str, ...]:
    return tuple(sentence.text for sentence in warnings(found))


def document_of(found: Drilled) -> dict[str, object]:
    document: dict[str, object] = json.loads(json_text(report_of(found)))
    return document


def rows_of(found: Drilled) -> dict[str, list[dict[str, str]]]:
    files = csv_files(report_of(found))
    return {name: list(csv.DictReader(io.StringIO(text))) for name, text in files.items()}


def test_no_line_is_wider_than_eighty_columns(found: Drilled) -> None:
    assert max(map(len, printed(found, 12.5).splitlines())) <= 80


def test_cautions_come_before_the_verdict_and_that_before_the_figures(found: Drilled) -> None:
    text = printed(found)

    assert text.index("propellers off") < text.index("FAILS at") < text.index("median")


def test_an_output_that_is_still_driven_is_named_with_its_fault_and_cause(found: Drilled) -> None:
    first = told(found)[0]

    assert first.startswith("STILL DRIVEN: motor at power_off drive")
    assert "another stream (head) feeds drive's timer" in first


def test_a_requirement_that_fails_is_told(found: Drilled) -> None:
    assert any("requirement FAILED: worst.drive.reaction_ms" in text for text in told(found))


def test_a_drill_that_holds_says_so_and_warns_of_nothing(sound: Drilled) -> None:
    assert sound.ok
    assert report_of(sound).is_well is True
    assert verdict_text(sound).startswith("HOLDS: no output is late or still driven")
    assert told(sound) == ()


def test_the_way_is_the_speed_times_the_time_to_a_stop(sound: Drilled) -> None:
    reaction_ms = sound.worst["drive"].reaction_ms
    assert reaction_ms is not None

    assert f"up to {10 * reaction_ms / 1000:.2f} m on at 10.0 m/s" in " ".join(
        printed(sound, 10).split()
    )


def test_a_vehicle_that_nothing_stops_drives_on_until_its_power_is_cut(found: Drilled) -> None:
    text = " ".join(printed(found, 2).split())
    carried_ms = found.worst["drive"].carried_ms

    assert carried_ms is not None
    assert (
        "what it drives goes on, a vehicle at 2.00 m/s, until its power is cut; never reach into "
        "what may move; where it does stop, "
        f"up to {2 * carried_ms / 1000:#.3g} m on" in text
    )
    assert "power is cut" not in printed(found)


def test_a_camera_servo_carries_nobody_on() -> None:
    servo = "servo = { travel_deg = 90, seconds_per_60deg = 0.2 }\n"
    motor = "[output.motor.motor]\nstop_s = 0.3\n"
    made = drilled(scenario_with(TIMER + HEAD + servo + motor), "power_off", repeats=8)
    text = " ".join(printed(made, 2).split())

    drive, head = made.worst["drive"], made.worst["head"]
    assert drive.carried_ms is not None
    assert drive.carried_ms > 500
    assert (head.carried_ms, head.carries_on) == (None, False)
    assert text.count(" m on at 2.00 m/s") == 1


def test_what_is_switched_carries_nobody_on() -> None:
    off = 'kind = "pin"\non_failsafe = { preset = 0 }'
    pin = BASE.replace("on_failsafe = { preset_us = 1500 }", off) + TIMER
    made = drilled(parse(pin), "power_off", repeats=8)

    assert (made.worst["drive"].carried_ms, made.worst["drive"].carries_on) == (None, False)
    assert "m/s" not in printed(made, 2)


def test_the_longest_term_of_a_bound_is_marked(sound: Drilled) -> None:
    [row] = [line for line in printed(sound).splitlines() if "<- shorten this first" in line]

    assert row.split()[:3] == ["timeout", "250", "ms"]


def test_the_scenarios_own_timeout_is_marked_in_the_trade_off(sound: Drilled) -> None:
    often = msgspec.structs.replace(sound.trade_off["drive"][0], nuisance_trips=3)
    trips = {"drive": (often, *sound.trade_off["drive"][1:])}
    text = printed(msgspec.structs.replace(sound, trade_off=trips))
    [row] = [line for line in text.splitlines() if "(now)" in line]

    assert row.startswith("250 ms (now)")


def test_defaults_that_nobody_asked_for_are_told(sound: Drilled) -> None:
    text = " ".join(printed(sound).split())

    assert "Nobody asked, so: nuisance trips under 1 an hour (--nuisance-per-hour)." in text


def test_json_has_the_names_of_the_results(found: Drilled) -> None:
    document = document_of(found)

    first = document["drills"][0]
    names = {"fault", "unit", "stream", "output", "bound_ms", "reaction_ms", "stopping_ms"}
    assert names | {"recovered_ms", "still_driven"} <= set(first)
    assert document["worst"]["drive"]["reaction_ms"] is None
    assert document["bound"]["drive"]["total_ms"] is None
    assert document["bound"]["head"]["terms"][0] == {
        "name": "wait in the FIFO",
        "ms": found.bound["head"].terms[0].ms,
    }
    assert set(document["feasible_range"]["head"]) == {
        "shortest_ms",
        "longest_ms",
        "why",
        "is_unshown",
    }
    assert {
        "timeout_ms",
        "nuisance_per_hour",
        "nuisance_per_hour_ci95",
        "worst_reaction_ms",
    } <= set(document["trade_off"]["head"][0])
    assert document["ok"] is False


def test_json_is_the_drill_as_it_is(found: Drilled) -> None:
    assert msgspec.json.decode(json_text(report_of(found)), type=Drilled) == found


def test_csv_tables_have_a_row_for_each_drill_and_timeout(found: Drilled) -> None:
    tables = rows_of(found)

    assert len(tables["drills.csv"]) == len(found.drills)
    assert len(tables["trade_off.csv"]) == sum(map(len, found.trade_off.values()))
    assert tables["drills.csv"][0]["verdict"] == "fails"
    assert len(tables["terms.csv"]) == sum(len(drill.terms) for drill in found.drills)


def test_csv_tells_what_was_asked_and_why_there_is_no_bound(found: Drilled) -> None:
    tables = rows_of(found)
    asked = {row["stream"]: row for row in tables["asked.csv"]}
    [unbound] = [row for row in tables["bound.csv"] if row["stream"] == "drive"]

    assert float(asked["drive"]["timeout_ms"]) == 250
    assert float(asked["drive"]["reaction_ms"]) == 300
    assert float(asked["head"]["hours"]) == 0.02
    assert unbound["why"] == found.bound["drive"].why != ""
    assert (unbound["term"], unbound["ms"]) == ("", "")
    assert {"kind": "not asked", "text": found.asked.defaults[0]} in tables["notes.csv"]
    assert len([row for row in tables["bound.csv"] if row["stream"] == "head"]) == len(
        found.bound["head"].terms
    )


def test_junit_has_a_suite_for_each_drill_and_a_failure_with_its_cause(found: Drilled) -> None:
    root = ET.fromstring(drill_junit(found))
    suites = {suite.get("name"): suite for suite in root}

    failure = suites["power_off drive"].find("testcase[@name='motor']/failure")
    assert failure is not None
    assert "another stream (head)" in (failure.get("message") or "")
    assert suites["power_off drive"].find("testcase[@name='pan goes on']") is not None
    assert int(root.get("failures") or 0) == len(root.findall(".//failure"))
    assert int(root.get("tests") or 0) == len(root.findall(".//testcase"))


def test_junit_of_a_drill_that_holds_has_no_failure(sound: Drilled) -> None:
    assert ET.fromstring(drill_junit(sound)).findall(".//failure") == []


def test_junit_stays_readable_whatever_a_scenario_is_called(sound: Drilled) -> None:
    named = msgspec.structs.replace(sound, scenario='a<b>&"c"')

    assert ET.fromstring(drill_junit(named)).get("name") == 'radiosim failsafe a<b>&"c"'


def test_an_output_that_stopped_for_anothers_fault_is_told(sound: Drilled) -> None:
    other = OtherFigures(
        fault="reset", unit="head", output="motor", stream="drive", repeats=8, trips=2
    )
    touched = msgspec.structs.replace(sound, others=(other,), ok=False)

    assert not is_all_well(sound.drills, (other,), (), (), ())
    assert "trips at a fault of another stream" in verdict_text(touched)
    assert "motor: failsafe trips 2 times at reset head" in told(touched)[0]


def test_the_terms_of_a_drill_make_its_bound(found: Drilled) -> None:
    for drill in found.drills:
        if drill.bound_ms is None:
            assert drill.terms == ()
        else:
            assert sum(term.ms for term in drill.terms) == pytest.approx(drill.bound_ms)


def test_a_timeout_with_which_nothing_comes_alive_is_called_dead(sound: Drilled) -> None:
    curve = sound.trade_off["drive"]
    dead = msgspec.structs.replace(curve[0], alive_share=0.25)
    text = printed(msgspec.structs.replace(sound, trade_off={"drive": (dead, *curve[1:])}))

    assert "DEAD: 25.0 %" in next(line for line in text.splitlines() if line[:3] == "50 ")
    assert "DEAD: alive for less than half of the time" in " ".join(text.split())
    assert "DEAD" not in printed(sound)
    assert document_of(sound)["trade_off"]["drive"][-1]["alive_share"] > 0.9


@pytest.mark.parametrize("trips", [0, 3])
@pytest.mark.parametrize("dead", ["none", "some", "all"])
def test_no_table_of_timeouts_is_one_of_zeros(sound: Drilled, trips: int, dead: str) -> None:
    curve = sound.trade_off["drive"]
    is_dead = [dead == "all" or (dead == "some" and place < 2) for place in range(len(curve))]
    changed = tuple(
        msgspec.structs.replace(point, nuisance_trips=trips, alive_share=0.0 if off else 1.0)
        for point, off in zip(curve, is_dead, strict=True)
    )
    text = printed(msgspec.structs.replace(sound, trade_off={"drive": changed}))
    told_once = " ".join(text.split())

    has_table = "Timeouts of drive" in text
    assert has_table == (trips > 0 or dead == "some")
    assert ("no timeout to weigh" in told_once) == (not trips and dead == "all")
    assert ("no nuisance trip in" in told_once) == (not trips and dead == "none")
    assert has_table or "DEAD" not in text


def test_an_output_that_was_never_alive_is_not_said_to_have_gone_on() -> None:
    made = scenario_with(TIMER + HEAD)
    deaf = msgspec.structs.replace(made, air=msgspec.structs.replace(made.air, loss=1.0))
    found = drilled(deaf, "power_off", repeats=4)
    text = " ".join(printed(found).split())
    case = ET.fromstring(drill_junit(found)).find(".//testcase[@name='pan goes on']/failure")

    assert (
        "pan and motor were never alive as other streams failed: not tried whether they go" in text
    )
    assert "went on through all drills" not in text
    # Nothing was tried: no table of dashes, but why.
    assert "From the fault until" not in text
    assert "No fault could be tried on any output" in text
    assert case is not None
    assert case.get("type") == "untried"


def test_fewer_hours_than_the_trade_off_takes_are_told(sound: Drilled) -> None:
    few = msgspec.structs.replace(sound.asked, hours=0.01)
    enough = msgspec.structs.replace(sound.asked, hours=sound.trade_off_s / 3600)

    text = printed(msgspec.structs.replace(sound, asked=few))
    assert "0.01 h (--hours) were too short" in " ".join(text.split())
    assert "too short" not in printed(msgspec.structs.replace(sound, asked=enough))


def test_junit_of_a_scenario_whose_name_has_control_characters_is_still_xml(
    sound: Drilled,
) -> None:
    named = msgspec.structs.replace(sound, scenario="boat\x1b[31m\x00")

    assert ET.fromstring(drill_junit(named)).get("name") == "radiosim failsafe boat?[31m?"


def test_a_reaction_past_its_bound_that_holds_says_why(sound: Drilled) -> None:
    [drill] = sound.drills
    assert drill.bound_ms is not None
    # As with a transmitter that repeats old values: the first to come through may be a repeat.
    longest = msgspec.structs.replace(drill.reaction_ms, max=drill.bound_ms + 30)
    later = msgspec.structs.replace(drill, reaction_ms=longest)
    text = " ".join(printed(msgspec.structs.replace(sound, drills=(later,))).split())

    assert "power_off drive: worst is past its bound, which counts from" in text
    assert "past its bound" not in printed(sound)


def test_cures_are_lines_to_paste(found: Drilled) -> None:
    text = printed(found)

    assert "\n  --set failsafe.drive.fed_by=own\n" in text
    assert "failsafe.drive.fed_by: only drive's own frames feed its timer" in text
    assert document_of(found)["cures"][0]["set"] == "failsafe.drive.fed_by=own"


def test_one_of_a_thing_is_not_said_in_the_plural(sound: Drilled) -> None:
    [drill] = sound.drills
    once = msgspec.structs.replace(
        sound, repeats=1, drills=(msgspec.structs.replace(drill, repeats=1),)
    )

    assert ": 1 fault drilled, 1 time each" in printed(once)
    output = ET.fromstring(drill_junit(once)).find(".//system-out")
    assert output is not None
    assert (output.text or "").endswith(", 1 fault")


def test_an_output_that_keeps_its_value_as_the_scenario_says_is_no_plain_pass() -> None:
    holding = BASE.replace("{ preset_us = 1500 }", '"hold"') + TIMER
    kept = drilled(parse(holding), "power_off", repeats=8)

    assert report_of(kept).is_well is None
    assert verdict_text(kept) == (
        "HOLDS, but motor keeps its value at some fault (on_failsafe is hold)."
    )
    assert any("KEEPS ITS VALUE: motor" in text for text in told(kept))


def test_what_to_change_comes_before_the_figures(found: Drilled) -> None:
    first, *others = report_of(found).ordered_sections()

    assert first.role == "change"
    lines = [sentence.form for sentence in first.sentences][: len(found.cures)]
    assert lines == ["code"] * len(found.cures)
    assert not any(section.role for section in others)


def test_every_drill_of_every_output_is_in_the_files_and_the_worst_on_screens(
    found: Drilled,
) -> None:
    tables = {table.key: table for section in report_of(found).sections for table in section.tables}
    faults = {(drill.fault, drill.unit) for drill in found.drills}

    assert len(tables["worst_outputs"].rows) == len(faults) < len(found.drills)
    assert "worst_outputs.csv" not in rows_of(found)


def test_nuisance_trips_are_bars_where_there_are_any(sound: Drilled) -> None:
    curve = sound.trade_off["drive"]
    often = msgspec.structs.replace(curve[0], nuisance_per_hour=20.0, nuisance_trips=9)
    text = printed(msgspec.structs.replace(sound, trade_off={"drive": (often, *curve[1:])}))
    bars = [line for line in text.splitlines() if re.search(r" #+ ", line)]

    assert [line.split() for line in bars] == [["50", "ms", "#" * 40, "20.0/h"]]
    assert "###" not in printed(sound)


def test_what_is_true_of_some_faults_alone_is_said_in_junit(found: Drilled) -> None:
    driven = next(drill for drill in found.drills if drill.still_driven)
    some = msgspec.structs.replace(driven, still_driven_repeats=3)
    text = drill_junit(msgspec.structs.replace(found, drills=(some,)))

    assert f"after 3 of {driven.repeats} faults: " in text


VIOLATION = Violation(
    stream="drive",
    figure="reaction_ms",
    asked=400,
    found=542.1,
    timeout_ms=500,
    where="motor",
    why="",
)


@pytest.mark.parametrize(
    ("changes", "parts"),
    [
        ({}, ["timeout of 500 ms", "within 542 ms", "not within the 400 ms asked (--reaction-ms)"]),
        ({"found": 400.02}, ["reacts within 400.02 ms", "not within the 400 ms asked"]),
        ({"found": None, "why": "no failsafe"}, ["no bound for motor", "asked", ": no failsafe"]),
        (
            {"where": "motor at hang receiver", "is_drilled": True},
            ["motor at hang receiver reacts within 542 ms", "(--reaction-ms)"],
        ),
        (
            {"figure": "nuisance_per_hour", "asked": 1, "found": 3.79},
            ["at least 3.79 nuisance trips an hour (95 % sure)", "(--nuisance-per-hour)"],
        ),
    ],
)
def test_what_was_asked_and_is_not_kept_is_told_with_what_the_stream_does(
    changes: dict[str, object], parts: list[str]
) -> None:
    text = violation_text(msgspec.structs.replace(VIOLATION, **changes))

    assert text.startswith("drive: ")
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


def test_a_requirement_that_is_missed_by_little_does_not_look_kept(found: Drilled) -> None:
    missed = msgspec.structs.replace(found.requirements[0], measured=300.01, at_most=300.0)

    assert "is 300.01 ms, at most 300 ms was asked" in requirement_text(missed)


@given(data=st.data())
@examples(50)
def test_what_drives_is_spoken_of_before_what_looks(found: Drilled, data: st.DataObject) -> None:
    dangers = data.draw(st.lists(st.sampled_from(Danger), min_size=len(found.drills)))
    whys = data.draw(st.lists(st.sampled_from(("one", "other")), min_size=len(found.drills)))
    drills = tuple(
        msgspec.structs.replace(
            drill,
            danger=danger,
            output=f"{danger.name}_{number}",
            why=why,
            verdict="fails",
            still_driven=True,
        )
        for number, (drill, danger, why) in enumerate(
            zip(found.drills, dangers, whys, strict=False)
        )
    )
    lines = [
        text for text in told(msgspec.structs.replace(found, drills=drills)) if "STILL" in text
    ]

    worst = min(drill.danger for drill in drills)
    assert lines[0].startswith(f"STILL DRIVEN: {worst.name}_")
    for line in lines:
        spoken = [Danger[name] for name in re.findall(r"(DRIVES|MOVES|LOOKS)_", line)]
        assert spoken == sorted(spoken)


def test_junit_follows_the_order_of_the_drills(found: Drilled) -> None:
    cases = ET.fromstring(drill_junit(found)).iter("testcase")
    names = [(case.get("classname"), case.get("name")) for case in cases]
    wanted = [(f"{drill.fault}.{drill.unit}", drill.output) for drill in found.drills]

    assert [name for name in names if name in wanted] == wanted


def test_a_stream_that_never_trips_has_no_table_of_zeros() -> None:
    calm = drilled(parse((BASE + TIMER).replace("loss = 0.02", "loss = 0")), "power_off", repeats=8)
    text = printed(calm)

    assert "no nuisance trip in" in text
    assert "0.00/h" not in text
    assert not any(section.figures for section in report_of(calm).sections[4:])
    assert "rests on" in text
    assert "air.loss = 0 (given)" in text


@pytest.mark.parametrize(
    ("feasible", "text"),
    [
        (FeasibleRange(shortest_ms=100, longest_ms=400, why=""), "100 ms to 400 ms"),
        (FeasibleRange(shortest_ms=None, longest_ms=400, why="", is_unshown=True), "NOT SHOWN"),
        (FeasibleRange(shortest_ms=500, longest_ms=400, why=""), "NONE"),
        (FeasibleRange(shortest_ms=None, longest_ms=400, why=""), "NONE"),
    ],
)
def test_a_range_that_was_not_shown_is_not_said_to_be_none(
    sound: Drilled, feasible: FeasibleRange, text: str
) -> None:
    given = msgspec.structs.replace(sound, feasible_range={"drive": feasible})

    assert feasible_sentences(given, "drive")[-1].text == text


def test_an_assumed_loss_is_told_where_timeouts_are_weighed() -> None:
    assumed = drilled(
        parse((BASE + TIMER).replace("air.loss = 0.02\n", "")), "power_off", repeats=8
    )

    assert "air.loss = 0.02 (assumed)" in printed(assumed)


def test_a_guessed_failsafe_value_fails_in_words_and_junit() -> None:
    nothing_said = BASE[: BASE.index("[output.motor]")] + TIMER
    found = drilled(parse(nothing_said), "power_off", repeats=8)

    assert verdict_text(found) == "FAILS: the failsafe value of drive is a guess."
    assert told(found)[0].startswith("GUESSED: what drive does on failsafe")
    assert ET.fromstring(drill_junit(found)).find(".//failure[@type='guess']") is not None


@pytest.mark.parametrize("is_passed", [False, True])
def test_what_was_drilled_is_never_past_what_is_said_to_be_reachable(
    sound: Drilled, is_passed: bool
) -> None:
    drills = tuple(
        msgspec.structs.replace(
            drill, reachable_ms=(drill.silence_ms.max or 0.0) + (-1 if is_passed else 1)
        )
        for drill in sound.drills
    )
    text = printed(msgspec.structs.replace(sound, drills=drills))

    assert ", drilled " in text or ": drilled " in text
    assert ("reachable" in text) == (not is_passed)
