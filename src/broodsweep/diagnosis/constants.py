"""Every number of this room, once, with its source; the matrix of signs stands in ``data/signs.toml``."""

from __future__ import annotations

from enum import StrEnum

from broodsweep.constants import Disease
from broodsweep.sources import Sourced, Standing


def choice(
    value: float, reason: str, low: float | None = None, high: float | None = None, unit: str = "1"
) -> Sourced:
    """Return a number that the project chose, with the reason."""
    return Sourced(
        value=value,
        unit=unit,
        source="project choice",
        locator=reason,
        standing="project choice",
        low=low,
        high=high,
    )


def _read(
    value: float,
    source: str,
    locator: str,
    low: float | None = None,
    high: float | None = None,
    *,
    standing: Standing = "read",
    unit: str = "1",
) -> Sourced:
    return Sourced(
        value=value, unit=unit, source=source, locator=locator, standing=standing, low=low, high=high
    )


class Frequency(StrEnum):
    """A handbook's word for how often a sign is seen in a condition."""

    ALWAYS = "A"
    USUALLY = "U"
    SOMETIMES = "S"
    RARELY = "R"
    NEVER = "N"
    EXCLUDED = "X"


_WORD = "no published likelihood table was found; a handbook's word is read as this share of cases"
FREQUENCIES: dict[Frequency, Sourced] = {
    Frequency.ALWAYS: choice(0.95, _WORD, 0.85, 0.99),
    Frequency.USUALLY: choice(0.75, _WORD, 0.55, 0.90),
    Frequency.SOMETIMES: choice(0.35, _WORD, 0.18, 0.55),
    Frequency.RARELY: choice(0.07, _WORD, 0.02, 0.15),
    Frequency.NEVER: choice(0.01, "never 0 or 1: a handbook's never has been seen by somebody", 0.002, 0.03),
    Frequency.EXCLUDED: choice(0.001, "no way to arise but by misreading", 0.0003, 0.004),
}
"""The one place where words become numbers."""


def frequency(word: Frequency) -> Sourced:
    """Return the share of cases that a handbook's word stands for."""
    return FREQUENCIES[word]


# How the model is built.
MOST_CONDITIONS_TOGETHER = choice(
    3, "two together are described (chalkbrood over foulbrood), three cover the odd comb", unit="conditions"
)
INTERVAL_Z = 1.6448536269514722
"""Normal quantile of a 90 % interval: low and high of every number are read as 5 % and 95 %."""
SHARE_OF_WORD_IN_VARIANCE = choice(
    0.5, "half of the error of a worded number is the reading of the word itself"
)
DRAWS = choice(64, "the 90 % interval of 64 mirrored draws is steady to about 0.01", unit="draws")
SEED = choice(20261125, "any fixed number: the same evidence must give the same answer", unit="seed")
MISREAD_BY_UNTRAINED = choice(
    0.08, "share of signs that an untrained keeper reports wrongly, either way", 0.03, 0.15
)

# Reading a rope.
ROPE_POSITIVE_MM = _read(
    20, "Milbrath, American foulbrood part 2", "rope over 2 cm: no other disease", unit="mm"
)
ROPE_LONG_MM = _read(
    25, "trade page on ropiness", "2.5 cm; nothing but American foulbrood does this", unit="mm"
)
ROPE_DOUBTFUL_MM = choice(10, "published lengths begin at 1.3 cm; 1 to 2 cm is doubtful", unit="mm")
ROPE_LONGEST_MM = choice(300, "a longer rope is a slip of the pen", unit="mm")

# Reading a lateral-flow device.
READ_AFTER_MIN = _read(3, "US extension page on foulbrood kits", "lateral flow: about 3 min", unit="min")
READ_NOT_BEFORE_MIN = choice(2, "the control line needs time; the page says about 3 min", unit="min")
READ_NOT_AFTER_MIN = choice(
    10, "lines drawn by drying appear later; use the maker's figure if it is shorter", unit="min"
)
SHAKE_S = _read(20, "US extension page on foulbrood kits", "shake hard 20 s", unit="s")
DROPS = _read(2, "US extension page on foulbrood kits", "2 drops in the well", unit="drops")
HOLST_WAIT_S = Sourced(
    value=1200,
    unit="s",
    source="keeper's page on the Holst test (Holst 1946)",
    locator="clears in 10 to 20 min",
)
STAND_S = Sourced(
    value=90, unit="s", source="Reuter & Spivak, Minnesota poster 155", locator="stand 1 to 2 min"
)
KIT_WARN_DAYS = choice(60, "time to reorder and to use the old lot first", unit="days")
TRUST_READ_EARLY = choice(0.5, "a result read early is worth about half")
TRUST_READ_LATE = choice(0.6, "faint late lines are common")
TRUST_TIME_UNKNOWN = choice(0.95, "most readers keep to the time")
TRUST_EXPIRED = choice(0.5, "no shelf-life study found; kept, not evidential")
TRUST_UNKNOWN_LOT = choice(0.8, "the lot may be out of date")

