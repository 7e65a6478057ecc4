"""The club in the calendar: RFC 5545, read back by icalendar and by vobject, its days counted by dateutil."""

import tomllib
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import vobject
from dateutil.rrule import rrulestr
from dateutil.tz import tzical
from icalendar import Calendar

from assistant.errors import SettingsError
from assistant.outputs.calendar import Dates, calendar

WORDS = tomllib.loads((Path(__file__).parent.parent / "shared" / "sheets" / "en.toml").read_text(encoding="utf-8"))["calendar"]
MONDAYS = Dates(date(2027, 3, 1), time(16, 30), 45, ("MO",), place="Kitchen; the round table, upstairs")
STAMP = datetime(2027, 2, 20, 9, 0, tzinfo=UTC)


def made(dates: Dates) -> bytes:
    return calendar(dates, WORDS, "club-1@tray-turns", STAMP)


def read_back(dates: Dates, kind: str) -> list[Any]:
    """The entries or alarms of a file, by icalendar's reading."""
    return list(Calendar.from_ical(made(dates)).walk(kind))


def starts(dates: Dates) -> list[datetime]:
    """Every beginning, by vobject's reading of the file and dateutil's of the rule."""
    event = vobject.readOne(made(dates).decode()).vevent
    return list(rrulestr(event.rrule.value, dtstart=event.dtstart.value))


def test_once_a_week_for_six_weeks_at_the_same_time() -> None:
    assert starts(MONDAYS) == [datetime(2027, 3, 1, 16, 30) + timedelta(weeks=week) for week in range(6)]


def test_twice_a_week_is_twelve_times_in_six_weeks() -> None:
    days = starts(replace(MONDAYS, days=("TH", "MO")))

    assert len(days) == 12
    assert "".join("MTWTFSS"[day.weekday()] for day in days) == "MT" * 6
    assert {day.weekday() for day in days} == {0, 3}
    assert days[-1] == datetime(2027, 4, 8, 16, 30)


def test_both_readers_see_the_same_entry() -> None:
    with_icalendar = read_back(MONDAYS, "VEVENT")[0]
    with_vobject = vobject.readOne(made(MONDAYS).decode()).vevent

    assert with_icalendar["SUMMARY"] == with_vobject.summary.value == WORDS["summary"]
    assert with_icalendar["LOCATION"] == with_vobject.location.value == MONDAYS.place
    assert with_icalendar["DURATION"].dt == with_vobject.duration.value == timedelta(minutes=45)
    assert with_icalendar["DTSTART"].dt == with_vobject.dtstart.value == datetime(2027, 3, 1, 16, 30)
    assert "45 minutes" in with_vobject.description.value


def test_the_day_before_and_in_time_to_set_up_it_reminds() -> None:
    alarms = read_back(MONDAYS, "VALARM")

    assert [alarm["TRIGGER"].dt for alarm in alarms] == [timedelta(days=-1), timedelta(minutes=-15)]
    assert [alarm["ACTION"] for alarm in alarms] == ["DISPLAY", "DISPLAY"]  # RFC 5545, 3.6.6: and a description
    assert [str(alarm["DESCRIPTION"]) for alarm in alarms] == [WORDS["day_before"], WORDS["set_up"]]


def test_the_file_is_as_rfc_5545_wants_it() -> None:
    """3.1: lines end in CRLF and hold at most 75 octets; 3.3.11: ; and , are escaped; 3.6.1: what a VEVENT must have."""
    text = made(MONDAYS)

    lines = text.split(b"\r\n")
    assert b"\n" not in b"".join(lines) and max(map(len, lines)) <= 75
    assert rb"LOCATION:Kitchen\; the round table\, upstairs" in text
    for needed in (b"VERSION:2.0", b"PRODID:", b"UID:club-1@tray-turns", b"DTSTAMP:20270220T090000Z"):
        assert needed in text


def test_without_a_zone_the_time_is_that_of_the_wall_clock() -> None:
    """RFC 5545, 3.3.5, form 1: neither Z nor TZID."""
    assert b"DTSTART:20270301T163000\r\n" in made(MONDAYS)


def test_with_a_zone_the_club_stays_at_half_past_four_when_the_clocks_change() -> None:
    """Summer time begins in London on 28 March 2027 (the last Sunday of March)."""
    london = replace(MONDAYS, zone="Europe/London")
    text = made(london)

    assert b"DTSTART;TZID=Europe/London:20270301T163000" in text and b"BEGIN:VTIMEZONE" in text
    zone = tzical(StringIO(text.decode().replace("\r\n", "\n"))).get()  # dateutil's reading of the rules in the file
    days = [day.replace(tzinfo=zone) for day in starts(london)]
    assert {day.time() for day in days} == {time(16, 30)}
    assert [str(day.utcoffset()) for day in (days[0], days[-1])] == ["0:00:00", "1:00:00"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"days": ()}, "one or two days"),
        ({"days": ("MO", "WE", "FR")}, "one or two days"),
        ({"days": ("XX",)}, "one or two days"),
        ({"days": ("TU",)}, "2027-03-01 is a MO"),
        ({"weeks": 5}, "6 to 52 weeks"),
        ({"weeks": 53}, "6 to 52 weeks"),
        ({"length_min": 0}, "0 minutes is none"),
        ({"set_up_min": -1}, "up to a day before"),
        ({"zone": "Nowhere/Atlantis"}, "no time zone 'Nowhere/Atlantis'"),
        ({"zone": "../etc/passwd"}, "no time zone"),
    ],
)
def test_dates_that_make_no_club_are_one_sentence(change: dict[str, object], said: str) -> None:
    with pytest.raises(SettingsError, match=said):
        made(replace(MONDAYS, **change))  # type: ignore[arg-type]


def test_no_name_and_no_word_of_a_session_is_in_it() -> None:
    names = {line.split(b":")[0].split(b";")[0] for line in made(MONDAYS).split(b"\r\n") if line and not line.startswith(b" ")}

    assert not names & {b"ATTENDEE", b"ORGANIZER", b"CONTACT"}
