"""Words of the screens, pages and files: what each means, its unit, and the standard term."""

from typing import Literal, NamedTuple

from radiosim.registers.fault_register import FAULT_KINDS

Kind = Literal["word", "verdict", "fault", "loss"]


class Word(NamedTuple):
    """One word in a builder's terms."""

    word: str
    meaning: str
    unit: str = ""
    standard: str = ""
    """The term of a standard or of the field; empty: the word is that."""


TERMS = (
    Word("scenario", "a TOML file: units, air, faults, requirements; and what is simulated of it"),
    Word(
        "start",
        "one power-on of everything, with its own phases and clock errors, drawn from the seed",
        standard="replication, in textbooks of simulation",
    ),
    Word(
        "ordinary start",
        "a start whose phases were drawn and nothing else; where periods beat, every third start "
        "is placed on a beat instead",
    ),
    Word(
        "look",
        "on the live page: the starts of a run simulated so far, 1, 2, 4, 8 and at last all; what "
        "more of them may change says so far, or at least",
    ),
    Word("seed", "number that every draw follows from: the same seed gives the same figures"),
    Word("stream", "the frames of one transmitter, from its sample to the receiver's program"),
    Word("sample", "one reading of the controls, which makes one frame"),
    Word("frame", "what is on the air at a time: preamble, address, header, payload and CRC"),
    Word("period", "time from one sample of a transmitter to the next", "ms", "sample interval"),
    Word(
        "send rate",
        "samples a second of the whole start, boots too; where boots are a large part it is below "
        "the update rate, which counts from when both ends are up",
        "frames/s",
    ),
    Word(
        "gap",
        "time from one fresh value to the next, at the receiver or at an output; its median, p99 "
        "or longest",
        "ms",
        "update interval",
    ),
    Word("update rate", "fresh values a second, from when both ends are up", "/s"),
    Word("latency", "time from a sample to its effect; its median or p99", "ms"),
    Word(
        "age",
        "how old the value is that an output obeys, at any instant",
        "ms",
        "age of information",
    ),
    Word("fresh", "a value that was sampled later than all before it"),
    Word("median", "half of all are no larger"),
    Word("p95", "95 of 100 are no larger", standard="95th percentile"),
    Word("p99", "99 of 100 are no larger", standard="99th percentile"),
    Word("delay", "a blocking wait in a program", "ms"),
    Word("pass", "one turn of a program's loop", standard="scan, of controllers"),
    Word("loop time", "how long a pass takes", "ms", "scan cycle, of controllers"),
    Word("transmitter", "the unit that sends: the hand controller, the goggles"),
    Word("receiver", "the unit that receives and drives the outputs"),
    Word("output", "what the receiver drives: a servo pulse, a PWM or a pin"),
    Word(
        "firmware",
        "the program that a unit is flashed with; radiosim firmware runs the receiver's own on the "
        "simulated link",
    ),
    Word(
        "rx_failsafe",
        "call of receiver.h by which a receiver's program says that failsafe of a stream is on (1) "
        "or off (0); it moves nothing, and is compared with the prediction",
    ),
    Word(
        "noise",
        "what a radio hears where nobody sends: random bits, which can pass for a frame",
        standard="thermal noise",
    ),
    Word("acknowledgement", "the receiver's own short frame that says a frame came through"),
    Word("attempt", "a frame on the air once; each retry is another"),
    Word("retry", "sending a frame again because no acknowledgement came"),
    Word(
        "retries used up",
        "the last retry of a frame had no acknowledgement either, and the radio stops",
        standard="retry limit reached, IEEE 802.11",
    ),
    Word(
        "CRC",
        "check bytes of a frame, by which the receiver's radio drops a damaged one",
        standard="cyclic redundancy check",
    ),
    Word("FIFO", "memory of a radio for a few frames, first in, first out"),
    Word("duplicate", "an attempt that the receiver's radio takes for a frame that it has already"),
    Word("deaf", "a radio that is on and cannot hear: it sends, turns round or is being set up"),
    Word("pipe", "one address that a receiver's radio listens to"),
    Word(
        "beat",
        "two free-running schedules drift into each other and out again",
        standard="beat of two near-equal frequencies",
    ),
    Word("drift", "how a clock's error moves while it warms up", "ppm"),
    Word("beat period", "time from one beat to the next", "s"),
    Word("collision", "two transmitters on the air at once, on one channel"),
    Word("collision burst", "collisions in a row while two schedules beat", "s"),
    Word(
        "loss burst",
        "losses that hang together: the air is in its bad state",
        standard="burst of the Gilbert-Elliott model",
    ),
    Word("duty cycle", "share of the time that one transmitter is on the air", "%", "EN 300 328"),
    Word("channel occupancy", "share of the time that anything is on the air", "%", "EN 300 328"),
    Word("failsafe", "what outputs do once no fresh frame came for the timeout"),
    Word("timeout", "how long a failsafe waits for the next frame before it trips", "ms"),
    Word("trip", "failsafe comes on"),
    Word(
        "nuisance trip",
        "failsafe comes on although nothing is broken: a trip for nothing",
        standard="spurious trip",
    ),
    Word("trips on fault", "trips that a fault caused"),
    Word("hold", "the output keeps its last value on failsafe"),
    Word("preset", "a value of its own that an output takes on failsafe"),
    Word("mix", "how much of each field goes into one output"),
    Word(
        "reaction time",
        "from the fault until the failsafe value is in effect; --reaction-ms is its limit",
        "ms",
        "fault reaction time, ISO 26262",
    ),
    Word("stopping time", "from the fault until what turns stands still", "ms", "ISO 13855"),
    Word("bound", "longest reaction time that can come about, in closed form", "ms"),
    Word("fault", "something that goes wrong on purpose at an instant of a scenario"),
    Word(
        "drill",
        "a fault put in on purpose, many times, each at another moment",
        standard="fault injection",
    ),
    Word("repeats", "how often a drill puts in each fault"),
    Word("trade-off", "what a longer timeout costs in reaction time and saves in nuisance trips"),
    Word("feasible range", "timeouts that keep the reaction time and the nuisance trips", "ms"),
    Word("Pareto front", "settings that no other beats in all respects"),
    Word("tie", "settings that are as good as those recommended, to a hundredth"),
    Word(
        "guarded",
        "a stream that `tune` makes no worse, as nothing is required of how often its values come",
    ),
    Word(
        "first-order share",
        "how much of an outcome a setting explains alone",
        "%",
        "first-order Sobol' index",
    ),
    Word(
        "total share",
        "how much of an outcome a setting explains, with others too",
        "%",
        "total Sobol' index",
    ),
    Word("margin", "what is left to a limit"),
    Word("link margin", "level at the receiver above its rated sensitivity", "dB"),
    Word(
        "pattern",
        "what an antenna gives towards each angle, beside its gain",
        "dB",
        "radiation pattern",
    ),
    Word("null", "an angle towards which an antenna's pattern gives next to nothing"),
    Word(
        "heading",
        "which way a head or a vehicle faces, clockwise from the direction of the other end",
        "deg",
    ),
    Word("channel", "one frequency of the band, in steps of 1 MHz"),
    Word(
        "predicted range",
        "holds one future measurement with the share that is said",
        standard="prediction interval, ISO 16269-8",
    ),
    Word("confidence interval", "holds the true mean with the share that is said, over starts"),
    Word("bench test sheet", "steps to try on the bench, with what should come out and blanks"),
    Word("finding", "something in the results that a change would better, proved by a run"),
    Word("cure", "the change that betters it"),
    Word("requirement", "a limit that a scenario sets on a figure"),
    Word("assumed", "what the scenario leaves open and the tool fills in"),
    Word("head", "a head-worn unit, such as goggles that turn a camera"),
    Word("layout", "which bits of a payload are which field"),
    Word(
        "ABI",
        "how a compiler lays out a struct: order, sizes, alignment",
        standard="application binary interface",
    ),
    Word("padding", "bytes that a compiler puts between fields so that each lies aligned"),
    Word("trap", "what goes wrong with a layout on the way from one firmware to another"),
    Word("dead band", "change of a pulse that a servo does not follow", "us"),
)

