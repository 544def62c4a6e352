"""What each figure of the results means, and how to see it on the bench."""

from typing import NamedTuple


class Meaning(NamedTuple):
    """One figure in a builder's words."""

    text: str
    measure: str
    """How to see the same on the bench."""


PARTS = {
    "mean": "mean",
    "median": "half of all are no larger",
    "p95": "95 of 100 are no larger",
    "p99": "99 of 100 are no larger",
    "max": "largest",
    "n": "how many there were",
}
"""Parts of a spread such as `gap_ms`."""
PARTS_OF = {("gap_ms", "max"): "largest, faults and both ends included"}
"""Parts of one spread that mean more than those of others."""

_TRANSMITTER = "count it in the transmitter's firmware"
_RECEIVER = "count it in the receiver's firmware"
_COUNTER = "with a counter in the frame: numbers that the receiver never prints"
_TWO = "not seen directly: compare the losses of one transmitter alone with those of all"

STREAM: dict[str, Meaning] = {
    "sampled": Meaning("frames whose values were taken", _TRANSMITTER),
    "skipped": Meaning("samples dropped because the radio was busy", _TRANSMITTER),
    "replaced": Meaning("samples replaced by a newer one before they were sent", _TRANSMITTER),
    "queue_full": Meaning("samples that found the transmitter's FIFO full", _TRANSMITTER),
    "power_cut": Meaning("frames that a power cut or reset took before they were sent", _COUNTER),
    "sent": Meaning("frames that were on the air at least once", _TRANSMITTER),
    "attempts": Meaning(
        "times that a frame was on the air, retries included",
        "add up the radio's retry counter after each frame",
    ),
    "acknowledged": Meaning("frames whose acknowledgement the transmitter heard", _TRANSMITTER),
    "retries_used_up": Meaning("times that a frame ran out of retries", _TRANSMITTER),
    "received_new": Meaning("attempts that the receiver's radio took as new frames", _RECEIVER),
    "duplicates": Meaning(
        "attempts that the receiver's radio took for one that it has already",
        "send a counter: numbers acknowledged but never printed were taken for duplicates",
    ),
    "fifo_dropped": Meaning(
        "attempts that found the receiver's FIFO full",
        "read the radio's FIFO status in each pass and count how often it is full",
    ),
    "read": Meaning("frames that the receiver's program read", _RECEIVER),
    "thrown_away": Meaning("frames taken from the FIFO and not used", _RECEIVER),
    "waiting": Meaning("frames in the FIFO at the end", "stop the program and count what is left"),
    "never_accepted": Meaning("frames sent of which no attempt was accepted", _COUNTER),
    "under_way": Meaning("frames not done at the end", "nothing to see: the end of a run"),
    "lost_chance": Meaning(
        "attempts lost by chance on the air", "one transmitter alone at your distance, retries 0"
    ),
    "lost_collision": Meaning("attempts lost because another transmitter was on the air", _TWO),
    "lost_deaf": Meaning(
        "attempts lost because the receiver was acknowledging, sending or turning round", _TWO
    ),
    "lost_range": Meaning("attempts lost out of range", "pace out the distance and count"),
    "lost_off": Meaning(
        "attempts lost because the receiver was off or booting",
        "switch the receiver off and on and count the transmitter's failures",
    ),
    "lost_cut": Meaning("attempts that their own transmitter's power cut ended", "nothing to see"),
    "acknowledgements_lost": Meaning(
        "acknowledgements sent but not heard",
        "frames printed by the receiver, less those that the transmitter counts as acknowledged",
    ),
    "delivery_ratio": Meaning(
        "share of the frames sampled that the program read",
        "with a counter in the frame: numbers printed, over numbers sent",
    ),
    "update_rate_hz": Meaning("frames read a second", "count the frames read in a minute"),
    "worst_second_updates": Meaning(
        "frames read in the worst second",
        "count the frames read in each second and keep the smallest",
    ),
    "longest_gap_at_s": Meaning(
        "when the longest gap began", "print the time beside the largest gap"
    ),
    "longest_gap_start": Meaning(
        "in which start the longest gap was", "nothing to see: a run has many power-ons"
    ),
    "gap_ms": Meaning(
        "time from one read to the next",
        "keep the largest time between two reads in the receiver's firmware, for an hour",
    ),
    "latency_ms": Meaning(
        "time from the sample to the read of its frame",
        "toggle a pin at the sample and one at the read; time them with a logic analyser",
    ),
    "age_ms": Meaning(
        "age of the newest values read, at any instant", "as latency_ms, plus half a wait"
    ),
    "attempts_per_frame": Meaning(
        "attempts for each frame sent", "mean of the radio's retry counter, plus one"
    ),
    "duty_cycle": Meaning(
        "share of the time that the transmitter is on the air",
        "supply current of its radio on an oscilloscope",
    ),
    "charge_mah_per_hour": Meaning(
        "charge that its transmitter's radio alone takes in an hour: its mean current in mA",
        "a current meter in the radio's supply",
    ),
    "battery_h": Meaning(
        "hours that its transmitter's cell lasts, with what the board draws besides",
        "let it run from a full cell, and look at the clock",
    ),
    "failsafe.trips_on_fault": Meaning(
        "times that failsafe came on because something was broken",
        "switch the transmitter off, wheels up, propellers off, and count",
    ),
    "failsafe.nuisance_trips": Meaning(
        "times that failsafe came on although nothing was broken",
        "count the entries in the receiver's firmware for hours with everything on, wheels up",
    ),
    "failsafe.nuisance_per_hour": Meaning("such trips an hour", "the same count, by the hours"),
    "failsafe.starts_with_nuisance": Meaning(
        "starts that had such a trip", "switch everything on again many times and count"
    ),
    "failsafe.rare": Meaning(
        "nuisance trips an hour where no start shows any, estimated with --rare",
        "nothing to see: too rare to be waited for",
    ),
    "failsafe.seconds_on": Meaning(
        "time that failsafe was on", "add it up in the receiver's firmware"
    ),
}
OUTPUT: dict[str, Meaning] = {
    "refresh_hz": Meaning("pulses a second", "a logic analyser on the pin"),
    "update_rate_hz": Meaning(
        "pulses a second that carry a newer frame's value",
        "let the transmitter count up and look for steps of the pulse with a logic analyser",
    ),
    "latency_ms": Meaning(
        "time from the sample to its value in effect on the pin",
        "jump the stick's input and time until the pulse changes, with a logic analyser",
    ),
    "age_ms": Meaning("age of the value in effect, at any instant", "as latency_ms, plus a wait"),
    "longest_hold_ms": Meaning(
        "longest time that one value was kept outside failsafe",
        "keep the largest time between two writes in the receiver's firmware",
    ),
    "servo_error_deg": Meaning(
        "angle between where the hand points and where the servo stands",
        "film the hand and the servo's arm together",
    ),
}
AIR: dict[str, Meaning] = {
    "occupancy": Meaning(
        "share of the time that the channel is taken", "carrier detect of a spare radio"
    ),
    "collisions": Meaning("attempts lost to others on the air", _TWO),
}
RECEIVER: dict[str, Meaning] = {
    "charge_mah_per_hour": Meaning(
        "charge that the receiver's radio alone takes in an hour: its mean current in mA",
        "a current meter in the radio's supply",
    ),
    "battery_h": Meaning(
        "hours that the receiver's cell lasts, with what the board draws besides",
        "let it run from a full cell, wheels up, and look at the clock",
    ),
}
FAULTS: dict[str, Meaning] = {
    "over_ms": Meaning(
        "time from the fault to its end, which a watchdog can bring early",
        "time it on film, wheels up",
    ),
    "reaction_ms": Meaning(
        "time from the fault until every output's failsafe value is in effect",
        "do it on the bench, wheels up, propellers off, and time the pins with a logic analyser",
    ),
    "recovered_ms": Meaning(
        "time from the end of the fault until fresh values are in effect",
        "do it on the bench, wheels up, and time the pins with a logic analyser",
    ),
    "starts_without_reaction": Meaning("starts in which failsafe never came", "do it many times"),
    "unrecovered_starts": Meaning("starts in which fresh values never came", "do it many times"),
}
REACTION: dict[str, Meaning] = {
    "bound_ms": Meaning(
        "longest time from a transmitter's silence until the output's failsafe value is in effect",
        "switch the transmitter off a hundred times, wheels up, and keep the longest",
    ),
    "stopping_ms": Meaning("the same until the output's motor stands still", "film it, wheels up"),
}
DRILL: dict[str, Meaning] = {
    "reaction_ms": Meaning(
        "longest time from a fault, or from the last frame, until an output's failsafe value is "
        "in effect; judged by radiosim failsafe",
        "switch the transmitter off a hundred times, wheels up, and keep the longest",
    ),
}
SPREADS = ("gap_ms", "latency_ms", "age_ms", "servo_error_deg")
"""Figures that have the parts of a spread."""

MEANINGS: dict[tuple[str, ...], dict[str, Meaning]] = {
    ("stream", "NAME"): STREAM,
    ("output", "NAME"): OUTPUT,
    ("air",): AIR,
    ("receiver",): RECEIVER,
    ("faults", "N"): FAULTS,
    ("reaction", "NAME"): REACTION,
    ("worst", "NAME"): DRILL,
}
"""Path of a table of the results → its figures."""
_UNITS = {
    "ms": "ms",
    "s": "s",
    "hz": "Hz",
    "deg": "degrees",
    "cycle": "0 to 1",
    "occupancy": "0 to 1",
    "ratio": "0 to 1",
}
_UNITS_OF = {
    "failsafe.seconds_on": "s",
    "failsafe.nuisance_per_hour": "an hour",
    "charge_mah_per_hour": "mAh an hour",
    "battery_h": "hours",
}


def unit_of(figure: str) -> str:
    """Unit of a figure: by its name's ending, else a plain count."""
    return _UNITS_OF.get(figure) or _UNITS.get(figure.rsplit("_", 1)[-1], "a count")
