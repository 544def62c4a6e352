"""In which order what comes at one instant happens (rule T4).

Every kind of event of every unit has a slot of its own, so no two things are ever tied.
`n` is the number of transmitters, `i` one of them in file order.
"""

from radiosim.marks import rule


@rule
def end_slot(i: int, n: int) -> int:
    """An attempt of transmitter i ends: reception and FIFO entry."""
    return i


@rule
def acknowledgement_end_slot(n: int) -> int:
    """The acknowledgement on the air ends."""
    return n


@rule
def read_slot(n: int) -> int:
    """The receiver's interrupt reads the FIFO."""
    return n + 1


@rule
def done_slot(i: int, n: int) -> int:
    """A frame of transmitter i is done or out of retries."""
    return n + 2 + i


@rule
def step_slot(n: int) -> int:
    """A fault begins or ends, a boot ends."""
    return 2 * n + 2


@rule
def upload_slot(i: int, n: int) -> int:
    """The program of transmitter i moves a frame to its radio."""
    return 2 * n + 3 + 2 * i


@rule
def sample_slot(i: int, n: int) -> int:
    """The program of transmitter i samples."""
    return 2 * n + 4 + 2 * i


@rule
def acknowledgement_start_slot(n: int) -> int:
    """The receiver's acknowledgement goes on the air."""
    return 4 * n + 3


@rule
def start_slot(i: int, n: int) -> int:
    """An attempt of transmitter i goes on the air."""
    return 4 * n + 4 + i


@rule
def pass_slot(n: int) -> int:
    """A pass of the receiver program starts."""
    return 5 * n + 4


@rule
def slots(n: int) -> int:
    """How many slots there are."""
    return 5 * n + 5