# Published performance of tests.
EFB_LATERAL_FLOW_SENSITIVITY = _read(
    0.96,
    "Tomkies et al. 2009, Apidologie 40",
    "field, England and Wales, n = 184, 96 % correct; low end: the US field study",
    0.8947,
    0.985,
)
EFB_LATERAL_FLOW_FALSE_POSITIVE = _read(
    0.01, "Tomkies et al. 2009, Apidologie 40", "field, about 1 %", 0.002, 0.03
)
EFB_LATERAL_FLOW_US_SENSITIVITY = _read(
    0.8947,
    "Validation of diagnostic methods for EFB 2021, J. Insect Sci. 21(6):6",
    "larvae of 78 colonies; 68/76 fits",
    0.8227,
    0.9397,
)
EFB_MICROSCOPY_SENSITIVITY = _read(
    0.974,
    "Validation of diagnostic methods for EFB 2021, J. Insect Sci. 21(6):6",
    "microscopy; 75/77 fits",
    0.9245,
    0.9914,
)
EFB_BEES_PCR_SENSITIVITY = _read(
    0.935,
    "Real-time PCR as a decision aid in the control of EFB (Swiss)",
    "bees of the brood nest, 88 apiaries",
    0.87,
    0.97,
)
EFB_BEES_PCR_SPECIFICITY = _read(
    0.586,
    "Real-time PCR as a decision aid in the control of EFB (Swiss)",
    "against visual inspection, 88 apiaries",
    0.48,
    0.69,
)
EFB_HONEY_PCR_SENSITIVITY = _read(
    0.867, "EFB in hive debris, PCR, 2021, PMC7916248", "honey, 23 sick and 21 healthy colonies", 0.72, 0.95
)
EFB_HONEY_PCR_SPECIFICITY = _read(0.842, "EFB in hive debris, PCR, 2021, PMC7916248", "honey", 0.67, 0.93)
EFB_DEBRIS_PCR_SENSITIVITY = _read(
    0.714, "EFB in hive debris, PCR, 2021, PMC7916248", "hive debris", 0.53, 0.85
)
EFB_DEBRIS_PCR_SPECIFICITY = _read(
    0.8, "EFB in hive debris, PCR, 2021, PMC7916248", "hive debris", 0.62, 0.91
)
EFB_ADULT_PCR_SPECIFICITY = _read(
    0.833, "EFB in hive debris, PCR, 2021, PMC7916248", "adult bees; sensitivity 1.000 there", 0.66, 0.93
)
AFB_ISOTHERMAL_SENSITIVITY = _read(
    0.9841, "Whitby 2023, AgriFutures, isothermal DNA test", "field, Australia; 62/63 fits", 0.9319, 0.9965
)
AFB_ISOTHERMAL_SPECIFICITY = _read(
    1.0, "Whitby 2023, AgriFutures, isothermal DNA test", "field, Australia, no false positive", 0.97, 1.0
)
EFB_CARRIAGE_NEAR_CASES = _read(
    0.30,
    "Belloy et al. 2007, Apidologie 38:136",
    "colonies without signs in apiaries near sick ones, PCR of bees",
)
AFB_HONEY_CARRIAGE = _read(
    0.1099, "de Graaf et al. 2001, Apidologie 32:587", "146 of 1,328 honey samples", 0.0966, 0.1249
)
AFB_BEES_HALF_CLINICAL_LOG10 = _read(
    4.5,
    "Papić et al. 2024, qPCR of debris and bees",
    "log10 cells a bee at 50 % clinical",
    unit="log10 cells a bee",
)
AFB_DEBRIS_HALF_CLINICAL_LOG10 = _read(
    7.3,
    "Papić et al. 2024, qPCR of debris and bees",
    "log10 cells a ml at 50 % clinical",
    unit="log10 cells a ml",
)
MITES_TREAT_PER_100 = _read(
    3,
    "USDA-ARS Tucson threshold (association reprint)",
    ">= 3 mites per 100 bees: treat",
    unit="mites per 100 bees",
)
MITES_FEWEST_BEES = _read(200, "Reuter & Spivak, poster 155", "200 to 400 bees in the roll", unit="bees")

