"""What a label and its paperwork touch, as data: when to test again, and cautions by topic with the standard to buy.

Topics and words are our own. The text that a label must carry stands in the standards, which have to be bought; it is
not given here, not even from memory.
"""

from __future__ import annotations

import pandas as pd

# what changes, and what to do again
TRIGGERS = (
    ("lot of wax", "wax_lot", "burn a confirmation round on the new lot before it is sold: waxes vary from lot to lot"),
    ("wax or blend", "wax", "start again with a screening round"),
    (
        "fragrance",
        "fragrance",
        "start again with a screening round, one for each fragrance: the same load of another oil burns differently",
    ),
    (
        "fragrance load",
        "fragrance_load_pct",
        "burn a confirmation round; a screening round when it changes by more than a percent or so",
    ),
    ("dye", "dye", "burn a confirmation round: pigments clog wicks"),
    (
        "vessel or its supplier",
        "vessel",
        "start again with a screening round: inner diameter, wall and material decide",
    ),
    ("fill", "fill", "work out the burn time anew, and burn a confirmation round when the height of the fill changes"),
    (
        "wick size, series or its supplier",
        "wick",
        "start again with a screening round; a new lot from the same supplier takes a confirmation round",
    ),
    ("number or place of the wicks", "wick_count", "start again with a screening round"),
    ("curing or pouring", "cure", "burn a confirmation round"),
    ("a complaint or an incident", "", "stop selling that lot, keep the candle, and burn the same lot again"),
)

# topic, what the maker has to settle, where the words that count stand
CAUTIONARY_TOPICS = (
    ("being watched", "that somebody is with the candle while it burns", "ASTM F2058; EN 15494"),
    ("what is near it", "clearance from things that burn, and from other candles", "ASTM F2058; EN 15494"),
    ("children and animals", "who must not reach it", "ASTM F2058; EN 15494"),
    ("trimming the wick", "the length before each burn; this was tested as given under the conditions", "EN 15494"),
    (
        "length of a burn",
        "the longest burn; nothing longer was tested here than is given under the conditions",
        "EN 15494",
    ),
    ("draught and surface", "where it may stand", "EN 15494"),
    ("moving it, and liquid wax", "that it stays where it is while wax is liquid; no water on burning wax", "EN 15494"),
    ("the end of it", "how much wax has to be left when it is put out for good", "EN 15494"),
    ("a damaged vessel", "that it is not lit again", "ASTM F2058; EN 15494"),
    (
        "fire safety as a whole",
        "flame, ignition, stability, end of life: tested here as screening, not as certified",
        "ASTM F2417; EN 15493",
    ),
    (
        "soot",
        "how much smoke is made, on the standard's own apparatus; the soot grades here are not that",
        "EN 15426; ASTM F2326",
    ),
    (
        "what the fragrance contains",
        "hazard words and pictograms from the supplier's safety data sheet and the mixture as sold",
        "CLP (Regulation (EC) No 1272/2008) in Europe, local law elsewhere",
    ),
    (
        "mass and burn time",
        "declared mass, and how a declared burn time is tested",
        "local law on prepackages; RAL-GZ 041 where its mark is used",
    ),
)
BUY = (
    "The standards named are sold by ASTM and by the national members of CEN. What they cover is given from memory and"
    " from pages that quote them; which edition applies, and which words a label must carry, the purchased standard"
    " and the local authority decide."
)
DECLARED_TOLERANCE = 0.10  # RAL-GZ 041, read second-hand
DECLARED_SOURCE = "RAL-GZ 041, read second-hand: burn time within 10 % of what is declared"


def caution_table() -> pd.DataFrame:
    """Cautions by topic: what to settle, and the standard that holds the words."""
    return pd.DataFrame(CAUTIONARY_TOPICS, columns=["topic", "to_settle", "standard"])
