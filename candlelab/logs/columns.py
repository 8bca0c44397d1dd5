"""The columns of a batch folder's tables, as they are logged.

A quantity's name ends in its unit (``mass_before_g``); a log may use any other unit of the same
dimension (``mass_before_oz``) and is converted on reading.

Plausible ranges are warned about and never refused. Their sources: burn rate 4.4-7.3 g/h for
single-wick pillars (Indoor Air, ultrafine particles from five candle types, abstract), widened for
containers; everything else is common practice, no source.
"""

from candlelab.logs.column import Table, choice, date, flag, number, text, time, whole

_CANDLE = text("candle", "candle", "name of the candle, the same in every table", required=True)
_BURN = whole("burn", "burn", "number of the burn of this candle: 1, 2, 3 ...", 1, 200, True)
_DUE = text("due_at", "due at", "when the plan has it; nothing is worked out from it")
_NOTE = text("note", "note", "anything worth keeping")
_SERIES = text("wick_series", "wick series", "wick series, as in wicks.csv", required=True)
_SIZE = text("wick_size", "wick size", "size within the series, as in wicks.csv", required=True)

_CANDLES = Table("candles", "a candle", ("candle",), (
    _CANDLE,
    text("vessel", "vessel", "name of the vessel, as in batch.toml", required=True),
    text("wax", "wax", "wax or blend", required=True),
    _SERIES,
    _SIZE,
    number("fill_mass_g", "fill", "mass of wax and fragrance poured", 20, 2000, required=True),
    text("fragrance", "fragrance", "fragrance, empty for none"),
    number("fragrance_load_pct", "fragrance load",
           "fragrance load, on the basis that batch.toml names", 0, 15),
    text("dye", "dye", "dye, empty for none"),
    whole("wick_count", "wicks", "number of wicks in the candle", 1, 6),
    date("poured_on", "poured on", "day on which the candle was poured"),
    text("bench_position", "bench position", "place on the bench"),
    text("wax_lot", "wax lot", "lot of the wax"),
))  # fmt: skip

_BURNS = Table("burns", "a burn", ("candle", "burn"), (
    _CANDLE,
    _BURN,
    _DUE,
    time("lit_at", "lit at", "moment the wick was lit", required=True),
    time("out_at", "out at", "moment the flame was out", required=True),
    number("mass_before_g", "mass before",
           "candle with vessel, without a lid, before lighting; the words not taken where it was "
           "not weighed", 30, 5000, True, True),
    number("mass_after_g", "mass after",
           "candle with vessel, without a lid, after cooling; the words not taken where it was "
           "not weighed", 30, 5000, True, True),
    number("room_c", "room", "room temperature at the bench", 10, 40),
    number("wick_length_mm", "wick length", "length of the trimmed wick at lighting", 2, 15),
    choice("ended_by", "ended by", "what ended the burn", ("timer", "self", "stopped")),
    number("aftersmoke_s", "aftersmoke", "time the wick smoked after the flame was out", 0, 120),
    _NOTE,
))  # fmt: skip

_CHECKS = Table("checks", "a check", ("candle", "burn", "elapsed_min"), (
    _CANDLE,
    _BURN,
    number("elapsed_min", "elapsed", "time since lighting", 0, 1500, required=True),
    _DUE,
    number("flame_height_mm", "flame height",
           "height of the flame above the wick's foot", 3, 100),
    number("wall_c", "wall temperature", "hottest place on the outside of the vessel", 15, 110),
    number("pool_diameter_mm", "pool diameter", "width of the melted wax", 0, 250),
    number("pool_depth_mm", "pool depth", "depth of the melted wax", 0, 40),
    choice("soot", "soot", "0 none, 1 a wisp, 2 repeated wisps, 3 steady black smoke",
           ("0", "1", "2", "3")),
    number("mushroom_mm", "mushroom", "width of the carbon cap on the wick", 0, 15),
    number("secondary_ignition_s", "secondary ignition",
           "time that anything but the wick burned", 0, 60),
    flag("flame_on_vessel", "flame on vessel", "the flame touched the vessel"),
    flag("vessel_damaged", "vessel damaged", "the vessel cracked or broke"),
    flag("surface_damaged", "surface damaged", "the surface under the candle was marked"),
    flag("tipped", "tipped", "the candle tipped over"),
    flag("reignited", "re-ignited", "it lit again by itself after it was put out"),
    _NOTE,
))  # fmt: skip

_WICKS = Table("wicks", "a wick size", ("wick_series", "wick_size"), (
    _SERIES,
    _SIZE,
    whole("size_rank", "size rank",
          "place of the size within its series, 1 the smallest", 1, 60, required=True),
    number("linear_density_tex", "linear density", "mass per length (ISO 1144)", 50, 20000),
    number("width_mm", "width", "width or diameter of the wick", 0.5, 40),
))  # fmt: skip

_WICK_CHANGES = Table("wick_changes", "a wick change", ("candle", "before_burn"), (
    _CANDLE,
    whole("before_burn", "before burn", "first burn on the new wick", 2, 200, required=True),
    _SERIES,
    _SIZE,
    text("reason", "reason", "why the wick was changed"),
    number("rest_days", "rest", "time the candle stood before it was lit again", 0, 60),
    _NOTE,
), required=False)  # fmt: skip

