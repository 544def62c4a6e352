"""Noise that passes for a frame (rule D6): see reference/receiver_radio.py."""

from radiosim.chance import ONE_53
from radiosim.engine.fast.air import is_deaf, is_faint
from radiosim.engine.fast.receiver_program import wake
from radiosim.engine.fast.receiver_radio import acknowledge_at
from radiosim.engine.fast.world import World
from radiosim.engine.rules.noise import is_quiet, noise_is_acknowledged
from radiosim.engine.rules.reception import acceptance
from radiosim.trace import NEW


def hears_noise(w: World, since_ns: int, now: int) -> bool:
    """Whether the receiver has listened since an instant, and to nothing but noise."""
    for i in range(w.n):
        if w.transmitter[i].flying == 1 and not is_faint(w, i):
            return False
    return is_quiet(since_ns, w.listening_ns, w.signal_ns) and not is_deaf(w, since_ns, now)


def on_noise(w: World, i: int, frame: int, asks: int, now: int) -> None:
    """Noise makes the last bit of a frame to the address of transmitter i."""
    tx = w.tx[i]
    if not hears_noise(w, now - tx.noise_ns, now):
        return
    fate = acceptance(False, w.fill, w.rx.fifo_frames)
    if fate == NEW:
        # Its packet number and CRC are those of no frame that will come.
        w.memory[tx.memory].known = 0
        held = w.fifo[w.fill]
        held.stream = i
        held.frame = held.values_frame = frame
        held.sampled_ns = held.values_ns = now
        held.accepted_ns = now + w.rx.interrupt_ns
        w.fill += 1
        wake(w, now)
    if noise_is_acknowledged(w.rx, fate, tx.acknowledge, asks):
        acknowledge_at(w, i, frame, 0, ONE_53, now)
