"""What a drill prints and writes."""

import csv
import io
import json
import xml.etree.ElementTree as ET

import msgspec
import pytest
from rich.console import Console

from radiosim.report.drill.as_csv import as_csv
from radiosim.report.drill.as_json import as_json
from radiosim.report.drill.junit import as_junit
from radiosim.report.drill.terminal import hazards, print_drilled
from radiosim.study.drill import Drilled
from tests.study.drill.scenarios import HEAD, TIMER, drilled, scenario_with

SHARED = TIMER + 'fed_by = "any"\n' + HEAD
REQUIRED = '[[requirement]]\nfigure = "worst.drive.reaction_ms"\nat_most = 300\n'


@pytest.fixture(scope="module")
def found() -> Drilled:
    return drilled(scenario_with(SHARED + REQUIRED), repeats=8)


@pytest.fixture(scope="module")
def passed() -> Drilled:
    return drilled(scenario_with(TIMER + REQUIRED), "power_off", repeats=8)


def printed(found: Drilled, speed_m_s: float | None = None) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=80, highlight=False, markup=False, emoji=False)
    print_drilled(found, console, speed_m_s=speed_m_s)
    return stream.getvalue()


def test_no_line_is_wider_than_eighty_columns(found: Drilled) -> None:
    assert max(map(len, printed(found, 12.5).splitlines())) <= 80


def test_cautions_come_before_the_verdict_and_that_before_the_figures(found: Drilled) -> None:
    text = printed(found)

    assert text.index("propellers off") < text.index("VERDICT: FAILED") < text.index("median")


def test_an_output_left_alive_is_named_with_its_fault_and_cause(found: Drilled) -> None:
    first = hazards(found)[0]

    assert first.startswith("STILL DRIVEN: motor at power_off drive")
    assert "another stream (head) feeds drive's timer" in first


def test_a_requirement_that_fails_is_told(found: Drilled) -> None:
    assert any("requirement FAILED: worst.drive.reaction_ms" in text for text in hazards(found))


def test_a_drill_that_is_passed_says_so_and_warns_of_nothing(passed: Drilled) -> None:
    assert passed.ok
    assert "VERDICT: PASSED" in printed(passed)
    assert hazards(passed) == ()


def test_the_way_is_the_speed_times_the_time_to_a_stop(passed: Drilled) -> None:
    reaction_ms = passed.worst["drive"].reaction_ms
    assert reaction_ms is not None

    assert f"up to {10 * reaction_ms / 1000:.2f} m on at 10.0 m/s" in " ".join(
        printed(passed, 10).split()
    )


def test_a_vehicle_that_nothing_stops_drives_on_until_somebody_catches_it(found: Drilled) -> None:
    text = " ".join(printed(found, 2).split())
    carried_ms = found.worst["drive"].carried_ms

    assert carried_ms is not None
    assert (
        "drives on at 2.00 m/s until somebody catches it; where it does stop, "
        f"up to {2 * carried_ms / 1000:#.3g} m on" in text
    )
    assert "catches it" not in printed(found)


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


def test_the_longest_term_of_a_bound_is_marked(passed: Drilled) -> None:
    assert "250 ms  timeout  <- shorten this first" in printed(passed)


def test_the_scenarios_own_timeout_is_marked_in_the_trade(passed: Drilled) -> None:
    [row] = [line for line in printed(passed).splitlines() if "<- now" in line]

    assert row.startswith("250 ")


def test_defaults_that_nobody_asked_for_are_told(passed: Drilled) -> None:
    text = " ".join(printed(passed).split())

    assert "Nobody asked, so: nuisance trips under 1 an hour (--nuisance-per-hour)." in text


def test_json_has_the_names_of_the_results(found: Drilled) -> None:
    document = json.loads(as_json(found))

    first = document["drills"][0]
    names = {"fault", "unit", "stream", "output", "bound_ms", "reaction_ms", "stopping_ms"}
    assert names | {"recovered_ms", "alive"} <= set(first)
    assert document["worst"]["drive"]["reaction_ms"] is None
    assert document["bound"]["drive"]["total_ms"] is None
    assert document["bound"]["head"]["terms"][0] == {
        "name": "wait in the FIFO",
        "ms": found.bound["head"].terms[0].ms,
    }
    assert set(document["room"]["head"]) == {
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
    } <= set(document["trade"]["head"][0])
    assert document["ok"] is False


def test_csv_tables_have_a_row_for_each_drill_and_timeout(found: Drilled) -> None:
    tables = {name: list(csv.DictReader(io.StringIO(text))) for name, text in as_csv(found).items()}

    assert len(tables["drills.csv"]) == len(found.drills)
    assert len(tables["trade.csv"]) == sum(map(len, found.trade.values()))
    assert tables["drills.csv"][0]["verdict"] == "failed"
    assert len(tables["terms.csv"]) == sum(len(drill.terms) for drill in found.drills)


