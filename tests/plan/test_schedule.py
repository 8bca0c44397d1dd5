"""The timetable by hand, and the calendar file read back by a library that did not write it."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from candlelab.logs.settings import Protocol
from candlelab.plan import schedule
from candlelab.plan.settings import Timetable

PROTOCOL = Protocol()


def sessions(
    groups, burns, first_day=date(2026, 9, 21), zone="Europe/Lisbon", protocol=PROTOCOL, **timetable
):
    return schedule.burn_sessions(groups, burns, first_day, zone, protocol, Timetable(**timetable))


# 60 min less a quarter are 45 min: at 4 min a check 11 candles, at 3 min 15, at 50 min none.
@pytest.mark.parametrize(
    ("minutes", "people", "spare", "most"),
    [(4, 1, 25, 11), (3, 1, 25, 15), (3, 2, 25, 30), (50, 1, 25, 0), (6, 1, 0, 10)],
)
def test_how_many_one_person_can_watch(minutes, people, spare, most):
    assert (
        schedule.watchable(
            PROTOCOL, Timetable(people=people, minutes_per_check=minutes, spare_pct=spare)
        )
        == most
    )


def test_every_check_has_its_own_time():
    """All checks of one round are over before the next round begins, at
    the largest number that may be watched."""
    for minutes in (1, 2.5, 3, 4, 7, 20):
        timetable = Timetable(minutes_per_check=minutes)
        n = schedule.watchable(PROTOCOL, timetable)
        last = (n - 1) * schedule.stagger_min(timetable)
        assert last + minutes <= PROTOCOL.check_every_min


def test_life_and_burns_by_hand():
    assert schedule.planned_life(200, 5) == 40
    assert schedule.planned_burns(40, 4, 0) == 10
    assert schedule.planned_burns(40, 4, 10) == 11
    assert schedule.planned_burns(1, 4, 0) == 1


@pytest.mark.parametrize(
    ("burn_h", "every", "expected"),
    [(4, 60, [60, 120, 180, 240]), (4, 90, [90, 180, 240]), (2.1, 60, [60, 120]), (0.5, 60, [30])],
)
def test_when_a_candle_is_checked(burn_h, every, expected):
    assert schedule.check_minutes(Protocol(burn_h=burn_h, check_every_min=every)) == expected


def test_two_groups_share_the_day_and_rest():
    table = sessions({1: 8, 2: 8}, {1: 2, 2: 2}, lit_at=("09:00", "14:30"), minutes_per_check=4)
    assert [
        (s.day_group, s.burn, f"{s.lit_from:%d %H:%M}", f"{s.over_at:%H:%M}")
        for s in table.itertuples()
    ] == [
        (1, 1, "21 09:00", "13:32"),
        (2, 1, "21 14:30", "19:02"),
        (1, 2, "22 09:00", "13:32"),
        (2, 2, "22 14:30", "19:02"),
    ]


def test_one_session_at_a_time_even_when_slots_are_too_close():
    table = sessions(
        {1: 8, 2: 8}, {1: 1, 2: 1}, lit_at=("09:00", "10:00", "13:31", "13:32"), minutes_per_check=4
    )
    assert [f"{t:%d %H:%M}" for t in table["lit_from"]] == ["21 09:00", "21 13:32"]


def test_days_off_stay_free_and_one_group_alone_waits_for_its_rest():
    table = sessions(
        {1: 4},
        {1: 6},
        lit_at=("08:00", "15:00", "20:00"),
        burn_days=("Mon", "Fri"),
        protocol=Protocol(burn_h=2.0),
    )
    assert [f"{t:%a %H:%M}" for t in table["lit_from"]] == [
        "Mon 08:00",
        "Mon 15:00",
        "Fri 08:00",
        "Fri 15:00",
        "Mon 08:00",
        "Mon 15:00",
    ]


@pytest.mark.parametrize("rest", [3.0, 8.0, 20.0, 30.0])
@pytest.mark.parametrize(
    "zone", ["UTC", "Europe/Lisbon", "America/New_York", "Australia/Lord_Howe"]
)
def test_rest_is_kept_over_a_change_of_the_clocks(rest, zone):
    """October 2026 has a change of the clocks in all of these zones but UTC."""
    protocol = Protocol(rest_h=rest)
    table = sessions(
        {1: 5, 2: 5, 3: 4},
        {1: 9, 2: 9, 3: 9},
        date(2026, 9, 28),
        zone,
        protocol,
        lit_at=("06:00", "11:00", "16:00"),
    )
    assert list(table.groupby("day_group")["burn"].max()) == [9, 9, 9]
    utc = table.assign(
        lit_from=table["lit_from"].dt.tz_convert("UTC"),
        over_at=table["over_at"].dt.tz_convert("UTC"),
    )
    for _, own in utc.groupby("day_group"):
        gaps = own["lit_from"].diff().dropna() - pd.Timedelta(hours=4)
        assert (gaps >= pd.Timedelta(hours=rest, minutes=15)).all()
    assert (
        utc["lit_from"].iloc[1:].to_numpy() >= utc["over_at"].iloc[:-1].to_numpy()
    ).all()  # one session at a time


def test_no_session_over_a_change_of_the_clocks():
    table = sessions(
        {1: 2}, {1: 3}, date(2026, 10, 24), lit_at=("00:30",), burn_days=tuple(schedule.WEEK)
    )
    assert [f"{t:%d %H:%M}" for t in table["lit_from"]] == [
        "24 00:30",
        "26 00:30",
        "27 00:30",
    ]  # clocks go back on the 25th


TITLE = "Tumbler; autumn, with ü and a title that is far too long for one line of a calendar file"


def calendar(title=TITLE, zone="Europe/Lisbon"):
    timetable = Timetable(lit_at=("09:00", "14:30"), minutes_per_check=4)
    table = schedule.burn_sessions(
        {1: 8, 2: 8}, {1: 3, 2: 2}, date(2026, 10, 23), zone, PROTOCOL, timetable
    )
    rounds = schedule.check_rounds(table, PROTOCOL, timetable)
    names = {1: ", ".join(f"C{n:02d}" for n in range(1, 9)), 2: "C09; C10"}
    return (
        table,
        rounds,
        schedule.calendar(title, date(2026, 10, 1), date(2026, 10, 15), table, rounds, names),
    )


def test_calendar_is_read_back_by_another_library():
    vobject = pytest.importorskip("vobject")
    table, rounds, data = calendar()
    book = vobject.readOne(data.decode("utf-8"))
    events = book.vevent_list
    assert len(events) == 2 + 5 + 5 * 4 == 2 + len(table) + len(rounds)
    days = [
        e
        for e in events
        if isinstance(e.dtstart.value, date) and not isinstance(e.dtstart.value, datetime)
    ]
    assert [(e.dtstart.value, e.dtend.value) for e in days] == [
        (date(2026, 10, 1), date(2026, 10, 2)),
        (date(2026, 10, 15), date(2026, 10, 16)),
    ]
    timed = [e for e in events if e not in days]
    burns = [e for e in timed if e.summary.value.startswith("Burn")]
    assert [(e.dtstart.value.astimezone(UTC), e.dtend.value.astimezone(UTC)) for e in burns] == [
        (s.lit_from.to_pydatetime().astimezone(UTC), s.over_at.to_pydatetime().astimezone(UTC))
        for s in table.itertuples()
    ]
    # By hand: 09:00 in Lisbon is 08:00 UTC until 24 October 2026, and 09:00 UTC from the 25th.
    assert [f"{e.dtstart.value.astimezone(UTC):%d %H:%M}" for e in burns] == [
        "23 08:00",
        "23 13:30",
        "24 08:00",
        "24 13:30",
        "26 09:00",
    ]
    checks = [e for e in timed if e.summary.value.startswith("Check")]
    assert [
        f"{e.dtstart.value.astimezone(UTC):%H:%M}-{e.dtend.value.astimezone(UTC):%H:%M}"
        for e in checks[:4]
    ] == ["09:00-09:32", "10:00-10:32", "11:00-11:32", "12:00-12:32"]
    assert burns[0].summary.value == f"Burn 1, group 1: {TITLE}"
    assert burns[0].description.value.startswith("8 candles: C01, C02, ")
    assert "Never leave a test burn unattended." in burns[0].description.value
    assert burns[1].description.value.startswith("8 candles: C09; C10.")
    assert all(
        e.valarm.trigger.value == timedelta(0) and e.valarm.action.value == "DISPLAY" for e in timed
    )
    assert len({e.uid.value for e in events}) == len(events)


def test_calendar_keeps_to_the_line_rules_of_rfc_5545():
    """Lines end in CRLF, are at most 75 octets long, and a fold
    never parts a letter (RFC 5545, 3.1)."""
    data = calendar(title="ü" * 200)[2]
    lines = data.split(b"\r\n")
    assert lines[-1] == b""
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2] == b"END:VCALENDAR"
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode("utf-8")
    assert b"SUMMARY:Pour: " + "ü".encode() * 200 in data.replace(b"\r\n ", b"")
    assert re.search(rb"\r\nVERSION:2.0\r\n", data)
    assert re.search(rb"\r\nPRODID:", data)
    for event in data.split(b"BEGIN:VEVENT")[1:]:
        assert (
            event.count(b"\r\nUID:")
            == event.count(b"\r\nDTSTAMP:")
            == event.count(b"\r\nDTSTART")
            == 1
        )


def test_times_are_utc_whatever_the_zone():
    for zone in ("Asia/Kolkata", "America/St_Johns"):
        table, _, data = calendar(zone=zone)
        first = datetime(2026, 10, 23, 9, tzinfo=ZoneInfo(zone)).astimezone(UTC)
        assert f"DTSTART:{first:%Y%m%dT%H%M%SZ}".encode() in data
        assert b"TZID" not in data
        assert table["lit_from"].iloc[0] == first


def test_the_same_plan_gives_the_same_calendar():
    assert calendar()[2] == calendar()[2]


def test_line_breaks_and_marks_in_a_title_stay_text():
    vobject = pytest.importorskip("vobject")
    book = vobject.readOne(calendar(title="a\nBEGIN:VEVENT\r\nb, c; d \\ e")[2].decode("utf-8"))
    assert len(book.vevent_list) == 27
    assert book.vevent_list[0].summary.value == "Pour: a BEGIN:VEVENT b, c; d \\ e"


@pytest.mark.parametrize(
    ("text", "good"),
    [("09:00", True), ("9:05", True), ("25:00", False), ("nine", False), ("", False)],
)
def test_a_time_of_day(text, good):
    assert (schedule.clock(text) is not None) == good
