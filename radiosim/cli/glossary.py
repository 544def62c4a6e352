"""`radiosim glossary`: what a word, a key of the scenario or a figure of the results means."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE


def glossary(
    *,
    word: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORD]",
            help="As gap, STILL DRIVEN, transmitter.drive.period_ms or stream.drive.gap_ms.max; "
            "names of units may be left out.",
            show_default=False,
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print it as JSON.")] = False,
) -> int:
    """Tell what a word, a key or a figure means, its unit, and what it moves."""
    from radiosim.report.glossary import as_json, contents, entries, found, told, word_entries

    if not word:
        print(as_json((*word_entries(), *entries())) if json else contents())
    else:
        hits = found(" ".join(word))
        print(as_json(hits) if json else told(hits))
    return DONE
