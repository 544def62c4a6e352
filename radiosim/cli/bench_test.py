"""`radiosim bench-test`: a card of steps to try on the bench."""

from typing import Annotated

import typer

from radiosim.cli.exits import DONE
from radiosim.cli.options import Csv, Json, PageFile, Parquet, Seed, Set, Source, Workers


def bench_test(
    *,
    source: Source,
    page: PageFile = None,
    starts: Annotated[
        int,
        typer.Option(metavar="N", min=3, max=1000, help="Starts of each band; 39 make 95 %."),
    ] = 39,
    minutes: Annotated[
        float,
        typer.Option(metavar="M", min=0.05, max=600.0, help="How long frames are counted for."),
    ] = 10.0,
    seed: Seed = None,
    set_: Set = None,
    json: Json = None,
    csv: Csv = None,
    parquet: Parquet = None,
    workers: Workers = None,
) -> int:
    """Write a card: what to try on the bench, how to measure it, and what should come out."""
    from radiosim.cli.progress import progress
    from radiosim.cli.source import Choice, scenario_of
    from radiosim.cli.targets import check_targets
    from radiosim.cli.written import write_out
    from radiosim.report.bench.page import card_page
    from radiosim.report.bench.terminal import print_card
    from radiosim.report.bench.written import card_csv, card_json
    from radiosim.report.files import write_whole
    from radiosim.study.bench import bench_card

    check_targets(json, csv, parquet, files={"--page": page}, scenarios=(source,), set_=set_)
    scenario = scenario_of(Choice(source=source, seed=seed, overrides=tuple(set_ or ())))
    with progress(1, what="tries") as on_progress:
        card = bench_card(
            scenario, starts=starts, minutes=minutes, workers=workers, on_progress=on_progress
        )
    if page is not None:
        write_whole(page, card_page(card))
    write_out(
        json,
        csv,
        lambda: card_json(card),
        lambda: card_csv(card),
        lambda console: print_card(card, console),
        parquet=parquet,
    )
    return DONE
