"""Published and chosen numbers of the spread model, each once, with where it comes from."""

from __future__ import annotations

from broodsweep.constants import Clearance, Goods
from broodsweep.sources import Sourced


def _ours(value: float, unit: str, reason: str) -> Sourced:
    return Sourced(value=value, unit=unit, source="project choice", locator=reason, standing="project choice")


_NZ_PAGE = "New Zealand agency's page on time to visual symptoms, colonies fed spores"
_NZ_MONTHS = (
    "per cent of colonies first showing symptoms in months 1 to 6 and later: 19, 30, 11, 14, 11, 6, 9"
)

SIGNS_SHAPE_AFB = Sourced(
    value=1.5, unit="1", source=_NZ_PAGE, locator=f"gamma fitted by us to {_NZ_MONTHS}", standing="computed"
)
SIGNS_SCALE_AFB = Sourced(
    value=60.0, unit="d", source=_NZ_PAGE, locator=f"gamma fitted by us to {_NZ_MONTHS}", standing="computed"
)
SIGNS_SHAPE_EFB = _ours(1.5, "1", "no published curve was found; the shape of the other disease's")
SIGNS_SCALE_EFB = _ours(20.0, "d", "no published curve was found; signs come within weeks in spring")

REFERENCE_COLONIES = _ours(
    5.0, "colonies", "size at which the factor of colonies is 1; common apiaries hold a few"
)
SUSCEPTIBILITY_EXPONENT = _ours(0.5, "1", "more colonies rob and are robbed more, less than in proportion")
INFECTIOUSNESS_EXPONENT = _ours(0.0, "1", "one dead colony is robbed out whatever stands beside it")
WITHIN_APIARY_DAYS = _ours(
    120.0, "d", "mean days with signs until each further colony has them; a guess, see the sensitivity table"
)
HYPERGEOMETRIC_ABOVE = _ours(
    0.9, "1", "sensitivity x share opened beyond which colonies are counted without replacement"
)
FALSE_SUSPICION = _ours(0.03, "probability", "a visit to an apiary without signs suspects them all the same")
SUSPICION_OPEN_DAYS = _ours(
    42.0, "d", "a suspicion not confirmed after so long is taken as not confirmed by the laboratory"
)
MENDING_DAYS_EFB = _ours(
    120.0, "d", "signs of European foulbrood often go by themselves in a honey flow while bees stay carriers"
)
STANDSTILL_LEAVES = _ours(
    0.2, "1", "share of the keeper's and movers' contacts that goes on after a standstill or a movement stop"
)
RESIDUAL: dict[Clearance, Sourced] = {
    Clearance.DESTROYED: _ours(0.03, "probability", "an infected colony or comb was missed at the site"),
    Clearance.SHOOK_SWARM: _ours(0.12, "probability", "bees keep spores in their honey stomachs"),
    Clearance.TREATED: _ours(0.25, "probability", "medicine hides signs and leaves spores"),
}
"""Chance that an apiary is still infected after its clearance."""

NEW_APIARY = _ours(0.001, "probability", "bees bought to fill a new apiary come infected; guess")
OUTSIDE_PREVALENCE = _ours(
    0.01, "probability", "goods from outside the register come from an infected apiary; guess"
)
UNKNOWN_QUANTITY = _ours(1.0, "pieces", "a move without a quantity is one piece")
MOST_PIECES = _ours(4.0, "pieces", "more pieces of one load share one fate, so they do not add up")
GOODS_RISK: dict[Goods, Sourced] = {
    Goods.COLONIES: _ours(1.0, "1", "a whole colony carries what it has"),
    Goods.NUCLEI: _ours(1.0, "1", "bees with brood comb"),
    Goods.BROOD_COMB: _ours(1.0, "1", "comb is the main route"),
    Goods.DRAWN_COMB: _ours(0.6, "1", "spores stay in comb for decades"),
    Goods.BOXES: _ours(0.3, "1", "contaminated equipment; less than comb"),
    Goods.EXTRACTOR: _ours(0.2, "1", "shared extractors carry honey residues"),
    Goods.HONEY: _ours(0.2, "1", "feeding extracted honey is a known route, most honey is not fed"),
    Goods.QUEENS: _ours(0.05, "1", "queens from infected colonies seldom infected new ones"),
}
"""Weight of one piece against one colony."""
PIECED_GOODS = frozenset({Goods.COLONIES, Goods.NUCLEI, Goods.BROOD_COMB, Goods.DRAWN_COMB, Goods.QUEENS})
"""Goods whose pieces each may carry infection; of the others the load counts once."""

