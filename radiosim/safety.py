"""What can hurt somebody, in words said once: every screen, page and file takes them from here."""

from typing import Final

STILL: Final = "wheels off the ground, propellers off"
"""How a vehicle stands while its link is tried."""
CLEAR: Final = f"{STILL}, nobody within reach of what may move"
LOCAL_RULES: Final = "check your local radio rules, licensed practice and local codes"
"""Stands wherever power, channels or rules are spoken of; no text gives advice on them."""
CAUTION: Final = (
    f"A simulation is not proof. {CLEAR[0].upper()}{CLEAR[1:]}; try the failsafe on the bench; "
    f"{LOCAL_RULES}."
)
"""The one line that every output carries, whatever else it warns of."""
RUNS_ON: Final = "until its power is cut; never reach into what may move"
"""Ends what is said of something that goes on moving."""
NO_JAMMING: Final = (
    "never jam on the air: a shielded box, a cable with attenuators, or a unit switched off "
    "loses frames as well"
)
"""How frames are lost for a test."""
MAY_PINCH: Final = "a servo held against a stop stalls and overheats, and a linkage pinches"
"""Why pulses have limits."""
OWN_SUPPLY: Final = (
    "a supply of its own bears what is drawn when stalled, as do its wires and its fuse; its "
    "ground is tied to the receiver's; a servo that is held stalled overheats"
)
"""Stands wherever something is taken off the receiver's supply."""
