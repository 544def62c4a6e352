"""What a run says of the receiver's supply, if the scenario describes it."""

from collections.abc import Iterator

from radiosim.assess.in_words import brownouts_text
from radiosim.measure.summary import BrownoutFigures, Summary
from radiosim.results.document import Column, Section, Sentence, Table
from radiosim.results.formats import fmt_sig3
from radiosim.scenario import Scenario
from radiosim.scenario.structs.supply_tables import Supply
from radiosim.vehicle.supply_limits import loads_of


def supply_section(summary: Summary, scenario: Scenario) -> Iterator[Section]:
    """How often outputs brought the receiver down, and what drew then."""
    supply, receiver = scenario.receiver.supply, summary.figures.receiver
    if supply is None or not isinstance(receiver.brownouts, int):
        return
    text = brownouts_text(summary)
    if not receiver.brownouts:
        who = "what outputs draw" if loads_of(scenario) else "nothing that draws from its supply"
        text = f"{who} never brought the receiver down"
    rows = receiver.brownouts_with if isinstance(receiver.brownouts_with, tuple) else ()
    yield Section(
        heading="The receiver's supply",
        sentences=(Sentence(text=text[0].upper() + text[1:] + ".", role="bad" if rows else None),),
        tables=(_table(rows, supply),),
    )


def _table(rows: tuple[BrownoutFigures, ...], supply: Supply) -> Table:
    return Table(
        key="brownouts",
        columns=(
            Column(key="outputs", title="drew more than at rest", is_text=True),
            Column(key="times", title="brown-outs"),
            Column(key="drawn_ma", title="drawn in all", unit="mA", show=fmt_sig3),
            Column(key="settles_v", title="leaves", unit="V", show=fmt_sig3),
        ),
        rows=tuple((", ".join(r.outputs), r.times, r.drawn_ma, r.settles_v) for r in rows),
        note=f"It is held in reset under {supply.brownout_v:g} V.",
        where="everywhere" if rows else "data",
    )
