from xml.etree import ElementTree as Xml

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.results.junit import Case, junit_text
from radiosim.safety import CAUTION

CASES = (
    Case(suite="power_off drive", class_name="power_off.drive", name="pan", seconds=0.25),
    Case(
        suite="power_off drive",
        class_name="power_off.drive",
        name="lamp",
        failure="STILL DRIVEN",
        failure_type="failsafe",
        output="reaction never",
    ),
    Case(suite="hang head", class_name="hang.head", name="tilt", skipped="holds, as wanted"),
    Case(suite="power_off drive", class_name="power_off.drive", name="tilt"),
)


def test_suites_count_their_cases() -> None:
    root = Xml.fromstring(junit_text("radiosim failsafe", CASES))

    assert root.attrib == {"name": "radiosim failsafe", "tests": "4", "failures": "1"}
    assert [suite.attrib for suite in root] == [
        {"name": "power_off drive", "tests": "3", "failures": "1", "skipped": "0", "errors": "0"},
        {"name": "hang head", "tests": "1", "failures": "0", "skipped": "1", "errors": "0"},
    ]


def test_every_suite_has_the_caution_in_one_line() -> None:
    root = Xml.fromstring(junit_text("radiosim failsafe", CASES))

    for suite in root:
        found = suite.find("./properties/property[@name='caution']")
        assert found is not None
        assert found.attrib["value"] == CAUTION


def test_cases_tell_why_they_failed_or_were_skipped_and_what_was_measured() -> None:
    root = Xml.fromstring(junit_text("x", CASES))

    failure, skipped = root.find(".//failure"), root.find(".//skipped")
    assert failure is not None
    assert failure.attrib == {"type": "failsafe", "message": "STILL DRIVEN"}
    assert skipped is not None
    assert skipped.attrib == {"message": "holds, as wanted"}
    assert root.findtext(".//system-out") == "reaction never"
    assert root.find(".//testcase[@name='pan']").attrib["time"] == "0.250"  # type: ignore[union-attr]  # it is there


def test_a_case_does_not_fail_and_skip_at_once() -> None:
    with pytest.raises(ValueError, match="must not both fail and be skipped"):
        Case(suite="s", class_name="c", name="n", failure="x", skipped="y")


@given(st.text(), st.text())
def test_texts_of_any_kind_make_sound_xml(name: str, why: str) -> None:
    case = Case(suite=name, class_name=name, name=name, failure=why, output=why)

    root = Xml.fromstring(junit_text(name, (case,)))

    assert len(root.findall(".//failure")) == 1