FLIGHT_BY_MONTH = (0.0, 0.0, 0.25, 1.0, 1.0, 1.0, 1.0, 1.6, 1.6, 0.5, 0.0, 0.0)
"""Contacts between apiaries by month, January first, north of the equator: project choice; flight from mid-March,
robbing in August and September."""
OPENED_BY_MONTH = (0.05, 0.05, 0.3, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.3, 0.05, 0.05)
"""How often keepers look into their hives by month, as a share of summer: project choice."""

CUT_M = _ours(10_000.0, "m", "beyond it one apiary's pressure is left to the background; see docs/spread.md")
SECOND_SCALE_M = _ours(
    5_000.0, "m", "scale of the far part of the mixed kernel: bees moved by people unrecorded"
)
KERNEL_STEP_M = _ours(8.0, "m", "step of the kernel's table; linear in between, relative error below 1e-5")
HORIZON_DAYS = _ours(
    730.0, "d", "at least two seasons before the first finding: older infections count as a start"
)
SEEDING_DAYS = _ours(
    400.0, "d", "in-season days for which an infection from before the horizon lasts, on average"
)
CONTACT_DAYS = _ours(150.0, "d", "in-season days that an infected apiary infects, for the prior's scale")
DENSITY_RADIUS_M = _ours(5_000.0, "m", "apiaries are counted so far round cases for the prior's scale")

UNREGISTERED_REPORT = _ours(0.3, "1", "reporting of unregistered apiaries against registered ones")
UNREGISTERED_COLONIES = _ours(3.0, "colonies", "size of an unregistered apiary; hobby keepers")
UNREGISTERED_CELL_M = _ours(1_000.0, "m", "side of the cells in which unregistered apiaries are looked for")
UNREGISTERED_RADIUS_M = _ours(
    6_000.0, "m", "so far round known cases cells are laid; the ring of 5 km and a margin"
)
UNREGISTERED_SHARE_A = _ours(
    2.0, "1", "Beta(2, 8) for the share of apiaries not registered, when no sweep told"
)
UNREGISTERED_SHARE_B = _ours(
    8.0, "1", "Beta(2, 8) for the share of apiaries not registered, when no sweep told"
)

WORTH_DAYS = _ours(
    90.0, "d", "horizon over which unseen infected apiary-days are counted for a visit's worth"
)
RHAT_LIMIT = Sourced(
    value=1.05,
    unit="1",
    source="Vehtari, Gelman, Simpson, Carpenter & Bürkner 2021, Bayesian Analysis 16:667",
    locator="rank-normalised split R-hat; 1.01 is recommended there, 1.05 is this project's limit for single figures",
    standing="memory",
)
MCSE_LIMIT = _ours(0.01, "probability", "Monte-Carlo error at which two decimals can be shown")
KHAT_LIMIT = Sourced(
    value=0.7,
    unit="1",
    source="Vehtari, Simpson, Gelman, Yao & Gabry 2024, Pareto smoothed importance sampling, JMLR 25(72)",
    locator="k-hat above 0.7: the weights cannot be trusted",
    standing="memory",
)
LEAST_FIGURE = _ours(1e-6, "probability", "no apiary is shown freer than one in a million")
LEAST_FREE = _ours(
    1e-3, "probability", "no apiary that was not found is shown surer infected than 999 in 1,000"
)
EFFECTIVE_SHARE_LIMIT = _ours(0.5, "share", "below it the draws are too few and a full run is needed")
