"""Commands that look something up: `radiosim scenarios`, `schema` and `glossary`."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.options import OptionError, Options


@dataclass(frozen=True, kw_only=True)
class ScenariosOptions(Options):
    """Options of `radiosim scenarios`."""

    COMMAND = "scenarios"

    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="Print this scenario.", show_default=False),
    ] = None
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Copy it to a new file or into a folder."),
    ] = None

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
        print(f"{source.name}: {source.title}" if source.title else source.name)
        if source.about:
            print(textwrap.fill(source.about, 80, initial_indent="  ", subsequent_indent="  "))


def _hand_out(name: str, to: Path | None) -> None:
    from radiosim.cli.scenario_source import unknown_scenario
    from radiosim.cli.terminal import tell
    from radiosim.report.files import write_new
    from radiosim.scenario.shipped import shipped_scenario

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

    results: Annotated[
        bool,
        typer.Option("--results", help="Of the JSON that each command writes, by its name."),
    ] = False


def schema(options: SchemaOptions) -> int:
    """Print the JSON Schema of a scenario file."""
    import json

    if options.results:
        from radiosim.report.schemas import result_schemas

        document = result_schemas()
    else:
        from radiosim.scenario import json_schema

        document = json_schema()
    print(json.dumps(document, indent=2, ensure_ascii=False))
    return DONE


@dataclass(frozen=True, kw_only=True)
class GlossaryOptions(Options):
    """Options of `radiosim glossary`."""

    COMMAND = "glossary"

    word: Annotated[
        tuple[str, ...],
        typer.Argument(
            metavar="[WORD]",
            help="As gap, STILL DRIVEN, transmitter.drive.period_ms or stream.drive.gap_ms.max; "
            "names of units may be left out.",
            show_default=False,
        ),
    ] = ()
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False


def glossary(options: GlossaryOptions) -> int:
    """Tell what a word, a key or a figure means, its unit, and what it moves."""
    from radiosim.report.glossary import as_json, contents, entries, found, told, word_entries

    if not options.word:
        print(as_json((*word_entries(), *entries())) if options.json else contents())
    else:
        hits = found(" ".join(options.word))
        print(as_json(hits) if options.json else told(hits))
    return DONE
