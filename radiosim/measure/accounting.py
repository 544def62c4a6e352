"""Where every sampled frame ended (rule H): in exactly one place."""

from collections.abc import Sequence
from dataclasses import dataclass

from radiosim.measure.fold.places import GONE_WITH_FIFO, NEVER_ACCEPTED, ON_ITS_WAY, PLACES

__all__ = ["PLACES", "Account", "account"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """How many frames of one stream ended in each of PLACES."""

    counts: tuple[int, ...]

    @property
    def sampled(self) -> int:
        """All frames."""
        return sum(self.counts)


def account(ended: Sequence[int], accepted: Sequence[int], *, is_last_accepted: bool) -> Account:
    """Both ends of the link put together; a frame that was accepted ended at the receiver.

    `ended`: frames of a stream by where their transmitter lost sight of them; `accepted`: those
    that the receiver accepted, by where they ended there, each once. `is_last_accepted`: one of
    them is still under way at its transmitter. Frames of a stream reach the receiver in order, so
    that is the last one at most; all the others their transmitter holds for acknowledged, sent or
    given up."""
    counts = list(ended)
    for place in range(GONE_WITH_FIFO + 1):
        counts[place] += accepted[place]
    under_way = int(is_last_accepted)
    counts[ON_ITS_WAY] -= under_way
    counts[NEVER_ACCEPTED] -= sum(accepted) - under_way
    return Account(counts=tuple(counts))