_STARVES = (
    "some gap is longer than the timeout with no fault in it, failsafe trips for nothing, or few "
    "of the samples are read"
)
VERDICTS = (
    Word(
        "steady", "no gap is longer than half of the timeout, and over 90 % of the samples are read"
    ),
    Word(
        "gaps",
        "some gap is longer than half of the timeout, or over 10 % of the samples are not read",
    ),
    Word(
        "cut by fault",
        "some gap is longer than the timeout, and a fault of the scenario lies in it",
    ),
    Word("starves", _STARVES),
    Word("silent", "none of its frames was read"),
    Word("holds", "of a requirement or a drill: kept"),
    Word("fails", "of a requirement or a drill: not kept"),
    Word("FAILED", "a requirement is not kept"),
    Word("not judged", "the figure could not be measured, or too little was simulated to tell"),
    Word("HELD", "a receiver's own program did what was predicted, as far as its rung can see"),
    Word(
        "NOT HELD",
        "a receiver's own program did otherwise than was predicted, or ended; of a log of the "
        "bench: a figure lies farther out than chance explains",
    ),
    Word("held", "of a figure of a log: simulated logs of the scenario show as much"),
    Word(
        "NOT JUDGED",
        "a receiver's own program did otherwise only where the rung cannot tell who is wrong",
    ),
    Word(
        "STILL DRIVEN",
        "an output that a fault leaves driven, though it should stop",
        standard="failure to danger, machinery safety",
    ),
    Word("TOO LATE", "an output reaches its failsafe value after the limit"),
    Word("NOT IN TIME", "an output reaches its failsafe value after the limit, or never"),
    Word("NOT TRIED", "the output was never driven when the fault came: the drill shows nothing"),
    Word("untried", "never driven when a fault came: the drill shows nothing"),
    Word("keeps value", "the output holds on failsafe, because the scenario says so"),
    Word("short", "the fault was over before failsafe was due"),
    Word("KEEPS ITS VALUE", "the output holds on failsafe, because the scenario says so"),
    Word("NOT BACK", "the output does not follow again after the fault has ended"),
    Word("NO BOUND", "no time can be given by which an output must be on failsafe"),
    Word("NONE", "no timeout keeps both limits of a trade-off"),
    Word(
        "NOT SHOWN",
        "some timeout may keep both limits of a trade-off: too little was simulated to show it",
    ),
    Word(
        "GUESSED",
        "nothing says where an output stands still: what it does on failsafe is radiosim's guess",
    ),
    Word("WORSE", "a stream gets less, or later, with what is recommended than it does now"),
    Word("NOT CONFIRMED", "a setting that held in a short run fails over the whole scenario"),
    Word("DEAD", "driven for less than half of the time: a failsafe that is on cannot trip"),
    Word("NO FAILSAFE", "nothing stops the outputs of this stream if its transmitter is gone"),
    Word("FAILSAFE NEVER CAME", "a fault was there for longer than the bound, and no trip came"),
    Word("NEVER CAME", "a fault was there for longer than the bound, and no trip came"),
    Word("NOTHING EVER STOPS", "no output of this scenario has a failsafe that stops it"),
    Word("NEVER FRESH AGAIN", "after a fault no fresh value reaches the output until the end"),
    Word("NEVER COMES ALIVE", "frames are read, and yet the output never leaves its failsafe"),
    Word("STARVES", _STARVES),
    Word(
        "RESTARTS", "the receiver's supply falls under what it needs, and its program boots again"
    ),
    Word("BEAT", "two periods lie so close to a multiple of each other that they will beat"),
    Word("RELIES", "the setting is good only while two clocks happen not to beat"),
    Word("MISREAD", "a receiver takes the bits of one field for another, or for another value"),
    Word("compatible", "a receiver reads every field as it was sent"),
    Word(
        "asked",
        "all bits arrive, but a field has another name or comment: only you know whether it still "
        "means the same",
    ),
    Word("rejected", "the receiver's radio drops the frame, for its length"),
    Word("refused", "the receiver's program drops the frame, for its version field"),
    Word(
        "few_frames",
        "drill: out of range until failsafe is on, then in range again and again, each time for "
        "fewer frames than end failsafe (resume_frames)",
    ),
    Word("untouched", "an output of another stream goes on as if nothing had happened"),
    Word("need not stop", "the unit is back before the timeout is over"),
    Word("STOPS", "an output stops though the fault is not of its stream"),
)

FAULTS = tuple(Word(row.name, row.meaning, standard=row.standard) for row in FAULT_KINDS.values())

LOSSES = (
    Word("chance", "an attempt is lost on the air by chance: noise, fading"),
    Word("out of range", "the level at the receiver is too low"),
    Word("off", "the receiver is off or starting up"),
    Word("cut", "the transmitter's own supply is cut while it sends"),
    Word("full", "the receiver's FIFO has no room"),
    Word("unheard", "an acknowledgement comes when the transmitter listens no longer"),
    Word("skipped", "the radio is busy when a sample is due, and the sample is dropped"),
    Word("replaced", "a newer sample takes the place of one that waits to be sent"),
    Word("queue full", "the transmitter's FIFO has no room for a sample"),
    Word("power cut", "a power cut or reset takes a frame before it is sent"),
    Word("thrown away", "the receiver's program takes a frame from the FIFO and does not use it"),
    Word("lost with the fifo", "the receiver's radio loses its FIFO, and the frames in it"),
)
"""Causes that are not among the terms above: see collision, deaf and duplicate there."""

WORDS: dict[Kind, tuple[Word, ...]] = {
    "word": TERMS,
    "verdict": VERDICTS,
    "fault": FAULTS,
    "loss": LOSSES,
}