def test_csv_tells_what_was_asked_and_why_there_is_no_bound(found: Drilled) -> None:
    tables = {name: list(csv.DictReader(io.StringIO(text))) for name, text in as_csv(found).items()}
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
    root = ET.fromstring(as_junit(found))
    suites = {suite.get("name"): suite for suite in root}

    failure = suites["power_off drive"].find("testcase[@name='motor']/failure")
    assert failure is not None
    assert "another stream (head)" in (failure.get("message") or "")
    assert suites["power_off drive"].find("testcase[@name='pan goes on']") is not None
    assert int(root.get("failures") or 0) == len(root.findall(".//failure"))
    assert int(root.get("tests") or 0) == len(root.findall(".//testcase"))


def test_junit_of_a_drill_that_is_passed_has_no_failure(passed: Drilled) -> None:
    assert ET.fromstring(as_junit(passed)).findall(".//failure") == []


def test_junit_stays_readable_whatever_a_scenario_is_called(passed: Drilled) -> None:
    named = msgspec.structs.replace(passed, scenario='a<b>&"c"')

    assert ET.fromstring(as_junit(named)).get("name") == 'radiosim failsafe a<b>&"c"'


def test_an_output_that_stopped_for_anothers_fault_is_told(passed: Drilled) -> None:
    from radiosim.study.drill.results import OtherFigures

    other = OtherFigures(
        fault="reset", unit="head", output="motor", stream="drive", repeats=8, stops=2
    )
    touched = msgspec.structs.replace(passed, others=(other,))

    assert not touched.ok
    assert "motor stopped 2 times at reset head" in hazards(touched)[0]


def test_the_terms_of_a_drill_make_its_bound(found: Drilled) -> None:
    for drill in found.drills:
        if drill.bound_ms is None:
            assert drill.terms == ()
        else:
            assert sum(term.ms for term in drill.terms) == pytest.approx(drill.bound_ms)


def test_a_timeout_with_which_nothing_comes_alive_is_called_dead(passed: Drilled) -> None:
    curve = passed.trade["drive"]
    dead = msgspec.structs.replace(curve[0], alive_share=0.25)
    text = printed(msgspec.structs.replace(passed, trade={"drive": (dead, *curve[1:])}))

    assert "DEAD: alive 25.0 %" in next(line for line in text.splitlines() if line[:3] == "50 ")
    assert "DEAD: alive for less than half of the time" in " ".join(text.split())
    assert "DEAD" not in printed(passed)
    assert json.loads(as_json(passed))["trade"]["drive"][-1]["alive_share"] > 0.9


def test_an_output_that_was_never_alive_is_not_said_to_have_gone_on() -> None:
    made = scenario_with(TIMER + HEAD)
    deaf = msgspec.structs.replace(made, air=msgspec.structs.replace(made.air, loss=1.0))
    found = drilled(deaf, "power_off", repeats=4)
    text = " ".join(printed(found).split())
    case = ET.fromstring(as_junit(found)).find(".//testcase[@name='pan goes on']/failure")

    assert (
        "pan and motor were never alive as other streams failed: not tried whether they go" in text
    )
    assert "went on through all drills" not in text
    assert case is not None
    assert case.get("type") == "untried"


def test_fewer_hours_than_the_trade_takes_are_told(passed: Drilled) -> None:
    few = msgspec.structs.replace(passed.asked, hours=0.01)
    enough = msgspec.structs.replace(passed.asked, hours=passed.trade_s / 3600)

    text = printed(msgspec.structs.replace(passed, asked=few))
    assert "0.01 h (--hours) were too short" in " ".join(text.split())
    assert "too short" not in printed(msgspec.structs.replace(passed, asked=enough))


def test_junit_of_a_scenario_whose_name_has_control_characters_is_still_xml(
    passed: Drilled,
) -> None:
    named = msgspec.structs.replace(passed, scenario="boat\x1b[31m\x00")

    assert ET.fromstring(as_junit(named)).get("name") == "radiosim failsafe boat?[31m?"


def test_a_stop_past_its_bound_that_is_in_order_says_why(passed: Drilled) -> None:
    [drill] = passed.drills
    assert drill.bound_ms is not None
    # As with a transmitter that repeats old values: the first to come through may be a repeat.
    longest = msgspec.structs.replace(drill.reaction_ms, max=drill.bound_ms + 30)
    later = msgspec.structs.replace(drill, reaction_ms=longest)
    text = " ".join(printed(msgspec.structs.replace(passed, drills=(later,))).split())

    assert "power_off drive: worst is past its bound, which counts from" in text
    assert "past its bound" not in printed(passed)


def test_cures_are_lines_to_paste(found: Drilled) -> None:
    text = printed(found)

    assert "\n  --set failsafe.drive.fed_by=own  # only drive's own frames feed its timer\n" in text
    assert json.loads(as_json(found))["cures"][0]["set"] == "failsafe.drive.fed_by=own"


def test_one_of_a_thing_is_not_said_in_the_plural(passed: Drilled) -> None:
    [drill] = passed.drills
    once = msgspec.structs.replace(
        passed, repeats=1, drills=(msgspec.structs.replace(drill, repeats=1),)
    )

    assert ": 1 fault drilled, 1 time each" in printed(once)
    assert "under 1 trip an hour" in printed(once)
    output = ET.fromstring(as_junit(once)).find(".//system-out")
    assert output is not None
    assert (output.text or "").endswith(", 1 point")
