"""The live page's parts: a page, a style sheet and a script, all from this package."""

from functools import cache
from importlib import resources
from typing import Any

import msgspec
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from radiosim.results.html import palette
from radiosim.safety import CAUTION

_KINDS = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8"}


def page_html(hello: dict[str, Any]) -> str:
    """The page of what a desk says of itself; all texts escaped."""
    return _rendered("live.html.j2", hello)


def hall_html(hello: dict[str, Any]) -> str:
    """The page of scenarios to open, and of questions that make a new one."""
    return _rendered("hall.html.j2", hello)


def _rendered(template: str, hello: dict[str, Any]) -> str:
    text = msgspec.json.encode(hello).decode()
    # JSON that can neither end its element nor open another.
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made = environment.from_string(_file(template))
    return made.render(hello=hello, data=Markup(text), caution=CAUTION)


def part_of(name: str) -> tuple[str, bytes] | None:
    """Kind and bytes of one part; None for any other name."""
    if name not in _parts():
        return None
    text = _file(name)
    kind = _KINDS[name[name.index(".") :]]
    return kind, (palette() + text if name == "live.css" else text).encode()


@cache
def _parts() -> frozenset[str]:
    """Names of all style sheets and scripts of this package."""
    found = (part.name for part in resources.files("radiosim.report.live").iterdir())
    return frozenset(name for name in found if name.endswith(tuple(_KINDS)))


@cache
def _file(name: str) -> str:
    return (resources.files("radiosim.report.live") / name).read_text(encoding="utf-8")
