"""Band edges and where relays may work: what is wrong with a frequency pair, in sentences.

A profile is whose rules are checked: "us", or an ITU region where no national plan is held, or "other". What
is law gives errors, what is a band plan or a custom gives warnings; the national licence and plan decide.

Frequencies are carriers in MHz, as `Decimal`. Every edge belongs to its band or segment: a carrier exactly on
an edge is no error, but a signal is about 16 kHz wide, so one nearer than half of that to an edge gets a
warning.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Severity = Literal["error", "warning"]

# FM with 5 kHz deviation and 3 kHz audio by Carson's rule, 2 (5 + 3) kHz: emission 16K0F3E.
HALF_OCCUPIED_MHZ = Decimal("0.008")


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of spectrum, both edges included, in MHz."""

    low_mhz: Decimal
    high_mhz: Decimal

    def __contains__(self, frequency_mhz: Decimal) -> bool:
        return frequency_mhz.is_finite() and self.low_mhz <= frequency_mhz <= self.high_mhz

    def __str__(self) -> str:
        return f"{said(self.low_mhz)} to {said(self.high_mhz)} MHz"


@dataclass(frozen=True, slots=True)
class PairRange:
    """Where a band plan puts the outputs and the inputs of relays that belong together."""

    output: Segment
    input: Segment


@dataclass(frozen=True, slots=True)
class Band:
    """One band under one profile.

    `relay_segments`: where the law lets a relay receive and send (empty: anywhere in the band), with `law`
    naming it. `pair_ranges`: where the band plan puts relays. `usual_offsets_mhz`: sizes; the sign is local.
    """

    name: str
    edges: Segment
    relay_segments: tuple[Segment, ...] = ()
    law: str = ""
    pair_ranges: tuple[PairRange, ...] = ()
    usual_offsets_mhz: tuple[Decimal, ...] = ()
    calling_mhz: tuple[Decimal, ...] = ()
    satellites: tuple[Segment, ...] = ()


