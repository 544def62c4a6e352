"""Every figure of the results, one row each: pooling, worst starts, requirements and the glossary
follow from it."""

import functools
from collections.abc import Iterable, Iterator

from radiosim.registers.figure import (
    COUNT,
    DEGREES,
    HIGH,
    HOURS,
    HZ,
    LOW,
    MAH_PER_HOUR,
    MS,
    NEITHER,
    PER_HOUR,
    PLAIN,
    SHARE,
    SPAN_HOURS,
    SPAN_NS,
    START,
    TABLES,
    Figure,
    Highest,
    Judged,
    Lowest,
    Ratio,
    Ruled,
    S,
    Same,
    Spread,
    StartsWith,
    Sum,
)
from radiosim.units import NS_PER_MS, NS_PER_S

MICRODEGREES = 1e6
"""Of a tally's unit in a degree."""
_TRANSMITTER = "count it in the transmitter's firmware"
_RECEIVER = "count it in the receiver's firmware"
_COUNTER = "with a counter in the frame: numbers that the receiver never prints"
_TWO = "not seen directly: compare the losses of one transmitter alone with those of all"


_SILENT = "all transmitters off: count the frames that the receiver prints"


def by_key(rows: Iterable[Figure]) -> dict[str, Figure]:
    """Rows by table and name; ValueError: two of one key."""
    found: dict[str, Figure] = {}
    for row in rows:
        if row.key in found:
            raise ValueError(f"figure {row.key!r}: has two rows")
        found[row.key] = row
    return found


