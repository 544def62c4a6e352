"""The glossary knows every word that screens use, whoever says it."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import radiosim
from radiosim.registers.fault_register import FAULT_KINDS
from radiosim.report.glossary import found, told, word_entries
from radiosim.report.glossary.entry import Entry
from radiosim.trace import AcknowledgementFate, Fate, Outcome, ReadOutcome

PACKAGE = Path(radiosim.__file__).parent
NO_WORD = {
    *("ABCDEFGH", "CAUTION", "MEASURE", "NOT", "NOTE", "TRY", "VERDICT", "WHY"),
    *("CI", "CSV", "JSON", "TOML", "UTF", "VCD", "XML"),
    *(
        "KEY",
        "FIELD",
        "FIGURE",
        "FIRST",
        "LAST",
        "NAME",
        "PULSE",
        "RULES",
        "STEP",
        "VALUE",
        "WEIGHT",
    ),
    *("ROOM", "WIDTH"),
    *("ALIVE", "NEVER", "NEVER COME", "NEVER COMES"),
}
"""Labels, formats, what a user puts something in for, and parts of NEVER COMES ALIVE."""
HEADERS = ("settings_h.py", "settings_header.py")
"""C has capitals of its own."""
OF_THE_TABLE = (
    *("scenario", "start", "period", "send rate", "gap", "median", "p99", "update rate", "latency"),
    *("age", "delay", "pass", "loop time", "transmitter", "receiver", "acknowledgement", "CRC"),
    *("retries used up", "loss burst", "beat", "beat period", "collision burst", "duty cycle"),
    *("channel occupancy", "reaction time", "stopping time", "STILL DRIVEN", "nuisance trip"),
    *("trips on fault", "stale", "drill", "repeats", "trade-off", "feasible range", "NONE"),
    *("Pareto front", "first-order share", "total share", "margin", "link margin", "channel"),
    *("predicted range", "bench test sheet", "head", "deaf", "fresh", "assumed", "finding", "cure"),
    *("pipe", "failsafe", "hold", "preset", "mix", "stream", "attempt", "collision"),
)


def texts(path: Path) -> Iterator[str]:
    """Every text of a module that is neither a docstring nor a name it hands out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            alone |= {id(name) for name in ast.walk(node.value)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone:
            yield node.value


def verdicts() -> set[str]:
    """What stands in capitals in findings, reports and what they are made of."""
    said: set[str] = set()
    for folder in ("assess", "findings", "measure", "report", "study"):
        for path in (PACKAGE / folder).rglob("*.py"):
            if path.name not in HEADERS and path.parent.name != "glossary":
                for text in texts(path):
                    said |= set(re.findall(r"\b[A-Z]{2,}(?:[ -][A-Z]{2,})*\b", text))
    return said - NO_WORD


def chosen(name: str) -> set[str]:
    """Values of every alias of that name, such as `Verdict = Literal["holds", "fails"]`."""
    values: set[str] = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_alias = isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == name
            if is_alias and isinstance(node, ast.Assign) and isinstance(node.value, ast.Subscript):
                values |= set(ast.literal_eval(node.value.slice))
    return values


def is_known(word: str) -> bool:
    return any(entry.what not in ("key", "table", "figure") for entry in found(word))


@pytest.mark.parametrize("entry", word_entries(), ids=lambda entry: entry.path[0])
def test_every_word_has_a_text_and_is_found_by_itself(entry: Entry) -> None:
    assert len(entry.meaning) > 8
    assert entry in found(entry.path[0])
    assert max(map(len, told((entry,)).splitlines())) <= 80


def test_no_word_stands_twice() -> None:
    words = [entry.path[0] for entry in word_entries()]

    assert len(set(words)) == len(words)


@pytest.mark.parametrize("word", OF_THE_TABLE)
def test_every_word_of_the_trade_is_known(word: str) -> None:
    assert is_known(word)


@pytest.mark.parametrize("word", sorted(verdicts() | chosen("Verdict")))
def test_every_verdict_that_the_code_says_is_known(word: str) -> None:
    assert is_known(word)


@pytest.mark.parametrize("kind", tuple(FAULT_KINDS))
def test_every_kind_of_fault_is_known(kind: str) -> None:
    assert any(entry.what == "fault" for entry in found(kind))


CAUSES = (
    *(fate for fate in Fate if fate is not Fate.NEW),
    *(fate for fate in AcknowledgementFate if fate is not AcknowledgementFate.TAKEN),
    *(Outcome.SKIPPED, Outcome.REPLACED, Outcome.QUEUE_FULL, Outcome.POWER_CUT),
    *(Outcome.RETRIES_USED_UP, ReadOutcome.THROWN_AWAY, ReadOutcome.LOST_WITH_THE_FIFO),
)
"""Why a sample, an attempt or an acknowledgement comes to nothing."""


@pytest.mark.parametrize("cause", sorted({fate.words for fate in CAUSES}))
def test_every_cause_of_loss_is_known(cause: str) -> None:
    assert is_known(cause)