@dataclass(frozen=True, slots=True)
class Profile:
    """Whose rules: `words` completes "the 2 m band ..."; `note` is what a page should say beside a check."""

    name: str
    words: str
    bands: tuple[Band, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong with one field of a form, in a sentence that also says what would be right."""

    field: str
    sentence: str
    severity: Severity

    @property
    def is_error(self) -> bool:
        return self.severity == "error"


def said(frequency_mhz: Decimal) -> str:
    """A frequency as people write it: three decimals, or four where it has them."""
    whole = f"{frequency_mhz:.4f}"
    return whole.removesuffix("0")


def _segment(text: str) -> Segment:
    low, high = text.split("-")
    return Segment(Decimal(low), Decimal(high))


def _segments(text: str) -> tuple[Segment, ...]:
    return tuple(_segment(each) for each in text.split())


def _pair_range(output: str, input_: str) -> PairRange:
    return PairRange(_segment(output), _segment(input_))


def _numbers(text: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(number) for number in text.split())


# Space stations: 47 CFR 97.207(c) (text of 2007) gives 144-146 and 435-438 MHz; of the first, 145.8-146.0 is
# where the IARU Region 1 band plan puts them and practice elsewhere follows.
_SATELLITES_2M = _segments("145.8-146")
_SATELLITES_70CM = _segments("435-438")
# FCC licence question T2A01 (pool of 2026); the other regions' plans have the same 600 kHz.
_USUAL_2M = _numbers("0.6")

_PLAN_NOTE = "Only the band edges of {} and its general plan are checked: your national rules decide."

# 47 CFR 97.301(a) (2021) for the edges; 97.205(b) (October 2024) for the segments: a repeater may receive and
# retransmit only outside 144.0-144.5, 145.5-146.0, 431.0-433.0 and 435.0-438.0 MHz. Offsets and calling
# channels: FCC licence questions T2A01, T2A02, T2A03 (446.0 from a secondary source).
_US = Profile(
    "us",
    "in the US",
    (
        Band(
            "2 m",
            _segment("144-148"),
            relay_segments=_segments("144.5-145.5 146-148"),
            law="47 CFR 97.205(b)",
            usual_offsets_mhz=_USUAL_2M,
            calling_mhz=_numbers("146.52"),
            satellites=_SATELLITES_2M,
        ),
        Band(
            "70 cm",
            _segment("420-450"),
            relay_segments=_segments("420-431 433-435 438-450"),
            law="47 CFR 97.205(b)",
            usual_offsets_mhz=_numbers("5"),
            calling_mhz=_numbers("446"),
            satellites=_SATELLITES_70CM,
        ),
    ),
    "On 70 cm the amateur service is secondary: it must not disturb federal radiolocation nor expect "
    "protection from it (47 CFR 97.303). Agreement with the local frequency coordinator is not checked.",
)

# Edges: 47 CFR 97.301(a) (2021), Region 1 column. 2 m: IARU Region 1 band plan, inputs 144.994-145.194,
# outputs 145.594-145.7935. 70 cm: the Region 1 pairs, the wide ones of HB, DL and OE, those of F, PA and ON,
# and (from memory) the British ones, inputs above outputs; channel centres. Calling channels: the same plan.
_REGION_1 = Profile(
    "region1",
    "in ITU Region 1",
    (
        Band(
            "2 m",
            _segment("144-146"),
            pair_ranges=(_pair_range("145.594-145.7935", "144.994-145.194"),),
            usual_offsets_mhz=_USUAL_2M,
            calling_mhz=_numbers("145.5"),
            satellites=_SATELLITES_2M,
        ),
        Band(
            "70 cm",
            _segment("430-440"),
            pair_ranges=(
                _pair_range("434.6-434.975", "433-433.375"),
                _pair_range("438.65-439.425", "431.05-431.825"),
                _pair_range("430.025-430.375", "431.625-431.975"),
                _pair_range("433-433.375", "434.6-434.975"),
            ),
            usual_offsets_mhz=_numbers("1.6 7.6"),
            calling_mhz=_numbers("433.5"),
            satellites=_SATELLITES_70CM,
        ),
    ),
    _PLAN_NOTE.format("ITU Region 1"),
)

# Edges: 47 CFR 97.301(a) (2021), Region 2 column.
_REGION_2 = Profile(
    "region2",
    "in ITU Region 2",
    (
        Band("2 m", _segment("144-148"), usual_offsets_mhz=_USUAL_2M, satellites=_SATELLITES_2M),
        Band("70 cm", _segment("420-450"), satellites=_SATELLITES_70CM),
    ),
    _PLAN_NOTE.format("ITU Region 2"),
)

# Edges: 47 CFR 97.301(a) (2021), Region 3 column (the edition of 2009 prints 420-450 for 70 cm). Offsets on
# 70 cm from memory: 5 MHz of old, 7 MHz in newer plans.
_REGION_3 = Profile(
    "region3",
    "in ITU Region 3",
    (
        Band("2 m", _segment("144-148"), usual_offsets_mhz=_USUAL_2M, satellites=_SATELLITES_2M),
        Band("70 cm", _segment("430-440"), usual_offsets_mhz=_numbers("5 7"), satellites=_SATELLITES_70CM),
    ),
    _PLAN_NOTE.format("ITU Region 3"),
)

# The widest edges of any region, and nothing else.
_OTHER = Profile(
    "other",
    "anywhere",
    (Band("2 m", _segment("144-148")), Band("70 cm", _segment("420-450"))),
    "Only the widest band edges of any ITU region are checked: your national rules and band plan decide.",
)

PROFILES = {profile.name: profile for profile in (_US, _REGION_1, _REGION_2, _REGION_3, _OTHER)}


def band_of(frequency_mhz: Decimal, profile: str = "other") -> Band | None:
    """The band that holds the frequency under that profile, or None. Raises `KeyError` for no profile."""
    return next((band for band in PROFILES[profile].bands if frequency_mhz in band.edges), None)


def check_pair(output_mhz: Decimal, input_mhz: Decimal, profile: str) -> list[Problem]:
    """What is wrong with a relay that sends on `output_mhz` and listens on `input_mhz`: [] when nothing is.

    Fields are `output_mhz`, `input_mhz` and, for an unknown profile, `band_profile`; nothing is raised.
    """
    if profile not in PROFILES:
        return [_unknown_profile(profile)]
    problems = []
    for field, frequency_mhz in (("output_mhz", output_mhz), ("input_mhz", input_mhz)):
        problems += _in_band(field, frequency_mhz, PROFILES[profile])
    if any(problem.is_error for problem in problems):
        return problems
    for field, frequency_mhz in (("output_mhz", output_mhz), ("input_mhz", input_mhz)):
        problems += _where_relays_work(field, frequency_mhz, profile)
    return problems + _together(output_mhz, input_mhz, profile)


def check_simplex(frequency_mhz: Decimal, profile: str) -> list[Problem]:
    """What is wrong with a simplex channel: [] when nothing is. Fields: `simplex_mhz`, `band_profile`."""
    if profile not in PROFILES:
        return [_unknown_profile(profile)]
    problems = _in_band("simplex_mhz", frequency_mhz, PROFILES[profile])
    band = band_of(frequency_mhz, profile)
    if band is not None:
        problems += _edge("simplex_mhz", frequency_mhz, band.edges)
        problems += _calling("simplex_mhz", frequency_mhz, band)
        problems += _satellites("simplex_mhz", frequency_mhz, band)
    return problems


def _unknown_profile(profile: str) -> Problem:
    known = ", ".join(PROFILES)
    return Problem("band_profile", f"There is no band profile “{profile}”; choose one of {known}.", "error")


def _in_band(field: str, frequency_mhz: Decimal, profile: Profile) -> list[Problem]:
    if band_of(frequency_mhz, profile.name):
        return []
    bands = " or ".join(f"{band.name} ({band.edges})" for band in profile.bands)
    sentence = f"{frequency_mhz} MHz is in no band {profile.words}; it should be in {bands}."
    if band_of(frequency_mhz / 1000, profile.name):
        sentence += f" Was {said(frequency_mhz / 1000)} MHz meant? Give megahertz, not kilohertz."
    return [Problem(field, sentence, "error")]


def _where_relays_work(field: str, frequency_mhz: Decimal, profile: str) -> list[Problem]:
    band = band_of(frequency_mhz, profile)
    assert band is not None
    allowed = band.relay_segments or (band.edges,)
    segment = next((each for each in allowed if frequency_mhz in each), None)
    if segment is None:
        sentence = (
            f"{said(frequency_mhz)} MHz is where no repeater may work {PROFILES[profile].words}; "
            f"on {band.name} one may from {' or from '.join(map(str, allowed))} ({band.law})."
        )
        return [Problem(field, sentence, "error")]
    return [
        *_edge(field, frequency_mhz, segment),
        *_calling(field, frequency_mhz, band),
        *_satellites(field, frequency_mhz, band),
    ]


def _edge(field: str, frequency_mhz: Decimal, segment: Segment) -> list[Problem]:
    for edge_mhz in (segment.low_mhz, segment.high_mhz):
        if abs(frequency_mhz - edge_mhz) < HALF_OCCUPIED_MHZ:
            sentence = (
                f"{said(frequency_mhz)} MHz is too near the edge at {said(edge_mhz)} MHz: an FM signal about "
                "16 kHz wide reaches past it. Keep 8 kHz away."
            )
            return [Problem(field, sentence, "warning")]
    return []


def _calling(field: str, frequency_mhz: Decimal, band: Band) -> list[Problem]:
    return [
        Problem(
            field,
            f"{said(frequency_mhz)} MHz falls on the FM calling channel {said(calling_mhz)} MHz, where "
            "people call before they move to another channel.",
            "warning",
        )
        for calling_mhz in band.calling_mhz
        if abs(frequency_mhz - calling_mhz) < HALF_OCCUPIED_MHZ
    ]


def _satellites(field: str, frequency_mhz: Decimal, band: Band) -> list[Problem]:
    return [
        Problem(
            field,
            f"{said(frequency_mhz)} MHz is among the satellites, {segment}, where a strong signal on the "
            "ground drowns weak ones from space.",
            "warning",
        )
        for segment in band.satellites
        if frequency_mhz in segment
    ]


def _together(output_mhz: Decimal, input_mhz: Decimal, profile: str) -> list[Problem]:
    band = band_of(output_mhz, profile)
    if output_mhz == input_mhz:
        sentence = (
            f"The relay would listen on {said(input_mhz)} MHz, where it sends; its input must be elsewhere."
        )
        return [Problem("input_mhz", sentence, "error")]
    if band is None or band_of(input_mhz, profile) != band:
        sentence = (
            "Output and input are on different bands, which few radios can follow; most pairs are on one."
        )
        return [Problem("input_mhz", sentence, "warning")]
    problems = []
    offset_mhz = input_mhz - output_mhz
    if band.usual_offsets_mhz and abs(offset_mhz) not in band.usual_offsets_mhz:
        usual = " or ".join(f"{each} MHz" for each in band.usual_offsets_mhz)
        sentence = f"The offset is {offset_mhz:+.3f} MHz; on {band.name} it is usually {usual}, up or down."
        problems.append(Problem("input_mhz", sentence, "warning"))
    if band.pair_ranges and not any(
        output_mhz in pair.output and input_mhz in pair.input for pair in band.pair_ranges
    ):
        ranges = "; ".join(f"output {pair.output}, input {pair.input}" for pair in band.pair_ranges)
        sentence = f"The band plan has relays on {band.name} elsewhere: {ranges}."
        problems.append(Problem("output_mhz", sentence, "warning"))
    return problems
