"""No text of the package sends a builder where somebody can be hurt, or where rules are broken.

Texts are string literals with what a formatted one is made of, docstrings left out, and the
templates and scenarios that ship. A sentence that is bad as a class is forbidden as a class.
"""

import ast
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from radiosim import safety
from radiosim.safety import (
    CAUTION,
    LOCAL_RULES,
    MAY_PINCH,
    NO_JAMMING,
    OWN_SUPPLY,
    RUNS_ON,
    STILL,
)

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "radiosim"
FILES = sorted(PACKAGE.rglob("*.py"))
PLAIN = (
    *sorted(PACKAGE.rglob("*.j2")),
    *sorted((ROOT / "scenarios").glob("*.toml")),
    ROOT / "README.md",
)


@dataclass(frozen=True, slots=True)
class Rule:
    """Whoever says `said` must say each of `beside` in the same text, and none of `never`."""

    said: str
    beside: tuple[str, ...] = ()
    never: str = ""


RULES: dict[str, Rule] = {
    "wheels that are lifted leave propellers on": Rule(
        r"\bwheels? (up|off|clear|free|in the air|lifted)\b|\boff the ground\b",
        (r"\bpropellers? (are |is )?(off|clear)\b",),
    ),
    "somebody is sent to catch what runs": Rule(
        r"\b(somebody|someone|you|anybody) (catch|grab|stop|hold)(es|s)? it\b|\bcatch it\b",
        never=r".",
    ),
    "somebody is sent to jam": Rule(
        r"\bjam (the|a|an|its|your|all|any|no|on|it)\b|\bjamming\b",
        (r"\bnever jam on the air\b", r"\bshielded box\b"),
    ),
    "rules are named without those that come first": Rule(
        r"\b(radio|local) rules\b|\brules (often )?(allow|limit|let)\b",
        (r"\blicensed practice\b", r"\blocal codes\b"),
    ),
    "power is raised without its rules": Rule(
        r"\b(more|higher|full|raise[sd]?|raising|increase[sd]?|louder)( \w+)? power\b"
        r"|\bpower(_dbm)?( \w+)? (up|higher|raised|increased)\b|\bsend louder\b",
        (r"\blocal radio rules\b",),
    ),
    "a pulse is widened until something gives": Rule(
        r"\bwiden the pulse\b|\bwider pulses?\b|\bmeets its stop\b|\bends of its travel\b",
        (r"\bstalls\b", r"\bpinches\b"),
    ),
    "a board's one supply is parted": Rule(
        r"\b(cut|pull|part|break)s? (no|the|a) (radio's )?supply\b",
        (r"\bone board\b",),
    ),
    "a supply is added that may be too weak, unfused or without a common ground": Rule(
        r"\bsupply of (its|their) own\b|\btheir own supply\b",
        (r"\bstalled\b", r"\bfuse\b", r"\bground\b", r"\boverheats\b"),
    ),
    "hands go where it moves": Rule(
        r"\bhold (the )?(wheels?|propellers?|tracks?|vehicle)\b|\breach into\b",
        (r"\bnever reach into\b",),
    ),
}
"""What goes wrong → the texts in which it does."""


SAID = {name: text for name, text in vars(safety).items() if isinstance(text, str)}
"""Name of a text that is said everywhere → the text."""


@cache
def texts(path: Path) -> tuple[tuple[int, str], ...]:
    """Line and text of every string that is no docstring; a formatted one as a whole."""
    return tuple(_texts(path))


def _texts(path: Path) -> Iterator[tuple[int, str]]:
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    parts = {id(part) for node in nodes if isinstance(node, ast.JoinedStr) for part in node.values}
    docs = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    for node in nodes:
        if id(node) in parts or id(node) in docs:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value
        elif isinstance(node, ast.JoinedStr):
            yield node.lineno, "".join(_part(part) for part in node.values)


