"""Texts that pages, plans and log sheets show: cautions, method, how to read it."""

# One line for the top of every page.
CAUTION = (
    "Never leave a test burn alone. Read the cautions in the appendix before you light a candle."
)

# What stands beside the flame: short, one thing each.
CAUTIONS_LIT = (
    "Stay with every flame. Keep children, pets, sleeves and loose hair away.",
    "Burn on a level, heat-proof surface, 30 cm (12 in) clear of curtains, shelves, walls and "
    "edges, and at least 150 mm (6 in) from the next candle. Do not reach over a lit candle.",
    "Put a candle out with a metal lid or snuffer. Do not blow, and never use water.",
    "Burning wax: cover it, with a metal lid or a fire blanket, or use a dry powder extinguisher. "
    "Never water, no water or foam extinguisher. Call the fire service if it does not go out at "
    "once.",
    "Put out at once, and do not light again: flame over the limit, anything but the wick burning, "
    "a crack, tipping, steady black smoke, wall over the stop limit.",
    "Let wax set before you move a candle.",
    "Air the room after the burn, not during it. Have a working smoke alarm.",
    "The last burn runs hottest: check more often, and stop when little wax is left.",
)

# What stands where candles are poured and wicks are changed.
CAUTIONS_POUR = (
    "Melt wax in a water bath or a wax melter, with a thermometer, never over a naked flame. Stay "
    "with it. Wear gloves and eye protection.",
    "Change a wick only when the candle is cold. It is a part-used candle from then on: it can "
    "show "
    "a failure, never a pass.",
)

CAUTIONS = (
    *CAUTIONS_LIT,
    *CAUTIONS_POUR,
    "A fragrance's flash point is a handling figure and does not show that a candle is safe. Its "
    "maximum under IFRA category 12 concerns skin, not burning. Labels follow local law (CLP in "
    "Europe) and the supplier's safety data sheets.",
    "These numbers are screening evidence. A certificate takes the purchased standard and an "
    "accredited laboratory, and local codes and authorities decide.",
)

METHOD = (
    (
        "The candle is the unit: ten burns of one candle are not ten candles. Means of a candidate "
        "are means over its candles."
    ),
    (
        "Burn rate is the wax used in a burn divided by the burn time; over several burns it is "
        "all the wax divided by all the time. Its standard uncertainty follows the GUM (JCGM "
        "100:2008) from the resolution and repeatability of scale and clock."
    ),
    (
        "Heat release is the burn rate times the heat of combustion in batch.toml (43.8 kJ/g, "
        "paraffin, where it names none)."
    ),
    (
        "Fragrance release is the burn rate times the share of fragrance in the fill: an upper "
        "bound, as if oil left in proportion to wax."
    ),
    (
        "A pool is full when it comes within a margin of the wall on both sides. It became full "
        "between two checks; times are interpolated between them, and a pool never seen full has "
        "no time."
    ),
    (
        "Wall temperatures are shown as read, and worked out for a 30 °C (86 °F) room by adding "
        "what the room lacked: an engineering approximation."
    ),
    "Rate drift is the straight line of burn rate on the share of fill used, within one wick run.",
    (
        "A criterion is passed only when everything that it needs was seen at every check. Limits "
        "of standards are quoted second-hand; the studio's own limits stand on lines of their own "
        "and are never a failure of a standard."
    ),
    (
        "After a wick change the burns belong to the new wick. A part-used candle can show that a "
        "wick fails; it never counts as a pass."
    ),
    "Burns set aside do not count in rates and maxima. They are judged for safety all the same.",
    (
        "Burn rates of candidates are compared with the candle as the unit; a difference whose "
        "interval reaches zero may be luck, which is not the same as no difference."
    ),
)

HOW_TO_READ = (
    (
        "An estimate is what the candles burned here say about all candles made alike. Its "
        "interval holds the true value in 95 of 100 such studies; a wide one means few candles or "
        "uneven ones."
    ),
    (
        "A difference whose interval does not reach zero is more than luck. One that reaches zero "
        "is not shown: that is not the same as no difference, and the interval says how large it "
        "may still be."
    ),
    (
        "p is the chance of so large a difference when there is none; the one that allows for all "
        "looked at is the one to read, because who looks at twenty pairs finds something by chance."
    ),
)

# Names of methods that the texts of a comparison use, each as a candle maker may read it.
TERMS = {
    "REML": "a way to tell the variation between candles from that between burns of one candle",
    "Kenward and Roger": (
        "a correction that keeps a few candles with many burns from looking like many candles"
    ),
    "Welch": "each candidate's own variation is used, not one that is common to all",
    "Tukey-Kramer": (
        "makes intervals and p wide enough for looking at all pairs: all of them together are "
        "right in 95 of 100 studies"
    ),
    "Games-Howell": "allows for looking at all pairs where each candidate has a variation of "
    "its own",
    "Bonferroni": (
        "allows for looking at several things by sharing out the chance of an error among them"
    ),
    "Cochran's test": "asks whether candles of one candidate vary more than those of the others",
    "Clopper-Pearson": "an interval of a share that is never too short, however few the candles",
    "Wilson": "an interval of a share that is right on average, and shorter",
    "Newcombe": "an interval of the difference between two shares, made of the intervals of both",
    "Boschloo": "asks whether two shares differ; exact for few candles",
    "Turnbull": (
        "a curve of how many candles have got there by when, from times known only to lie between "
        "two checks"
    ),
    "Kaplan and Meier": (
        "a curve of how many candles have got there by when, from exact times and candles that "
        "never got there"
    ),
    "log-rank test": (
        "asks whether it comes earlier in one candidate than in another, over the whole time"
    ),
    "median": "half of the candles come before it and half after",
    "resampled": (
        "drawn again from the candles burned, some twice and some not at all, as if the test were "
        "repeated"
    ),
    "variation": "how far candles, or burns, typically lie from their mean",
}

BEST = (
    "The probability of being the best is a share of 20,000 repeats, each with resampled candles. "
    "In each of them every mean is moved toward the mean of all candidates, as far as luck could "
    "have set them apart, because the best of several is partly the luckiest. In simulated "
    "batches, of those called 75 % 66 to 85 were truly the best, of those called 85 % 75 to 94: "
    "fewer where wicks are nearly alike, more where they lie far apart. So few candles cannot tell "
    "which of the two it is."
)
