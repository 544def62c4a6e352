"""Commands that simulate nothing: `radiosim scenarios`, `schema`, `glossary` and `validate`."""

import sys
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from radiosim.cli.console import DONE, REFUSED, print_caution, print_lines, say, tell
from radiosim.cli.options import (
    JsonFile,
    Mark,
    Options,
    Overridden,
    argument,
    flag,
    option,
)
from radiosim.errors import OptionError

if TYPE_CHECKING:
    from radiosim.report.schemas import CheckedScenario
    from radiosim.scenario import Scenario


@dataclass(frozen=True, kw_only=True)
class ScenariosOptions(Options):
    """Options of `radiosim scenarios`."""

    COMMAND = "scenarios"

    name: str | None = argument("[NAME]", "Print this scenario.", default=None)
    to: Path | None = option("FILE", "Copy it to a new file or into a folder.")

    def check(self) -> None:
        """OptionError for a place without a scenario that goes there."""
        if self.name is None and self.to is not None:
            raise OptionError("--to: must stand beside the NAME of a scenario, got none")


def scenarios(options: ScenariosOptions) -> int:
    """List, print or copy the shipped scenarios."""
    if options.name is None:
        _list()
    else:
        _hand_out(options.name, options.to)
    return DONE


def _list() -> None:
    import textwrap

    from radiosim.scenario.shipped import shipped_scenarios

    for source in shipped_scenarios():
        say(f"{source.name}: {source.title}" if source.title else source.name)
        if source.about:
            say(textwrap.fill(source.about, 80, initial_indent="  ", subsequent_indent="  "))
    print_caution()


def _hand_out(name: str, to: Path | None) -> None:
    from radiosim.report.files import write_new
    from radiosim.scenario.shipped import shipped_scenario, unknown_scenario

    source = shipped_scenario(name)
    if source is None:
        raise unknown_scenario(name or "NAME", "must be the name of a scenario that ships")
    if to is None:
        sys.stdout.write(source.path.read_text(encoding="utf-8"))
        return
    target = to / source.path.name if to.is_dir() else to
    write_new(target, source.path.read_bytes())
    tell(f"wrote {target}")


@dataclass(frozen=True, kw_only=True)
class SchemaOptions(Options):
    """Options of `radiosim schema`."""

    COMMAND = "schema"

    results: bool = flag("Of the JSON that each command writes, by its name.")


def schema(options: SchemaOptions) -> int:
    """Print the JSON Schema of a scenario file."""
    import json

    if options.results:
        from radiosim.report.schemas import result_schemas

        document = result_schemas()
    else:
        from radiosim.scenario import json_schema

        document = json_schema()
    print_lines(json.dumps(document, indent=2, ensure_ascii=False).splitlines(), sys.stdout)
    return DONE


@dataclass(frozen=True, kw_only=True)
class GlossaryOptions(Options):
    """Options of `radiosim glossary`."""

    COMMAND = "glossary"

    word: tuple[str, ...] = argument(
        "[WORD]",
        "As gap, STILL DRIVEN, transmitter.drive.period_ms or stream.drive.gap_ms.max; "
        "names of units may be left out.",
        default=(),
    )
    json: bool = flag("Print it as JSON.")


def glossary(options: GlossaryOptions) -> int:
    """Tell what a word, a key or a figure means, its unit, and what it moves."""
    from radiosim.report.glossary import as_json, contents, entries, found, told, word_entries

    if not options.word:
        everything = (*word_entries(), *entries())
        sys.stdout.write(as_json(everything) if options.json else f"{contents()}\n")
    else:
        hits = found(" ".join(options.word))
        sys.stdout.write(as_json(hits) if options.json else f"{told(hits)}\n")
    if not options.json:
        print_caution()
    return DONE


@dataclass(frozen=True, kw_only=True)
class ValidateOptions(Overridden, JsonFile):
    """Options of `radiosim validate`."""

    COMMAND = "validate"

    scenarios: tuple[str, ...] = argument(
        "SCENARIO.toml...", "Scenario files, or names of shipped scenarios.", Mark.SCENARIO
    )


def validate(options: ValidateOptions) -> int:
    """Read scenarios, with the changes of --set, without simulating them."""
    from radiosim.cli.targets import write_json
    from radiosim.report.schemas import Checked
    from radiosim.results.data import json_of

    names = Counter(Path(source).name for source in dict.fromkeys(options.scenarios))
    found = [
        _checked(source, options.set_, is_ambiguous=names[Path(source).name] > 1)
        for source in options.scenarios
    ]
    if not write_json(options, lambda: json_of(Checked(scenarios=tuple(found)))):
        for one in found:
            _print(one)
        if any(one.ok for one in found):
            print_caution()
    return DONE if all(one.ok for one in found) else REFUSED


def _print(found: "CheckedScenario") -> None:
    if not found.ok:
        sys.stdout.flush()
        tell("\n".join(found.problems))
        return
    lines = [
        f"{found.source}: ok",
        *(f"  ! {text}" for text in (*found.unbounded, *found.warnings)),
        *(f"  retries: {text}" for text in found.retries),
        *(f"  assumed: {text}" for text in found.assumed),
    ]
    print_lines(lines, sys.stdout)


def _checked(source: str, overrides: tuple[str, ...], *, is_ambiguous: bool) -> "CheckedScenario":
    from radiosim.engine.plan import make_plan
    from radiosim.errors import RadiosimError
    from radiosim.report.schemas import CheckedScenario
    from radiosim.scenario.traffic import retries
    from radiosim.vehicle.reaction_bound import bound_of, with_slowest_clock

    try:
        scenario = _loaded(source, overrides, is_ambiguous)
    except RadiosimError as error:
        return CheckedScenario(source=source, ok=False, problems=tuple(str(error).splitlines()))
    plan = make_plan(with_slowest_clock(scenario), 0)
    reasons = {name: bound_of(scenario, plan, name).why_none for name in scenario.output}
    return CheckedScenario(
        source=source,
        ok=True,
        unbounded=tuple(
            f"{name}: NO BOUND on the failsafe reaction time: {why}"
            for name, why in reasons.items()
            if why
        ),
        warnings=tuple(scenario.warnings),
        retries=tuple(f"{name}: {text}" for name, text in retries(scenario)),
        assumed=tuple(scenario.assumed),
    )


def _loaded(source: str, overrides: tuple[str, ...], is_ambiguous: bool) -> "Scenario":
    """The scenario; its problems carry the whole path where two files share a name."""
    from radiosim.cli.options import is_trace
    from radiosim.errors import Problem, ScenarioError
    from radiosim.scenario import load
    from radiosim.scenario.shipped import scenario_path

    path = scenario_path(source)
    if is_trace(path):
        text = "must be a scenario file, got a saved trace; radiosim run shows its figures"
        raise ScenarioError((Problem(file=source, path="", text=text),))
    try:
        return load(path, overrides)
    except ScenarioError as error:
        if not is_ambiguous:
            raise
        problems = (
            replace(p, file=source if p.file == path.name else p.file) for p in error.problems
        )
        raise ScenarioError(tuple(problems)) from None
