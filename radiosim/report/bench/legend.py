"""What the marks, blanks and names of a card mean, said once."""

from radiosim.report.bench.table import Trust
from radiosim.study.bench.band import share_of
from radiosim.study.bench.step import Card


def trust_of(card: Card) -> Trust:
    """What most bands of a card hold."""
    return Trust(tries=card.starts, share=share_of(card.starts))


def legend(card: Card) -> tuple[tuple[str, str], ...]:
    """Mark → meaning; the notes of the card have no mark."""
    share = f"{100 * trust_of(card).share:.0f} %"
    return (
        ("F", "Closed form: holds always, if the scene's settings are the bench's."),
        (
            "S D",
            f"Simulated over {card.starts} power-ons, D with the fault in each: the band holds "
            f"{share} of single measurements as described, not of means.",
        ),
        (
            "to",
            "Bands are rounded outward, to what the instrument tells apart. If yours is coarser, "
            "agree within its step; a microsecond timer is as wrong as its own clock.",
        ),
        ("NAME", "In a setting: of the sender, stream or output in the row."),
        *(("-", note) for note in card.notes),
    )