def _part(part: ast.expr) -> str:
    if isinstance(part, ast.Constant):
        return str(part.value)
    names = [node.id for node in ast.walk(part) if isinstance(node, ast.Name)]
    calls = [
        node.func.id
        for node in ast.walk(part)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    ]
    if calls == ["power_caution"]:
        return LOCAL_RULES
    return SAID.get(names[0], "{}") if len(names) == 1 else "{}"


def paragraphs(path: Path) -> Iterator[tuple[int, str]]:
    """Line and text of every paragraph of a file that is no program; marks of comments left out."""
    line = 1
    for part in re.split(r"\n(?:#?[ \t]*\n)+", _without_outputs(path.read_text(encoding="utf-8"))):
        yield line, re.sub(r"(?m)^[#> ]+", "", part)
        line += part.count("\n") + 2


def _without_outputs(text: str) -> str:
    """A guide without what commands printed: that is held to these rules where it is made."""
    return re.sub(r"(?ms)^```.*?^```$", lambda code: "\n" * code[0].count("\n"), text)


_ANY = re.compile("|".join(rule.said for rule in RULES.values()), re.IGNORECASE)


def broken(text: str) -> Iterator[str]:
    """What goes wrong in a text."""
    plain = " ".join(text.split())
    if not _ANY.search(plain):
        return
    for wrong, rule in RULES.items():
        if not re.search(rule.said, plain, re.IGNORECASE):
            continue
        lacks = not all(re.search(word, plain, re.IGNORECASE) for word in rule.beside)
        if lacks or (rule.never and re.search(rule.never, plain)):
            yield wrong


def wrongs(path: Path, read: Callable[[Path], Iterable[tuple[int, str]]]) -> list[str]:
    return [
        f"{path.relative_to(ROOT)}:{line}: {wrong}: {' '.join(text.split())[:200]!r}"
        for line, text in read(path)
        for wrong in broken(text)
    ]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_text_sends_anybody_into_danger(path: Path) -> None:
    assert wrongs(path, texts) == []


@pytest.mark.parametrize("path", PLAIN, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_file_that_ships_does(path: Path) -> None:
    assert wrongs(path, paragraphs) == []


@pytest.mark.parametrize(
    "text", [CAUTION, LOCAL_RULES, NO_JAMMING, RUNS_ON, STILL, MAY_PINCH, OWN_SUPPLY]
)
def test_what_is_said_everywhere_breaks_no_rule(text: str) -> None:
    assert list(broken(text)) == []


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("switch it off, wheels up, and count", "wheels that are lifted leave propellers on"),
        ("with the vehicle off the ground", "wheels that are lifted leave propellers on"),
        ("drives on until somebody catches it", "somebody is sent to catch what runs"),
        ("jam the channel for a second", "somebody is sent to jam"),
        ("test by jamming", "somebody is sent to jam"),
        ("check your local rules", "rules are named without those that come first"),
        ("check your local radio rules", "rules are named without those that come first"),
        ("send with more power", "power is raised without its rules"),
        ("raise the power", "power is raised without its rules"),
        ("widen the pulse until it stops", "a pulse is widened until something gives"),
        ("cut the supply of one radio alone", "a board's one supply is parted"),
        ("hold the wheels and switch on", "hands go where it moves"),
        (
            "give the motor a supply of its own",
            "a supply is added that may be too weak, unfused or without a common ground",
        ),
    ],
)
def test_a_bad_sentence_is_found(text: str, wrong: str) -> None:
    assert wrong in list(broken(text))


def test_every_rule_is_needed() -> None:
    said = " ".join(text for path in FILES for _, text in texts(path))
    for wrong, rule in RULES.items():
        assert rule.never or re.search(rule.said, said, re.IGNORECASE), wrong


def test_a_formatted_text_is_read_with_what_it_is_made_of() -> None:
    found = [text for _, text in texts(PACKAGE / "report" / "range.py")]

    assert any(STILL in text for text in found)
