import json
from typing import Any

from radiosim.report.as_json import as_json
from tests.report.samples import one_start, several_starts

RUN = ["duration_s", "version", "engine", "assumed", "warnings"]
JUDGEMENT = ["requirements", "findings", "stopping"]


def keys_in(value: Any) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*map(keys_in, value.values()))
    if isinstance(value, list):
        return set[str]().union(*map(keys_in, value))
    return set()


def test_one_start_has_its_figures_at_the_top() -> None:
    document = json.loads(as_json(one_start()))

    assert list(document) == [
        *("scenario", "title", "seed", "start"),
        *RUN,
        *("stream", "output", "air", "receiver", "faults"),
        *JUDGEMENT,
    ]
    assert document["start"] == 3
    assert document["stream"]["drive"]["gap_ms"]["median"] == 20.0
    assert document["stream"]["head"]["failsafe"] is None
    assert document["faults"][0]["outputs"]["lamp"]["action"] == "off"


def test_one_start_has_no_intervals() -> None:
    keys = keys_in(json.loads(as_json(one_start())))

    assert not [key for key in keys if key.endswith("_ci95")]
    assert "starts_with_nuisance" not in keys


def test_several_starts_are_pooled_with_the_worst_apart() -> None:
    document = json.loads(as_json(several_starts()))

    assert list(document) == [
        *("scenario", "title", "seed", "starts"),
        "starts_around_beats",
        *RUN,
        *("pooled", "worst"),
        *JUDGEMENT,
    ]
    assert list(document["pooled"]) == ["stream", "output", "air", "receiver", "faults"]
    assert document["worst"]["stream.drive.gap_ms.max"] == {"value": 412.345, "start": 17}
    assert document["pooled"]["stream"]["drive"]["failsafe"]["nuisance_per_hour_ci95"] == [
        0.21,
        4.6,
    ]


def test_what_was_not_judged_is_null() -> None:
    requirements = json.loads(as_json(several_starts()))["requirements"]

    assert [requirement["ok"] for requirement in requirements] == [True, False, None]
    assert requirements[2]["measured"] is None


def test_text_is_indented_and_ends_with_a_line_end() -> None:
    text = as_json(one_start())

    assert text.startswith('{\n  "scenario": "culvert",\n  "title"')
    assert text.endswith("}\n")