FIGURES = by_key(
    (
        Figure(
            table="stream",
            name="sampled",
            unit=COUNT,
            pool=Sum(of="sampled"),
            worse=NEITHER,
            meaning="frames whose values were taken",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="skipped",
            unit=COUNT,
            pool=Sum(of="skipped"),
            worse=HIGH,
            meaning="samples dropped because the radio was busy",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="replaced",
            unit=COUNT,
            pool=Sum(of="replaced"),
            worse=HIGH,
            meaning="samples replaced by a newer one before they were sent",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="queue_full",
            unit=COUNT,
            pool=Sum(of="queue_full"),
            worse=HIGH,
            meaning="samples that found the transmitter's FIFO full",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="power_cut",
            unit=COUNT,
            pool=Sum(of="power_cut"),
            worse=HIGH,
            meaning="frames that a power cut or reset took before they were sent",
            measure=_COUNTER,
        ),
        Figure(
            table="stream",
            name="sent",
            unit=COUNT,
            pool=Sum(of="sent"),
            worse=LOW,
            meaning="frames that were on the air at least once",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="attempts",
            unit=COUNT,
            pool=Sum(of="attempts"),
            worse=NEITHER,
            meaning="times that a frame was on the air, retries included",
            measure="add up the radio's retry counter after each frame",
        ),
        Figure(
            table="stream",
            name="acknowledged",
            unit=COUNT,
            pool=Sum(of="acknowledged"),
            worse=NEITHER,
            meaning="frames whose acknowledgement the transmitter heard",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="retries_used_up",
            unit=COUNT,
            pool=Sum(of="retries_used_up"),
            worse=HIGH,
            meaning="times that a frame ran out of retries",
            measure=_TRANSMITTER,
        ),
        Figure(
            table="stream",
            name="received_new",
            unit=COUNT,
            pool=Sum(of="received_new"),
            worse=NEITHER,
            meaning="attempts that the receiver's radio took as new frames",
            measure=_RECEIVER,
        ),
        Figure(
            table="stream",
            name="duplicates",
            unit=COUNT,
            pool=Sum(of="duplicates"),
            worse=HIGH,
            meaning="attempts that the receiver's radio took for one that it has already",
            measure=(
                "send a counter: numbers acknowledged but never printed were taken for duplicates"
            ),
        ),
        Figure(
            table="stream",
            name="fifo_dropped",
            unit=COUNT,
            pool=Sum(of="fifo_dropped"),
            worse=HIGH,
            meaning="attempts that found the receiver's FIFO full",
            measure=("read the radio's FIFO status in each pass and count how often it is full"),
        ),
        Figure(
            table="stream",
            name="read",
            unit=COUNT,
            pool=Sum(of="read"),
            worse=LOW,
            meaning="frames that the receiver's program read",
            measure=_RECEIVER,
        ),
        Figure(
            table="stream",
            name="thrown_away",
            unit=COUNT,
            pool=Sum(of="thrown_away"),
            worse=HIGH,
            meaning="frames taken from the FIFO and not used",
            measure=_RECEIVER,
        ),
        Figure(
            table="stream",
            name="waiting",
            unit=COUNT,
            pool=Sum(of="waiting"),
            worse=NEITHER,
            meaning="frames in the FIFO at the end",
            measure="stop the program and count what is left",
        ),
        Figure(
            table="stream",
            name="never_accepted",
            unit=COUNT,
            pool=Sum(of="never_accepted"),
            worse=HIGH,
            meaning="frames sent of which no attempt was accepted",
            measure=_COUNTER,
        ),
        Figure(
            table="stream",
            name="under_way",
            unit=COUNT,
            pool=Sum(of="under_way"),
            worse=NEITHER,
            meaning="frames not done at the end",
            measure="nothing to see: the end of a run",
        ),
        Figure(
            table="stream",
            name="lost_chance",
            unit=COUNT,
            pool=Sum(of="lost_chance"),
            worse=HIGH,
            meaning="attempts lost by chance on the air",
            measure="one transmitter alone at your distance, retries 0",
        ),
        Figure(
            table="stream",
            name="lost_collision",
            unit=COUNT,
            pool=Sum(of="lost_collision"),
            worse=HIGH,
            meaning="attempts lost because another transmitter was on the air",
            measure=_TWO,
        ),
        Figure(
            table="stream",
            name="lost_deaf",
            unit=COUNT,
            pool=Sum(of="lost_deaf"),
            worse=HIGH,
            meaning=(
                "attempts lost because the receiver was acknowledging, sending or turning round"
            ),
            measure=_TWO,
        ),
        Figure(
            table="stream",
            name="lost_range",
            unit=COUNT,
            pool=Sum(of="lost_range"),
            worse=HIGH,
            meaning="attempts lost out of range",
            measure="pace out the distance and count",
        ),
        Figure(
            table="stream",
            name="lost_off",
            unit=COUNT,
            pool=Sum(of="lost_off"),
            worse=HIGH,
            meaning="attempts lost because the receiver was off or booting",
            measure="switch the receiver off and on and count the transmitter's failures",
        ),
        Figure(
            table="stream",
            name="lost_cut",
            unit=COUNT,
            pool=Sum(of="lost_cut"),
            worse=HIGH,
            meaning="attempts that their own transmitter's power cut ended",
            measure="nothing to see",
        ),
        Figure(
            table="stream",
            name="acknowledgements_lost",
            unit=COUNT,
            pool=Sum(of="acknowledgements_lost"),
            worse=HIGH,
            meaning="acknowledgements sent but not heard",
            measure=(
                "frames printed by the receiver, less those that the transmitter counts as "
                "acknowledged"
            ),
        ),
        Figure(
            table="stream",
            name="delivery_ratio",
            unit=SHARE,
            pool=Ratio(of="read", per="sampled", interval="share"),
            worse=LOW,
            meaning="share of the frames sampled that the program read",
            measure="with a counter in the frame: numbers printed, over numbers sent",
        ),
        Figure(
            table="stream",
            name="update_rate_hz",
            unit=HZ,
            pool=Ratio(of="read", per="up_s", interval="ratio"),
            worse=LOW,
            meaning="frames read a second, from when both ends are first up",
            measure="count the frames read in a minute",
        ),
        Figure(
            table="stream",
            name="worst_second_updates",
            unit=COUNT,
            pool=Lowest(of="worst_second_updates"),
            worse=LOW,
            meaning="frames read in the worst second",
            measure="count the frames read in each second and keep the smallest",
        ),
        Figure(
            table="stream",
            name="longest_gap_at_s",
            unit=S,
            pool=Ruled(is_of_one_start=True),
            worse=NEITHER,
            meaning="when the longest gap began",
            measure="print the time beside the largest gap",
        ),
        Figure(
            table="stream",
            name="longest_gap_start",
            unit=START,
            pool=Ruled(is_of_one_start=True),
            worse=NEITHER,
            meaning="in which start the longest gap was",
            measure="nothing to see: a run has many power-ons",
        ),
        Figure(
            table="stream",
            name="gap_ms",
            unit=MS,
            pool=Spread(of="gap", unit=NS_PER_MS, longest="longest_gap_ns"),
            worse=HIGH,
            meaning="time from one read to the next",
            measure=(
                "keep the largest time between two reads in the receiver's firmware, for an hour"
            ),
        ),
        Figure(
            table="stream",
            name="latency_ms",
            unit=MS,
            pool=Spread(of="latency", unit=NS_PER_MS),
            worse=HIGH,
            meaning="time from the sample to the read of its frame",
            measure=(
                "toggle a pin at the sample and one at the read; time them with a logic analyser"
            ),
        ),
        Figure(
            table="stream",
            name="age_ms",
            unit=MS,
            pool=Spread(of="age", unit=NS_PER_MS),
            worse=HIGH,
            meaning="age of the newest values read, at any instant",
            measure="as latency_ms, plus half a gap",
        ),
        Figure(
            table="stream",
            name="attempts_per_frame",
            unit=PLAIN,
            pool=Ratio(of="attempts", per="sent", interval="ratio"),
            worse=HIGH,
            meaning="attempts for each frame sent",
            measure="mean of the radio's retry counter, plus one",
        ),
        Figure(
            table="stream",
            name="duty_cycle",
            unit=SHARE,
            pool=Ratio(of="on_air_ns", per=SPAN_NS, interval="none"),
            worse=HIGH,
            meaning="share of the time that the transmitter is on the air",
            measure="supply current of its radio on an oscilloscope",
        ),
        Figure(
            table="stream",
            name="charge_mah_per_hour",
            unit=MAH_PER_HOUR,
            pool=Ruled(is_of_one_start=True),
            worse=HIGH,
            meaning=(
                "charge that its transmitter's radio alone takes in an hour: its mean current in mA"
            ),
            measure="a current meter in the radio's supply",
        ),
        Figure(
            table="stream",
            name="battery_h",
            unit=HOURS,
            pool=Ruled(is_of_one_start=True),
            worse=LOW,
            meaning=("hours that its transmitter's cell lasts, with what the board draws besides"),
            measure="let it run from a full cell, and look at the clock",
        ),
        Figure(
            table="stream",
            name="failsafe.trips_on_fault",
            unit=COUNT,
            pool=Sum(of="trips_on_fault"),
            worse=NEITHER,
            meaning="times that failsafe came on because something was broken",
            measure="switch the transmitter off, wheels up, propellers off, and count",
        ),
        Figure(
            table="stream",
            name="failsafe.nuisance_trips",
            unit=COUNT,
            pool=Sum(of="nuisance_trips"),
            worse=HIGH,
            meaning="times that failsafe came on although nothing was broken",
            measure=(
                "count the entries in the receiver's firmware for hours with everything on, "
                "wheels up, propellers off"
            ),
        ),
        Figure(
            table="stream",
            name="failsafe.nuisance_per_hour",
            unit=PER_HOUR,
            pool=Ratio(of="nuisance_trips", per=SPAN_HOURS, interval="rate"),
            worse=HIGH,
            meaning="such trips an hour",
            measure="the same count, by the hours",
        ),
        Figure(
            table="stream",
            name="failsafe.starts_with_nuisance",
            unit=COUNT,
            pool=StartsWith(of="nuisance_trips"),
            worse=HIGH,
            meaning="starts that had such a trip",
            measure="switch everything on again many times and count",
        ),
        Figure(
            table="stream",
            name="failsafe.rare",
            unit=PER_HOUR,
            pool=Judged(can_be_required=False),
            worse=HIGH,
            meaning=("nuisance trips an hour where no start shows any, estimated with --rare"),
            measure="nothing to see: too rare to be waited for",
        ),
        Figure(
            table="stream",
            name="failsafe.seconds_on",
            unit=S,
            pool=Sum(of="on_ns", unit=NS_PER_S),
            worse=HIGH,
            meaning="time that failsafe was on",
            measure="add it up in the receiver's firmware",
        ),
        Figure(
            table="stream",
            name="noise.frames",
            unit=COUNT,
            pool=Sum(of="frames"),
            worse=HIGH,
            meaning="frames that the receiver took out of noise, each with random values",
            measure=_SILENT,
        ),
        Figure(
            table="stream",
            name="noise.per_hour",
            unit=PER_HOUR,
            pool=Ratio(of="frames", per=SPAN_HOURS, interval="rate"),
            worse=HIGH,
            meaning="such frames an hour",
            measure="the same count, by the hours",
        ),
        Figure(
            table="stream",
            name="noise.expected_per_hour",
            unit=PER_HOUR,
            pool=Ruled(is_of_one_start=True),
            worse=HIGH,
            meaning=(
                "such frames an hour by closed form, of a receiver that listens all the time and "
                "hears nothing else"
            ),
            measure=_SILENT,
        ),
        Figure(
            table="output",
            name="refresh_hz",
            unit=HZ,
            pool=Same(of="refresh_hz"),
            worse=NEITHER,
            meaning="pulses a second",
            measure="a logic analyser on the pin",
        ),
        Figure(
            table="output",
            name="update_rate_hz",
            unit=HZ,
            pool=Ratio(of="fresh", per="up_s", interval="ratio"),
            worse=LOW,
            meaning=(
                "pulses a second that carry a newer frame's value, from when both ends are first up"
            ),
            measure=(
                "let the transmitter count up and look for steps of the pulse with a logic analyser"
            ),
        ),
        Figure(
            table="output",
            name="latency_ms",
            unit=MS,
            pool=Spread(of="latency", unit=NS_PER_MS),
            worse=HIGH,
            meaning="time from the sample to its value in effect on the pin",
            measure=(
                "jump the stick's input and time until the pulse changes, with a logic analyser"
            ),
        ),
        Figure(
            table="output",
            name="age_ms",
            unit=MS,
            pool=Spread(of="age", unit=NS_PER_MS),
            worse=HIGH,
            meaning="age of the value in effect, at any instant",
            measure="as latency_ms, plus a gap",
        ),
        Figure(
            table="output",
            name="longest_hold_ms",
            unit=MS,
            pool=Highest(of="longest_hold_ns", unit=NS_PER_MS),
            worse=HIGH,
            meaning="longest time that one value was kept outside failsafe",
            measure="keep the largest time between two writes in the receiver's firmware",
        ),
        Figure(
            table="output",
            name="servo_error_deg",
            unit=DEGREES,
            pool=Spread(of="servo_error", unit=MICRODEGREES),
            worse=HIGH,
            meaning="angle between where the hand points and where the servo stands",
            measure="film the hand and the servo's arm together",
        ),
        Figure(
            table="air",
            name="occupancy",
            unit=SHARE,
            pool=Ratio(of="busy_ns", per=SPAN_NS, interval="none"),
            worse=HIGH,
            meaning="share of the time that the channel is taken",
            measure="carrier detect of a spare radio",
        ),
        Figure(
            table="air",
            name="collisions",
            unit=COUNT,
            pool=Ruled(is_of_one_start=True),
            worse=HIGH,
            meaning="attempts lost to others on the air",
            measure=_TWO,
        ),
        Figure(
            table="receiver",
            name="charge_mah_per_hour",
            unit=MAH_PER_HOUR,
            pool=Ruled(is_of_one_start=True),
            worse=HIGH,
            meaning=(
                "charge that the receiver's radio alone takes in an hour: its mean current in mA"
            ),
            measure="a current meter in the radio's supply",
        ),
        Figure(
            table="receiver",
            name="battery_h",
            unit=HOURS,
            pool=Ruled(is_of_one_start=True),
            worse=LOW,
            meaning=("hours that the receiver's cell lasts, with what the board draws besides"),
            measure="let it run from a full cell, wheels up, propellers off, and look at the clock",
        ),
        Figure(
            table="receiver",
            name="brownouts",
            unit=COUNT,
            pool=Ruled(is_of_one_start=True),
            worse=HIGH,
            meaning="times that what outputs draw held its program in reset",
            measure=(
                "count in the receiver's firmware how often it starts, wheels up, propellers off; "
                "many chips keep why"
            ),
        ),
        Figure(
            table="faults",
            name="over_ms",
            unit=MS,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="time from the fault to its end, which a watchdog or a boot can bring early",
            measure="time it on film, wheels up, propellers off",
        ),
        Figure(
            table="faults",
            name="reaction_ms",
            unit=MS,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="time from the fault until every output's failsafe value is in effect",
            measure=(
                "do it on the bench, wheels up, propellers off, and time the pins with a "
                "logic analyser"
            ),
        ),
        Figure(
            table="faults",
            name="recovered_ms",
            unit=MS,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="time from the end of the fault until fresh values are in effect",
            measure=(
                "do it on the bench, wheels up, propellers off, and time the pins with a logic "
                "analyser"
            ),
        ),
        Figure(
            table="faults",
            name="starts_without_effect",
            unit=COUNT,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="starts in which the unit did what it would have done without the fault",
            measure="do it many times",
        ),
        Figure(
            table="faults",
            name="starts_without_reaction",
            unit=COUNT,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="starts in which failsafe was due and never came",
            measure="do it many times",
        ),
        Figure(
            table="faults",
            name="unrecovered_starts",
            unit=COUNT,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning="starts in which fresh values never came",
            measure="do it many times",
        ),
        Figure(
            table="faults",
            name="starts_with_brownout",
            unit=COUNT,
            pool=Ruled(is_of_one_start=False),
            worse=HIGH,
            meaning=(
                "starts in which what outputs drew then brought the receiver down, before it had "
                "fresh values again"
            ),
            measure="do it many times, with an oscilloscope at the receiver's supply",
        ),
        Figure(
            table="reaction",
            name="bound_ms",
            unit=MS,
            pool=Judged(can_be_required=False),
            worse=HIGH,
            meaning=(
                "longest time from a transmitter's silence until the output's failsafe "
                "value is in effect"
            ),
            measure=(
                "switch the transmitter off a hundred times, wheels up, propellers off, and keep "
                "the longest"
            ),
        ),
        Figure(
            table="reaction",
            name="stopping_ms",
            unit=MS,
            pool=Judged(can_be_required=False),
            worse=HIGH,
            meaning="the same until the output's motor stands still",
            measure="film it, wheels up, propellers off",
        ),
        Figure(
            table="worst",
            name="reaction_ms",
            unit=MS,
            pool=Judged(can_be_required=True),
            worse=HIGH,
            meaning=(
                "longest time from a fault, or from the last frame, until an output's "
                "failsafe value is in effect; judged by radiosim failsafe"
            ),
            measure=(
                "switch the transmitter off a hundred times, wheels up, propellers off, and keep "
                "the longest"
            ),
        ),
    )
)
"""Table and name, such as `stream.gap_ms` → the row."""


