"""Conversions, each named by both ends. Time is an integer number of nanoseconds (rule T1)."""

NS_PER_US = 1_000
NS_PER_MS = 1_000_000
NS_PER_S = 1_000_000_000
NS_PER_HOUR = 3_600 * NS_PER_S


def ns_from_us(us: float) -> int:
    """Nanoseconds nearest to a number of microseconds."""
    return round(us * NS_PER_US)


def ns_from_ms(ms: float) -> int:
    """Nanoseconds nearest to a number of milliseconds."""
    return round(ms * NS_PER_MS)


def ns_from_s(seconds: float) -> int:
    """Nanoseconds nearest to a number of seconds."""
    return round(seconds * NS_PER_S)


def ms_from_ns(ns: float) -> float:
    """Milliseconds in a number of nanoseconds."""
    return ns / NS_PER_MS


def dbm_to_mw(dbm: float) -> float:
    """Milliwatts of a level in dBm."""
    return float(10.0 ** (dbm / 10.0))


def db_to_ratio(db: float) -> float:
    """Power ratio of a number of decibels."""
    return float(10.0 ** (db / 10.0))
