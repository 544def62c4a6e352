"""What the report of two layouts says, and what its files hold."""

import dataclasses
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.layout import Layout
from radiosim.layout.compare import compare
from radiosim.layout.compare.compared import Length
from radiosim.report.layout_compare import compare_report
from radiosim.report.layout_compare_data import LayoutCompareData
from radiosim.report.link_change import SHOWN, Shown, link_sections, signed
from radiosim.results.data import columns_of, json_text
from radiosim.results.document import Report, Sentence
from radiosim.results.formats import duration_text, fmt_percent
from radiosim.results.terminal import plain_text
from radiosim.scenario.named_layout import NamedLayout
from tests.examples import examples
from tests.layout.layout_strategies import layouts as random_layouts
from tests.report.layout_samples import layouts
from tests.report.reports import a_layout_comparison, origin_of


def table_of(report: Report, key: str) -> dict[str, list[Any]]:
    (found,) = (table for table in report.data_tables() if table.key == key)
    return columns_of(found)


def test_a_misread_field_is_warned_of_in_each_direction() -> None:
    report = a_layout_comparison()
    texts = [said.text for said in report.warnings if isinstance(said, Sentence)]

    assert report.is_well is False
    assert [text.split(":")[0] for text in texts] == [
        "New transmitter, old receiver",
        "Old transmitter, new receiver",
    ]
    assert all("pull" in text and text.endswith("MISREAD.") for text in texts)


def test_a_layout_beside_itself_has_nothing_to_warn_of() -> None:
    old, _ = layouts()
    report = compare_report(
        compare(old.layout, old.layout), (old, old), "own", origin_of("layout compare")
    )

    assert report.is_well is True
    assert report.warnings == ()
    assert report.title == "frame: compatible: either end may be flashed alone"


@given(random_layouts(), random_layouts(), st.data())
@examples(20)
def test_the_first_line_tells_what_to_flash(
    one: Layout, other: Layout, data: st.DataObject
) -> None:
    """Of unlike layouts, of equal ones, and of those of which only a comment tells."""
    new = data.draw(st.sampled_from([one, other]))
    comments = data.draw(st.sampled_from([({}, {}), ({"": "1/100"}, {"": "1/50"})]))
    length: Length = data.draw(st.sampled_from(["own", "fixed", "padded"]))
    named = [
        NamedLayout(label=label, layout=each, abi=None, targets={}, scenario=None)
        for label, each in (("old", one), ("new", new))
    ]
    found = compare(one, new, comments=comments)
    report = compare_report(found, (named[0], named[1]), length, origin_of("layout compare"))
    first = " ".join(plain_text(report).split("\n\n")[0].split())

    assert first == report.title
    assert ("compatible" in first) == found.is_compatible(length)
    verdicts = [way.of(length).verdict for way in (found.new_to_old, found.old_to_new)]
    assert ("together" in first) == ("compatible" not in verdicts)
    assert ("flash the receiver before" in first) == (verdicts[1] == "compatible" != verdicts[0])
    assert ("before the receiver" in first) == (verdicts[0] == "compatible" != verdicts[1])
    # Nothing is asked that no warning asks.
    asked = [said for said in report.warnings if "ASKED" in getattr(said, "text", "")]
    assert bool(asked) == bool(found.questions)


def test_files_hold_every_direction_length_and_field() -> None:
    report = a_layout_comparison()
    verdicts, readings = table_of(report, "verdicts"), table_of(report, "readings")

    assert len(set(zip(verdicts["direction"], verdicts["length"], strict=True))) == 6
    data = json.loads(json_text(report))
    for row in range(6):
        direction, length = verdicts["direction"][row], verdicts["length"][row]
        outcome = data[direction][length]
        assert outcome["verdict"] == verdicts["verdict"][row]
        mine = [
            field
            for field, way, its in zip(
                readings["field"], readings["direction"], readings["length"], strict=True
            )
            if (way, its) == (direction, length)
        ]
        assert mine == [reading["field"] for reading in outcome["fields"]]


def test_a_link_stands_beside_the_verdicts_in_json_and_in_its_tables() -> None:
    report = a_layout_comparison()
    link = json.loads(json_text(report))["link"]
    change = table_of(report, "change")

    assert change["figure"] == list(link["figures"])
    row = change["figure"].index("stream.drive.duty_cycle")
    assert change["old"][row] == link["figures"]["stream.drive.duty_cycle"]["old"]
    assert change["difference_ci95.low"][row] > 0
    assert link["frame_us"]["drive"]["new"] > link["frame_us"]["drive"]["old"]


def test_why_a_link_is_not_simulated_is_said_line_by_line() -> None:
    (section,) = link_sections(None, "one: is wrong\ntwo: too", None)

    assert section.sentences == ("one: is wrong", "two: too")


def test_arrays_that_read_alike_are_one_row() -> None:
    old, new = layouts()
    compared = compare(old.layout, new.layout)
    (pull,) = (f for f in compared.new_to_old.own.fields if f.name == "pull")
    several = tuple(
        dataclasses.replace(pull, name="pull", says=f"reads pull_{n}") for n in (0, 0, 0)
    )
    own = dataclasses.replace(compared.new_to_old.own, fields=several)
    way = dataclasses.replace(compared.new_to_old, own=own)
    report = compare_report(
        dataclasses.replace(compared, new_to_old=way), (old, new), "own", origin_of("x")
    )

    assert isinstance(report.data, LayoutCompareData)
    assert len(report.data.new_to_old.own.fields) == 3
    assert plain_text(report).count("reads pull_0") == 1


@pytest.mark.parametrize(
    ("figure", "value", "text"),
    [
        ("duty_cycle", 0.00205, f"+{fmt_percent(0.00205)}"),
        ("gap_ms.max", -1234.0, f"-{duration_text(1234.0)}"),
        ("lost_collision", 0.0, "0"),
        ("lost_collision", 1e-9, "0"),
    ],
)
def test_a_difference_has_its_sign_and_unit(figure: str, value: float, text: str) -> None:
    shown: Shown = next(one for one in SHOWN if one.figure == figure)

    assert signed(shown, value) == text
