"""Keys set in a scenario's text: it says what the overrides say, and keeps its comments."""

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from radiosim.safety import CAUTION
from radiosim.scenario.edited import edited, toml_of, with_caution
from radiosim.scenario.override import overridden
from radiosim.scenario.shipped import shipped_scenarios
from tests.examples import examples

TEXT = """# first
title = "a"  # kept 1

[transmitter.drive]
period_ms = 20  # kept 2
signals.count = { kind = "counter" }
  # kept 3

[layout.v1]
fields = [
  { name = "count", type = "u8" },  # kept 4
  { name = "pan", type = "i16" },   # kept 5
]

[receiver]
work = [{ every_ms = 100, takes_ms = 3 }]  # kept 6

[failsafe.drive]  # kept 7
timeout_ms = 250

[[fault]]  # kept 8
at_s = 3
"""
LINES = [
    "transmitter.drive.period_ms=23",
    "transmitter.drive.signals.count.start=3",
    "transmitter.drive.signals.pan={kind='sine', period_s=4}",
    'layout.v1.fields[2]={name="n", type="u8"}',
    "layout.v1.fields[0].name=other",
    "receiver.work=[]",
    "receiver.work[1]={every_ms=5, takes_ms=1}",
    "receiver.read=all",
    "failsafe.head.timeout_ms=500",
    "failsafe.head.resume_needs={field='x', within=0.05}",
    "fault[0].for_s=2",
    "fault[1]={at_s=9, kind='hang'}",
    "radio.channel=9",
    "duration_s=8",
    "interferer.hall.duty=0.2",
    'title="it\'s # \\"odd\\""',
]


def said(text: str, lines: tuple[str, ...]) -> dict[str, Any]:
    return overridden(tomllib.loads(text), lines)[0]


def comments_of(text: str) -> list[str]:
    return sorted(line.partition("#")[2].strip() for line in text.splitlines() if "#" in line)


@pytest.mark.parametrize("line", LINES)
def test_one_key_is_set_and_every_comment_stays(line: str) -> None:
    text = edited(TEXT, (line,))

    assert tomllib.loads(text) == said(TEXT, (line,))
    for number in range(1, 9):
        assert f"kept {number}" in text
    # What is not about the key stands as it stood.
    assert sum(one not in text.splitlines() for one in TEXT.splitlines()) <= 1


@given(st.lists(st.sampled_from(LINES), max_size=6, unique=True))
@examples(60)
def test_keys_are_set_one_after_the_other(lines: list[str]) -> None:
    expected = said(TEXT, tuple(lines))
    if overridden(tomllib.loads(TEXT), lines)[2]:
        return
    assert tomllib.loads(edited(TEXT, lines)) == expected


def test_a_text_of_dotted_keys_stays_one() -> None:
    text = "transmitter.drive = { period_ms = 20 }\nfailsafe.drive = { timeout_ms = 250 }\n"
    lines = ("failsafe.head.timeout_ms=500", "transmitter.drive.signals.a.kind=counter", "seed=3")

    assert edited(text, lines).splitlines() == [
        'transmitter.drive = { period_ms = 20, signals.a.kind = "counter" }',
        "failsafe.drive = { timeout_ms = 250 }",
        "failsafe.head.timeout_ms = 500",
        "seed = 3",
    ]


def test_a_table_spread_over_headers_is_replaced_as_a_whole() -> None:
    text = edited(TEXT, ("fault=[]", "failsafe.drive={timeout_ms=9}"))

    assert tomllib.loads(text) == said(TEXT, ("fault=[]", "failsafe.drive={timeout_ms=9}"))


def test_tables_inside_elements_are_found() -> None:
    text = "[[a.b]]\nc = 1\n[a.b.d]\ne = 1\n[[a.b]]\nc = 2\n"
    for line in ("a.b[0].d.f=1", "a.b[0].g.h=1", "a.b[2].c=1"):
        assert tomllib.loads(edited(text, (line,))) == said(text, (line,))


@pytest.mark.parametrize("shipped", shipped_scenarios(), ids=lambda one: one.name)
def test_shipped_scenarios_keep_every_comment(shipped: Any) -> None:
    text = shipped.path.read_text(encoding="utf-8")
    name = next(iter(tomllib.loads(text)["transmitter"]))
    lines = (f"transmitter.{name}.power_dbm=3", "receiver.read=all", "failsafe.new.timeout_ms=9")
    cured = edited(text, lines)

    assert tomllib.loads(cured) == said(text, lines)
    assert comments_of(cured) == comments_of(text)


@given(st.recursive(st.booleans() | st.integers() | st.text(), st.lists))
@examples(50)
def test_a_value_is_written_as_it_is_read(value: Any) -> None:
    assert tomllib.loads(f"x = {toml_of(value)}")["x"] == value


def test_a_written_scenario_has_the_caution_once() -> None:
    once = with_caution(TEXT)

    assert tomllib.loads(once) == tomllib.loads(TEXT)
    assert once.endswith(TEXT)
    assert with_caution(once) == once
    assert CAUTION in " ".join(once.replace("\n#", "\n").split())


def test_what_is_raised_is_told_in_the_comments_too() -> None:
    text = with_caution(TEXT, "raises transmitter.drive.power_dbm to 20 dBm: check your rules")

    assert text.startswith("# Caution: raises transmitter.drive.power_dbm to 20 dBm")
    assert CAUTION in " ".join(text.replace("\n#", "\n").split())
    assert tomllib.loads(text) == tomllib.loads(TEXT)
