"""A wall that would be too hot in a warm room: one rule and one sentence for every page."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from candlelab.judge.words import named
from candlelab.units import Display

WARM_ROOM_C = 30.0


class Wall(NamedTuple):
    """The hottest wall of a candidate, as read and in a warm room, and the stop limit [degC]."""

    read: float
    warm: float
    limit: float


def hottest_wall(worked, candidate: str) -> Wall:
    """Of all its burns, those set aside as well, against the strictest limit of its batches."""
    burns, names = worked.burns, ["wall_max_c", "wall_max_warm_room_c"]
    read, warm = burns.loc[burns["candidate"] == candidate, names].max()
    limit = min(batch.settings.limits.wall_stop_c for batch in worked.batches)
    return Wall(read, warm, limit)


def over_in_warm_room(wall: Wall) -> bool:
    """Whether it would go over the stop limit in a warm room."""
    return not pd.isna(wall.warm) and wall.warm > wall.limit + 1e-9


def warm_room_words(wall: Wall, display: Display) -> str:
    """That it would go over the stop limit in a warm room; empty where it would not."""
    if not over_in_warm_room(wall):
        return ""
    room, warm, limit, read = (
        display.both(t, "°C") for t in (WARM_ROOM_C, wall.warm, wall.limit, wall.read)
    )
    return (
        f"Too hot for a warm room of {room}: its wall would be about {warm}, your stop limit is "
        f"{limit}. You measured {read}."
    )


def warm_room_short(wall: Wall, display: Display) -> str:
    """The same in a few words; empty where it would not."""
    if not over_in_warm_room(wall):
        return ""
    room, warm, limit = (display.both(t, "°C") for t in (WARM_ROOM_C, wall.warm, wall.limit))
    test = f"to sell there, first burn one more at {room}; over {limit}, put it out and wick down"
    return f"Too hot for a warm room (wall about {warm}): {test}"


def warm_room_step(candidate: str, wall: Wall, display: Display) -> str:
    """What to do about such a wall, and when: nothing where the candle burns in cooler rooms."""
    return (
        f"To sell {named(candidate)} for warm rooms, first burn one more candle in a room of "
        f"{display.both(WARM_ROOM_C, '°C')}. Put it out, and wick it down, only if its wall goes "
        f"over {display.both(wall.limit, '°C')} there."
    )
