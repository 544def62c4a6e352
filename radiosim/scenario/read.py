"""Reads a scenario: from a file or a text to a scenario, or to every problem at once."""

import copy
import functools
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path as FilePath
from types import MappingProxyType
from typing import Any

import msgspec
from msgspec import inspect as mi

from radiosim.errors import Problem, ScenarioError
from radiosim.layout import Layout, LayoutDescription
from radiosim.scenario.checks import problems_of
from radiosim.scenario.checks.view import Found, laid_out_of
from radiosim.scenario.complete import completed
from radiosim.scenario.key_paths import Path, line_index, line_of, nearest, path_text
from radiosim.scenario.named_files import (
    Known,
    headers_read,
    with_headers,
    with_program_files,
    with_tables,
)
from radiosim.scenario.override import OVERRIDE_FILE, overridden
from radiosim.scenario.problems import problems, scenario_kind
from radiosim.scenario.problems import problems as value_problems
from radiosim.scenario.shipped import scenario_path
from radiosim.scenario.structs.scenario_file import Scenario, ScenarioFile
from radiosim.scenario.traffic import too_much

Document = dict[str, Any]

_REFERRED_TO = ("transmitter", "layout", "output")


def drop_invalid(document: Document) -> tuple[Document | None, list[Found]]:
    """A document without the keys that have problems, and these problems.

    None instead if nothing is left that could be judged without blaming what refers to it.
    """
    found = list(problems(document, scenario_kind()))
    left = document
    wrong = found
    while wrong:
        before, left = left, copy.deepcopy(left)
        if not all(_removed(left, path) for path, _ in wrong) or left == before:
            return None, found
        wrong = list(problems(left, scenario_kind()))
    return left, found


def _removed(document: Document, path: Path) -> bool:
    """Take the key at a path out, or the table around it if the key is missing.

    False if other tables may refer to what would have to go.
    """
    node: Any = document
    trail: list[tuple[Any, str | int]] = []
    for number, step in enumerate(path, 1):
        if isinstance(node, dict) and step not in node:
            if number < len(path):
                return True  # it went with another problem
            break
        trail.append((node, step))
        node = node[step]
    # An element is taken out with its list, so that the others keep their indexes.
    while trail and isinstance(trail[-1][0], list):
        trail.pop()
    if not _is_free(tuple(step for _, step in trail)):
        return False
    parent, key = trail[-1]
    del parent[key]
    return True


def _is_free(path: Path) -> bool:
    """Whether nothing else can refer to the key; misspelt names of tables are not free either."""
    if len(path) <= 1:
        return bool(path) and not nearest(path[0], (*_REFERRED_TO, "radio"))
    return len(path) > 2 or path[0] not in _REFERRED_TO


LARGEST_SCENARIO_BYTES = 1_000_000
DEEPEST = 20
"""Tables and lists inside each other; a scenario needs six."""


# The parser's time grows with the square of a dotted key's length.
_LONG_KEY = re.compile(r"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){50}")
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)")


def load(path: str | FilePath, overrides: Iterable[str] = ()) -> Scenario:
    """The scenario of a file, or the shipped one of a name, with `KEY=VALUE` overrides.

    Raises ScenarioError with every problem of the file and of the overrides.
    """
    path = scenario_path(path) if isinstance(path, str) else path
    return parse(text_of_file(path), path.name, folder=path.parent, overrides=overrides)


def parse(
    text: str,
    name: str = "scenario.toml",
    folder: FilePath | None = None,
    overrides: Iterable[str] = (),
) -> Scenario:
    """The scenario of a scenario's text; `name` stands in its problems.

    Tables that its signals name are looked for in `folder`; without one they need absolute paths.
    Raises ScenarioError with every problem of the text and of the overrides.
    """
    document = _decoded(text, name)
    document, set_paths, problems = overridden(document, overrides)
    if problems:
        raise ScenarioError(problems)
    _check_depth(document, name)
    file, found = judged(document, folder, {})
    if file is None or found:
        raise ScenarioError(_placed(found, text, name, set_paths))
    scenario = completed(file, document, FilePath(name).stem)
    if text_of_size := too_much(scenario):
        raise ScenarioError(_placed([(("duration_s",), text_of_size)], text, name, set_paths))
    return scenario