@functools.cache
def figures_in(table: str) -> tuple[Figure, ...]:
    """Every figure of one table of the results."""
    return tuple(row for row in FIGURES.values() if row.table == table)


@functools.lru_cache(1024)
def figure_at(path: str) -> tuple[Figure, str] | None:
    """The row of a path such as `stream.drive.gap_ms.max`, and the part that it names, if any."""
    table, *rest = path.split(".")
    if table not in TABLES:
        return None
    leaf = rest[len(TABLES[table]) - 1 :]
    row = FIGURES.get(".".join((table, *leaf)))
    if row is not None:
        return row, ""
    row = FIGURES.get(".".join((table, *leaf[:-1])))
    return (row, leaf[-1]) if row is not None and leaf[-1] in row.parts else None


def is_rate(path: str) -> bool:
    """Whether a path is that of a rate of events, which takes all starts together to judge."""
    at = figure_at(path)
    return at is not None and isinstance(at[0].pool, Ratio) and at[0].pool.interval == "rate"


def figure_paths(streams: Iterable[str], outputs: Iterable[str]) -> tuple[str, ...]:
    """Every path that a requirement of a scenario with these streams and outputs can name."""
    names = {"stream": tuple(streams), "output": tuple(outputs)}
    names["worst"] = names["stream"]
    return tuple(_paths(names))


def _paths(names: dict[str, tuple[str, ...]]) -> Iterator[str]:
    for table, path in TABLES.items():
        tops = (table,) if len(path) == 1 else tuple(f"{table}.{n}" for n in names.get(table, ()))
        for top in tops:
            for row in figures_in(table):
                if row.can_be_required:
                    for part in row.parts:
                        yield f"{top}.{row.name}.{part}" if part else f"{top}.{row.name}"
