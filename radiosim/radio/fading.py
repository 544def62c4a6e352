def doppler_hz(speed_m_s: float, frequency_mhz: float) -> float:
    return speed_m_s * frequency_mhz * 1e6 / 299792458.0


def anchor_shift_db(a: float, b: int, c: str, d: float, e: float, f: float) -> float:
    return -a + 12.0