# No figure was found: the project's choice, to be replaced when an inspectorate publishes one.
_NO_FIGURE = "no published figure found"
AFB_LATERAL_FLOW_SENSITIVITY = choice(0.93, "called high in 2026 without a figure seen", 0.80, 0.98)
AFB_LATERAL_FLOW_FALSE_POSITIVE = choice(
    0.01, "called high specificity in 2026 without a figure seen", 0.002, 0.04
)
AFB_MICROSCOPY_SENSITIVITY = choice(0.90, _NO_FIGURE, 0.75, 0.97)
MICROSCOPY_FALSE_POSITIVE = choice(0.02, _NO_FIGURE, 0.005, 0.06)
AFB_CULTURE_SENSITIVITY = choice(0.95, _NO_FIGURE, 0.85, 0.99)
EFB_CULTURE_SENSITIVITY = choice(0.80, _NO_FIGURE + "; the organism is hard to grow", 0.60, 0.92)
CULTURE_FALSE_POSITIVE = choice(0.006, _NO_FIGURE, 0.002, 0.02)
BROOD_PCR_SENSITIVITY = choice(0.98, _NO_FIGURE, 0.93, 0.995)
BROOD_PCR_FALSE_POSITIVE = choice(0.008, _NO_FIGURE, 0.003, 0.03)
NEVER_QUITE_FALSE_POSITIVE = choice(
    0.005, "none found in the field study, but no test is perfect", 0.002, 0.02
)
HOLST_SENSITIVITY = choice(0.80, _NO_FIGURE + "; not fully reliable", 0.60, 0.92)
HOLST_FALSE_POSITIVE = choice(0.05, _NO_FIGURE, 0.02, 0.12)
UV_SENSITIVITY = choice(0.80, _NO_FIGURE, 0.55, 0.93)
UV_FALSE_POSITIVE = choice(0.12, "other residues also glow", 0.05, 0.25)
AFB_BEES_SENSITIVITY = choice(0.90, _NO_FIGURE, 0.75, 0.97)
AFB_BEES_FALSE_POSITIVE = choice(0.10, "spores without signs are common near cases", 0.03, 0.25)
AFB_HONEY_SENSITIVITY = choice(0.88, "brood-comb honey and bees equally good", 0.72, 0.96)
AFB_DEBRIS_SENSITIVITY = choice(0.75, "debris only if bees and honey cannot be had", 0.55, 0.88)
AFB_DEBRIS_FALSE_POSITIVE = choice(0.12, _NO_FIGURE, 0.04, 0.25)
MITE_ROLL_SENSITIVITY = choice(0.90, "mites fall in the colonies that collapse from them", 0.75, 0.97)
MITE_ROLL_FALSE_POSITIVE = choice(
    0.20, "a count above the treatment mark without brood damage is common", 0.08, 0.40
)
HIGH_LOAD_WHEN_SICK = choice(0.80, "sick colonies mostly stand above the half-clinical load", 0.60, 0.92)
HIGH_LOAD_WHEN_CARRIER = choice(0.15, "carriers mostly stand below it", 0.05, 0.30)
SHARE_OF_FALSE_POSITIVES_IN_SAMPLE = choice(
    0.5, "half of the false positives lie in the larva, half in the device"
)

# What is known besides the comb.
NEAR_M = _read(
    1000,
    "Lindström, Korpela & Fries 2008, Apidologie 39:515",
    "transmission within 1 km, lower from 2 km",
    unit="m",
)
NEIGHBOURHOOD_M = Sourced(
    value=3000, unit="m", source="common practice", locator="the usual ring", standing="common practice"
)
NEAR_ODDS = choice(8, "robbing range of a known case", 3, 20, unit="odds ratio")
NEIGHBOURHOOD_ODDS = _read(
    3.04,
    "de Graaf et al. 2001, Apidologie 32:587",
    "near a case of the year before; interval ours",
    1.5,
    6,
    unit="odds ratio",
)
BOUGHT_ODDS = choice(3, "bees, comb or used boxes of unknown health within a year", 1.5, 6, unit="odds ratio")
FED_ODDS = choice(3, "honey or pollen of other bees fed", 1.5, 6, unit="odds ratio")
SICK_SHARE = {
    disease: _read(
        value,
        "South-East England regional season 2005: 814 apiaries, 4,954 colonies inspected",
        f"{counts} (sick colonies an apiary) over 6.09 colonies an apiary; interval ours",
        low,
        high,
        standing="computed",
    )
    for disease, value, low, high, counts in (
        (Disease.AFB, 0.25, 0.1, 0.6, "American foulbrood 3 colonies in 2 apiaries"),
        (Disease.EFB, 0.44, 0.2, 0.75, "European foulbrood 135 colonies in 50 apiaries"),
    )
}
"""Share of the colonies of an infected apiary that are sick: from an apiary's chance to a colony's."""

# What may be claimed on which evidence; the rulebook sets these where the law does.
SUSPECT_PROBABILITY = choice(0.10, "suspicion is notifiable; one in ten is suspicion")
EXOTIC_PROBABILITY = choice(0.05, "a pest that the country does not have: report sooner")
CONFIRM_PROBABILITY = choice(0.95, "with evidence of the kind the rulebook asks for")
DECISION_SETTLED = choice(
    0.05, "a look that changes the decision in fewer than 1 of 20 cases is not waited for"
)

# What one's time is worth when looks are put in order.
MINUTES_PER_COST = choice(10, "one kit is worth about ten minutes", unit="min a kit")
MINUTES_PER_WAITING_DAY = choice(15, "a day of standstill on suspicion has a price", unit="min a day")
