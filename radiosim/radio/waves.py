"""A fading level in time as a sum of waves from all round.

Source of the method: S. O. Rice, Bell System Technical Journal 23 (1944), 24 (1945), section 1.7
(amplitudes drawn, so that the level is complex Gaussian in the ensemble for any number of waves);
R. H. Clarke, BSTJ 47 (1968): waves from all round give the autocorrelation J₀(2π f_D τ). Both from
memory; tests/reference checks distribution and autocorrelation.
"""

from radiosim.marks import rule

WAVES = 8
"""Waves from all round; the steady one of a Rician level comes on top."""
TURN_32 = 1 << 32
_QUARTER = 1 << 30
_MASK = 0xFFFFFFFF
_TWO_PI = 6.283185307179586
_TO_ONE = 1.0 / 4294967296.0
# The series of the sine, by odd powers of the angle.
_C3, _C5, _C7 = -1.0 / 6.0, 1.0 / 120.0, -1.0 / 5040.0
_C9, _C11 = 1.0 / 362880.0, -1.0 / 39916800.0


@rule
def cosine_of(turns_32: int) -> float:
    """Cosine of an angle in 2⁻³² turns, within 6e-8.

    A series of its own: several times as fast as the library's, and the same to the last bit on
    every machine.
    """
    x = _TWO_PI * (abs(turns_32 * _TO_ONE - 0.5) - 0.25)
    y = x * x
    return x * (1.0 + y * (_C3 + y * (_C5 + y * (_C7 + y * (_C9 + y * _C11)))))


@rule
def sine_of(turns_32: int) -> float:
    """Sine of an angle in 2⁻³² turns."""
    return cosine_of((turns_32 - _QUARTER) & _MASK)


@rule
def turned(turns_64: int, phase_64: int, now: int) -> int:
    """Where a wave stands at an instant, 2⁻³² turns.

    `turns_64`: turns a nanosecond in 2⁻⁶⁴. The product wraps in compiled code; the bits that are
    kept are the same.
    """
    return ((turns_64 * now + phase_64) >> 32) & _MASK