def document_of(path: str | FilePath, overrides: Iterable[str] = ()) -> Document:
    """What a scenario file says, not judged, with `KEY=VALUE` overrides.

    Raises ScenarioError for what is no TOML, and for an override that is none.
    """
    path = FilePath(path)
    document, _, problems = overridden(_decoded(text_of_file(path), path.name), overrides)
    if problems:
        raise ScenarioError(problems)
    _check_depth(document, path.name)
    return document


def load_layouts(path: str | FilePath, longest_bytes: int) -> dict[str, Layout]:
    """The layouts of a scenario file by name, whatever else is in the file.

    Raises ScenarioError with every problem of them.
    """
    path = FilePath(path)
    text = text_of_file(path)
    tables = _decoded(text, path.name).get("layout", {})
    found = list(value_problems(tables, mi.type_info(dict[str, LayoutDescription]), ("layout",)))
    laid_out: dict[str, Layout] = {}
    if not found:
        descriptions, header_problems = headers_read(
            msgspec.convert(tables, dict[str, LayoutDescription]), path.parent, {}
        )
        hit = {where[1] for where, _ in header_problems}
        sound = {name: description for name, description in descriptions.items() if name not in hit}
        laid_out, layout_problems = laid_out_of(sound, longest_bytes)
        found = [*header_problems, *layout_problems]
    if found:
        raise ScenarioError(_placed(found, text, path.name, ()))
    return laid_out


def text_of_file(path: FilePath) -> str:
    """Text of a scenario file; ScenarioError with whatever is in the way as its only problem."""
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise _refused(name, "must be a scenario file, got a folder")
        size = path.stat().st_size
        if size > LARGEST_SCENARIO_BYTES:
            raise _refused(name, f"must be at most {LARGEST_SCENARIO_BYTES:,} bytes, got {size:,}")
        # One byte more shows a file that grew, or one without a size, such as a pipe.
        with path.open("rb") as stream:
            raw = stream.read(LARGEST_SCENARIO_BYTES + 1)
    except FileNotFoundError:
        raise _refused(str(path), "must be a scenario file, got a path where none is") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(str(path), f"cannot be read: {reason}") from None
    if len(raw) > LARGEST_SCENARIO_BYTES:
        raise _refused(name, f"must be at most {LARGEST_SCENARIO_BYTES:,} bytes, got more")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _refused(
            name, f"must be UTF-8 text, got byte 0x{raw[error.start]:02X}", line
        ) from None


def _refused(file: str, text: str, line: int = 0) -> ScenarioError:
    return ScenarioError((Problem(file=file, line=line, path="", text=text),))


@functools.lru_cache(maxsize=2)
def _decoded(text: str, name: str) -> Document:
    """The document of a TOML text, to be read alone; a syntax error stands alone, with its line.

    Findings read a scenario again and again, with other lines pasted.
    """
    if len(text) > LARGEST_SCENARIO_BYTES:
        raise _refused(
            name, f"must be at most {LARGEST_SCENARIO_BYTES:,} characters, got {len(text):,}"
        )
    if long := _LONG_KEY.search(text):
        line = text.count("\n", 0, long.start()) + 1
        raise _refused(name, "must have keys of at most 50 parts, got a longer one", line)
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_error(text, name, str(error)) from None
    except RecursionError:
        raise _too_deep(name) from None
    except ValueError:
        raise _refused(
            name, "must have numbers short enough to be read, got a longer one"
        ) from None
    _check_depth(document, name)
    return document


