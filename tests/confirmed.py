"""Two rounds of candles written by hand: a screening and its confirmation."""

from batches import TOML, WICKS, candle, life, read, write
from kept import once_for

from candlelab.confirm.confirmation import confirm_pick

LIMITS = TOML + "[limits]\nwall_stop_c = 60\n"
CONFIRMATION = LIMITS.replace("made by hand", "again").replace(
    "time_zone", 'stage = "confirmation"\ntime_zone', 1
)
SCREENED = {"S1": 19.2, "S2": 19.35, "S3": 19.5}
OTHERS = {"T1": 18.3, "T2": 18.5, "T3": 18.65}
FRESH = {"C1": 19.25, "C2": 19.4, "C3": 19.3}


def made(
    folder,
    used,
    wick="flat braid 2",
    more=(),
    toml=LIMITS,
    month=6,
    drop=(),
    seen=None,
    burns=5,
    wicks=WICKS,
    **recipe,
):
    """A batch of candles that each use so many grams in each burn; ``more`` are (used, wick)."""
    rows = {"candles": [], "burns": [], "checks": []}
    for names, own in ((used, wick), *more):
        for n, (name, grams) in enumerate(names.items()):
            lit, looked = life(
                name,
                burns=burns,
                used=grams,
                **{"wall_c": [40, 44, 46, 46.5 + 0.3 * n]} | (seen or {}).get(name, {}),
            )
            rows["candles"].append(
                candle(name, own, **{"poured_on": f"2026-{month - 1:02d}-01"} | recipe)
            )
            rows["burns"] += [
                row
                | {
                    at: row[at].replace("2026-06", f"2026-{month:02d}")
                    for at in ("lit_at", "out_at")
                }
                for row in lit
            ]
            rows["checks"] += looked
    rows = {
        table: [{k: v for k, v in row.items() if k not in drop} for row in own]
        for table, own in rows.items()
    }
    return write(folder, **rows, toml=toml, wicks=wicks)


def judged(first, second, **asked):
    """The confirmation in the folder ``second`` held against its screening, once for the same."""
    rounds = read(first), read(second)
    key = confirm_pick, repr(sorted(asked.items()))
    return once_for(rounds, key, lambda: confirm_pick(*rounds, **asked))


def verdict(result, candidate="flat braid 2"):
    """The row of a candidate's verdict."""
    return result.verdicts.set_index("candidate").loc[candidate]