_EXCLUSIONS = Table("exclusions", "a candle or burn set aside", ("candle", "burn"), (
    _CANDLE,
    whole("burn", "burn", "the burn set aside; empty sets the whole candle aside", 1, 200),
    text("reason", "reason", "why it is set aside", required=True),
), required=False)  # fmt: skip

_ASSESSOR = text("assessor", "assessor", "who smelled, by a code and not a name", required=True)
_SESSION = text(
    "session", "session", "the sitting, by a name: what is smelled in one goes together"
)
_ORDER = whole(
    "order", "place in the session", "place in the session, 1 for what was smelled first", 1, 40
)
_BLOCKED = flag("blocked_nose", "blocked nose", "the nose was blocked; the row does not count")
_SMELLED = whole(
    "burn",
    "burn",
    "the burn in which it was smelled; empty for cold throw before the first",
    1,
    200,
)
_LIT = flag("lit", "lit", "yes for hot throw, no for cold throw")

_THROW = Table(
    "throw", "a panel score",
    ("candle", "burn", "assessor", "place", "lit", "session", "order", "code"), (
    text("candle", "candle", "name of the candle; empty where its code stands for it"),
    text("code", "code", "code that hides the candle, as in codes.csv"),
    _SMELLED,
    _ASSESSOR,
    number("score", "score", "scent strength on the panel's scale, as a number or one of its words",
           0, 1000),
    number("rank", "rank", "place by strength within the session, 1 the strongest", 1, 40),
    _SESSION,
    _ORDER,
    number("since_lit_min", "lit for", "time since lighting", 0, 1500),
    text("place", "place", "room or seat"),
    number("distance_m", "distance", "distance from the candle", 0, 20),
    _LIT,
    date("smelled_on", "smelled on", "day on which it was smelled"),
    _BLOCKED,
    _NOTE,
), required=False)  # fmt: skip

_PAIRS = Table(
    "pairs", "two candles smelled side by side",
    ("assessor", "first", "second", "session", "order", "burn", "lit"), (
    _ASSESSOR,
    text("first", "first", "what was smelled first, by candle or code", required=True),
    text("second", "second", "what was smelled second, by candle or code", required=True),
    text("stronger", "stronger", "which of the two was stronger, by candle or code", required=True),
    _SESSION,
    _ORDER,
    _SMELLED,
    _LIT,
    _BLOCKED,
    _NOTE,
), required=False)  # fmt: skip

_CODES = Table("codes", "a code that hides a candle", ("code",), (
    text("code", "code", "what the panel reads, such as three digits", required=True),
    _CANDLE,
), required=False)  # fmt: skip

TABLES = {
    table.name: table
    for table in (
        _CANDLES, _BURNS, _CHECKS, _WICKS, _WICK_CHANGES, _EXCLUSIONS, _THROW, _PAIRS, _CODES,
    )
}  # fmt: skip

# What a plan can write before anything is burned. A row that holds nothing else is still due.
PLANNED = {
    "burns": ("candle", "burn", "due_at"),
    "checks": ("candle", "burn", "elapsed_min", "due_at"),
    "throw": ("code", "burn", "assessor", "session", "order", "lit"),
    "pairs": ("assessor", "first", "second", "session", "order", "burn", "lit"),
}

# What a column of a log means where no table is named.
LOGGED = {c.name: c for table in reversed(TABLES.values()) for c in table.columns}

# What the rules look at first: worked out from the weights and the clock of a burn.
BURN_RATE = number(
    "burn_rate_g_per_h",
    "burn rate",
    "wax used per hour; over several burns, total wax by total time",
    low=1.5,
    high=15,
)

# Quantities that batch.toml may name a target for: worked out from the log, by the name they have
# in every result.
TARGETS = {c.name: c for c in (
    BURN_RATE,
    number("wall_max_c", "highest wall temperature", "highest wall reading, as read"),
    number("flame_max_mm", "tallest flame", "tallest flame of all checks"),
    number("pool_depth_max_mm", "deepest pool", "deepest melt pool of all checks"),
    number("full_pool_h", "time to full pool",
           "interpolated between the two checks around it; over several burns, their median"),
    whole("burns_to_full_pool", "burns to first full pool",
          "which of the burns was the first with a full pool; empty when none"),
    number("mushroom_max_mm", "largest mushroom", "widest carbon cap of all checks"),
    whole("soot_max", "worst soot", "highest soot grade of all checks"),
    number("life_h", "life", "sum of all burn times of a candle burned to the end"),
    number("wax_left_pct", "wax left", "wax left as a share of the fill"),
    number("fragrance_release_g_per_h", "fragrance release",
           "burn rate times the load: an upper bound"),
    number("heat_release_w", "heat release", "burn rate times the heat of combustion"),
    number("scent", "scent", "mean score of the candle while it burned, levels of noses taken off"),
)}  # fmt: skip
