"""Numbers of the documented sweep rule, each with where it comes from."""

from __future__ import annotations

from broodsweep.constants import Goods
from broodsweep.sources import Sourced

DISTANCE_SCALE = Sourced(
    value=1200.0,
    unit="m",
    source="project choice, after Lindström, Korpela & Fries 2008, Apidologie 39:515",
    locator="abstract: transmission between apiaries within 1 km, significantly lower at 2 km and more; "
    "an exponential fall with this scale gives 0.43 at 1 km and 0.19 at 2 km",
    standing="project choice",
)

SAME_KEEPER_WEIGHT = Sourced(
    value=0.4,
    unit="1",
    source="project choice, after Datta, Bull, Budge & Keeling 2013, J R Soc Interface 10:20130650",
    locator="abstract: both distance and the owner's network contribute; the size is ours",
    standing="project choice",
)

USUAL_COLONIES = Sourced(
    value=5.0,
    unit="colonies",
    source="project choice",
    locator="apiary size at which the size factor is 1; an English region's 2005 season had 6.1 colonies an apiary",
    standing="project choice",
)

CLEAN_VISIT_WEIGHT = Sourced(
    value=0.8,
    unit="1",
    source="project choice",
    locator="share of the score that a clean visit today of every colony takes away; no published sensitivity of a "
    "visual inspection was found, prior range 0.6-0.95",
    standing="project choice",
)

CLEAN_VISIT_DAYS = Sourced(
    value=87.0,
    unit="d",
    source="New Zealand agency's page on time to visual symptoms; mean of a gamma fitted to its monthly shares",
    locator="months 1-6 and later: 19, 30, 11, 14, 11, 6, 9 per cent of colonies fed spores",
    standing="computed",
)

PRIOR_INFECTED = Sourced(
    value=0.5,
    unit="1",
    source="project choice",
    locator="chance, before any visit, that an area with a found case hides another: even odds, as in the usual "
    "worked examples of probability of freedom",
    standing="project choice",
)

GOODS_WEIGHT: dict[Goods, Sourced] = {
    goods: Sourced(
        value=value,
        unit="1",
        source="project choice",
        locator=reason,
        standing="project choice",
    )
    for goods, value, reason in (
        (Goods.COLONIES, 1.0, "a whole colony carries what it has"),
        (Goods.NUCLEI, 1.0, "bees with brood comb"),
        (Goods.BROOD_COMB, 1.0, "comb is the main route; 3-5 sick larvae in a moved frame can infect"),
        (Goods.DRAWN_COMB, 0.6, "spores stay in comb for decades"),
        (Goods.BOXES, 0.4, "contaminated equipment; less than comb"),
        (Goods.EXTRACTOR, 0.3, "shared extractors carry honey residues"),
        (Goods.HONEY, 0.3, "feeding extracted honey is a known route"),
        (Goods.QUEENS, 0.05, "positive queens did not infect new colonies (New Zealand agency's guidance)"),
    )
}