def _check_depth(document: Document, name: str) -> None:
    if _is_deeper(document, DEEPEST):
        raise _too_deep(name)


def _too_deep(name: str) -> ScenarioError:
    return _refused(name, f"must be at most {DEEPEST} tables and lists inside each other, got more")


def _syntax_error(text: str, name: str, message: str) -> ScenarioError:
    place = _PLACE.search(message)
    line = int(place[1]) if place and place[1] else text.rstrip().count("\n") + 1
    return _refused(name, f"is not TOML: {_PLACE.sub('', message)}", line)


def _is_deeper(value: Any, levels: int) -> bool:
    if not isinstance(value, dict | list):
        return False
    inner = value.values() if isinstance(value, dict) else value
    return levels == 0 or any(_is_deeper(item, levels - 1) for item in inner)


def decoded(document: Document) -> ScenarioFile | None:
    """The file of a document in whose keys the walk finds no problem; None: it must be walked.

    The decoder judges all that the walk does, but for numbers: it takes NaN, and rounds a whole
    number before it is compared with its bounds.
    """
    if not is_exact(document):
        return None
    try:
        return msgspec.convert(document, ScenarioFile)
    except msgspec.ValidationError:
        return None


def is_exact(value: Any) -> bool:
    """Whether every number is finite, and every whole one the same as a float."""
    if isinstance(value, dict):
        return all(map(is_exact, value.values()))
    if isinstance(value, list):
        return all(map(is_exact, value))
    return not isinstance(value, int | float) or -_EXACT <= value <= _EXACT


_EXACT = 2**53


def judged(
    document: Document,
    folder: FilePath | None,
    known: Known,
    layouts: Mapping[str, LayoutDescription] = MappingProxyType({}),
) -> tuple[ScenarioFile | None, list[Found]]:
    """The file that a document makes, if any, and everything wrong with it.

    `known`: tables of values that need not be read again; `layouts`: headers that need not.
    """
    found: list[Found] = []
    file = decoded(document)
    if file is None:
        sound, found = drop_invalid(document)
        if sound is None:
            return None, found
        try:
            file = msgspec.convert(sound, ScenarioFile)
        except msgspec.ValidationError as error:
            # The walk over the document judges all that the decoder does; this is its safety net.
            return None, found or [((), str(error))]
    file, table_problems = with_tables(file, folder, known)
    file, header_problems = with_headers(file, folder, layouts)
    file, program_problems = with_program_files(file, folder)
    found += (*header_problems, *program_problems)
    is_hit = _hit_by([path for path, _ in found])
    later = (*table_problems, *problems_of(file))
    return file, [*found, *(problem for problem in later if not is_hit(problem[0]))]


_SINGLE = ("radio", "receiver", "air")


def _hit_by(paths: Iterable[Path]) -> Callable[[Path], bool]:
    """Whether a table has a problem already: what follows from it would hide the true cause."""

    def table(path: Path) -> Path:
        return path[:1] if path[:1] and path[0] in _SINGLE else path[:2]

    hit = {table(path) for path in paths}
    return lambda path: table(path) in hit or path[:1] in hit


def _placed(
    found: Iterable[Found], text: str, name: str, set_paths: tuple[Path, ...]
) -> tuple[Problem, ...]:
    """Each problem with its line; those of an override with its name instead."""
    lines = line_index(text)

    def is_set(path: Path) -> bool:
        """Whether an override gave the key, or made the table that the text does not have."""
        return any(
            path[: len(given)] == given
            or (path not in lines and given[: len(path)] == path)
            or (len(path) > 1 and path[:-1] not in lines and given[: len(path) - 1] == path[:-1])
            for given in set_paths
        )

    return tuple(
        Problem(file=OVERRIDE_FILE, path=path_text(path), text=what)
        if is_set(path)
        else Problem(file=name, line=line_of(path, lines), path=path_text(path), text=what)
        for path, what in found
    )
