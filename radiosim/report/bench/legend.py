"""What the marks, blanks and names of a card mean, said once."""

from radiosim.report.bench.table import Trust
from radiosim.study.bench.step import Card, share_of


def trust_of(card: Card) -> Trust:
    """What most bands of a card hold."""
    return Trust(tries=card.starts, share=share_of(card.starts))


def legend(card: Card) -> tuple[str, ...]:
    """What each mark says, and what else there is to know."""
    share = f"{100 * trust_of(card).share:.0f}\N{NO-BREAK SPACE}%"
    return (
        "F: closed form; holds always, with the scenario's settings.",
        f"S: simulated over {card.starts} power-ons, D: with the fault in each; the band holds "
        f"{share} of measurements as described, one by one.",
        "Bands are rounded outward to what the instrument tells apart. A coarser one agrees within "
        "its step, a microsecond timer within its clock's error.",
        "NAME in a setting: the transmitter, stream or output of the row.",
        *card.notes,
    )
