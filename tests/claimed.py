"""Candles of one wick that last so many hours, in one round or in two."""

from batches import TOML, batch, burn, candle, checks, life
from kept import once_for

from candlelab.claim.claims import claim_label

WICKS = [
    {
        "wick_series": "flat braid",
        "wick_size": size,
        "size_rank": rank,
        "linear_density_tex": tex,
        "width_mm": width,
    }
    for rank, (size, tex, width) in enumerate(
        (("1", 300, 1.6), ("2", 400, 2.0), ("3", 520, 2.2)), start=1
    )
]
CONFIRMED = 'stage = "confirmation"\n' + TOML


def made(
    folder, hours, *, toml=CONFIRMED, unfinished=(), stopped=(), month=6, name="C", rate=5.0, **seen
):
    """Candles of one wick, each burned to its end in burns of 4 h and a last one, so that it lasts
    ``hours``, at ``rate`` and up to 2 % more [g/h]; more are put by after 20 h, or put out for
    good.
    """
    candles, burns, looked = [], [], []
    for n, whole in enumerate(hours):
        own, last, each = f"{name}{n}", whole % 4.0 or 4.0, rate + 0.05 * (n % 3)
        count = round((whole - last) / 4.0)
        candles.append(candle(own, fill=round(each * whole + 2.0, 6)))
        for number in range(1, count + 1):
            burns.append(burn(own, number, 4.0 * each))
            looked += checks(own, number, **seen)
        burns.append(burn(own, count + 1, each * last, h=last, ended_by="self"))
        at = [60 * hour for hour in range(1, int(last) + 1)] or [int(last * 60) - 1]
        looked += checks(own, count + 1, at, **seen)
    for own in (*unfinished, *stopped):
        candles.append(candle(own, fill=150.0))
        rows, more = life(own, 5, 20.0, **seen)
        end = "stopped" if own in stopped else "timer"
        burns += [row | {"ended_by": end if row["burn"] == 5 else "timer"} for row in rows]
        looked += more
    days = {f"2026-06-{day:02d}": f"2026-{month:02d}-{day:02d}" for day in range(1, 31)}
    for row in burns:
        for at in ("lit_at", "out_at"):
            row[at] = days[row[at][:10]] + row[at][10:]
    return batch(folder, candles, burns, looked, toml=toml, wicks=WICKS)


def claimed(batches, candidate, **asked):
    """`claim_label`, once for the same batches: nobody changes what was claimed."""
    key = (claim_label, candidate, *sorted(asked.items()))
    return once_for(batches, key, lambda: claim_label(batches, candidate, **asked))
