"""What the checks compare with: the sources, each with a short name."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A published text, a program, or closed forms derived from those."""

    key: str
    """Its short name in the table of checks."""
    text: str
    """Author or publisher, title, edition."""

    def at(self, place: str) -> str:
        """The source with a section, table or page."""
        return f"{self.key} {place}"


PS = Source(
    key="PS",
    text="Nordic Semiconductor, *Single Chip 2.4GHz Transceiver, Product Specification* v1.0, "
    "September 2008",
)
PSP = Source(key="PSp", text="the same, Preliminary v1.0, March 2008")
PS2 = Source(key="PS2", text="the older edition's *Product Specification* rev. 2.0, July 2007")
PS1 = Source(
    key="PS1",
    text="the older edition's *Preliminary Product Specification* rev. 1.1/1.2, 2005/06",
)
BAND = Source(
    key="BAND",
    text="the band of 2400 to 2483.5 MHz: ETSI EN 300 328 V1.8.1 (final draft), 47 CFR 15.249",
)
P525 = Source(
    key="P525",
    text="ITU-R P.525, *Calculation of free-space attenuation*, as restated in handbooks",
)
PROPAGATION = Source(
    key="PROPAGATION",
    text="two-ray and log-distance path loss, Clarke's model of fading: textbooks of mobile radio",
)
PROAKIS = Source(key="PROAKIS", text="J. G. Proakis, *Digital Communications*")
BALANIS = Source(key="BALANIS", text="C. A. Balanis, *Antenna Theory*, chapter 4")
BECHMANN = Source(
    key="BECHMANN",
    text='R. Bechmann, "Frequency-temperature-angle characteristics of AT-type resonators made of '
    'natural and synthetic quartz", Proc. IRE 44, 1956',
)
GILBERT = Source(
    key="GILBERT",
    text='E. N. Gilbert, "Capacity of a burst-noise channel", BSTJ 39, 1960; E. O. Elliott, '
    '"Estimates of error rates for codes on burst-noise channels", BSTJ 42, 1963',
)
EN300328 = Source(key="EN300328", text="ETSI EN 300 328 V1.8.1, final draft")
FCC = Source(key="FCC", text="47 CFR 15.249")
NETWORK = Source(
    key="NETWORK", text="house networks at 2.4 GHz (IEEE 802.11), as restated by others"
)
AAPCS32 = Source(key="AAPCS32", text="Arm, *Procedure Call Standard for the Arm Architecture*")
ALOHA = Source(key="ALOHA", text='N. Abramson, "The ALOHA system", AFIPS 37, 1970')
AGE = Source(
    key="AGE",
    text='S. Kaul, R. Yates, M. Gruteser, "Real-time status: how often should one update?", '
    "INFOCOM 2012",
)
FELLER = Source(
    key="FELLER",
    text="W. Feller, *An Introduction to Probability Theory and Its Applications*, vol. I",
)
WILSON = Source(key="WILSON", text='E. B. Wilson, "Probable inference", JASA 22, 1927')
GARWOOD = Source(
    key="GARWOOD",
    text='F. Garwood, "Fiducial limits for the Poisson distribution", Biometrika 28, 1936',
)
COCHRAN = Source(key="COCHRAN", text="W. G. Cochran, *Sampling Techniques*, 3rd ed., 1977")
THREE = Source(
    key="THREE",
    text='J. A. Hanley, A. Lippman-Hand, "If nothing goes wrong, is everything all right?", '
    "JAMA 249, 1983",
)
BONFERRONI = Source(
    key="BONFERRONI",
    text='O. J. Dunn, "Multiple comparisons among means", JASA 56, 1961',
)
SOBOL = Source(
    key="SOBOL",
    text='I. M. Sobol\', "Sensitivity estimates for nonlinear mathematical models", Mathematical '
    "Modelling and Computational Experiments 1, 1993",
)
ISHIGAMI = Source(
    key="ISHIGAMI",
    text='T. Ishigami, T. Homma, "An importance quantification technique in uncertainty analysis '
    'for computer models", ISUMA 1990',
)
PHILOX = Source(
    key="PHILOX",
    text='J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as easy '
    'as 1, 2, 3", SC 2011',
)
PEARSON = Source(
    key="PEARSON", text="K. Pearson's chi-square test; exact binomial tails: textbooks"
)
MIXTURE = Source(
    key="MIXTURE",
    text='A. Owen, Y. Zhou, "Safe and effective importance sampling", JASA 95, 2000',
)
CRC = Source(key="CRC", text='check values of the text "123456789", widely published')
FACTS = Source(
    key="facts", text="closed forms derived from the others, `radiosim/facts.md`, by section"
)
MODEL = Source(
    key="model", text="closed forms derived from the rules of `radiosim/model.md`, by rule"
)
CIRCUITS = Source(
    key="circuits",
    text="Ohm's law, and a capacitor charged through a resistance: any handbook of circuits, such "
    "as P. Horowitz, W. Hill, *The Art of Electronics*, ch. 1",
)
TRADE = Source(key="trade", text="common practice of the trade, no source")
LIBRARY = Source(
    key="library",
    text="another program as second opinion: crcmod 1.7, randomgen 2, scipy 1, vcdvcd 2, "
    "`struct` and `ctypes` of Python, gcc of this machine and of Debian 12 for other targets",
)
SOURCES = (
    PS,
    PSP,
    PS2,
    PS1,
    BAND,
    P525,
    PROPAGATION,
    PROAKIS,
    BALANIS,
    BECHMANN,
    GILBERT,
    EN300328,
    FCC,
    NETWORK,
    AAPCS32,
    ALOHA,
    AGE,
    FELLER,
    WILSON,
    GARWOOD,
    COCHRAN,
    THREE,
    BONFERRONI,
    SOBOL,
    ISHIGAMI,
    PHILOX,
    PEARSON,
    MIXTURE,
    CRC,
    FACTS,
    MODEL,
    TRADE,
    LIBRARY,
)
