"""The scenario's text with what was measured in it, its comments kept."""

from collections.abc import Iterable, Sequence

from radiosim.scenario.edited import edited
from radiosim.scenario.key_paths import path_of, path_text, places_of
from radiosim.study.fit.fit import Fit


def fitted_text(text: str, fit: Fit, overrides: Iterable[str] = ()) -> str:
    """The text with `overrides` and the fitted settings set.

    Above each line that was set stands `# measured:`, the logs, and the interval. Raises
    ScenarioError or EditError as `edited` does; ValueError if nothing was fitted.
    """
    if not fit.settings:
        raise ValueError("nothing was fitted")
    text = edited(text, (*overrides, *(line for one in fit.settings for line in one.lines)))
    source = ", ".join(log.source for log in fit.logs)
    for setting in fit.settings:
        for line in setting.lines:
            text = _with_comment(text, line.partition("=")[0], f"{source}: {setting.measured}")
    return text


def _with_comment(text: str, key: str, said: str) -> str:
    """A comment above the line on which a key's value stands."""
    places = places_of(text)
    wanted = path_text(path_of(key))
    spans: Sequence[tuple[int, int]] = [
        span for path, span in places.values.items() if path_text(path) == wanted
    ]
    if not spans:
        return text
    begin = text.rfind("\n", 0, spans[0][0]) + 1
    indent = text[begin : begin + len(text[begin:]) - len(text[begin:].lstrip(" \t"))]
    safe = "".join(letter if letter.isprintable() else "?" for letter in said)
    return f"{text[:begin]}{indent}# measured: {safe}\n{text[begin:]}"
