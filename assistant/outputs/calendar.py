"""The club in the family's calendar (RFC 5545).

What lives here: when the club is, and the way to iCalendar. What must not: a clock; files. The moment of making is handed in.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from icalendar import Alarm, Calendar, Event, vRecur

from assistant.core.wording import Amount
from assistant.errors import SettingsError

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
FEWEST_WEEKS = 6  # common practice, no source: changes were seen after six weekly sessions
MOST_WEEKS = 52
MOST_A_WEEK = 2  # common practice, no source: once a week at least, twice preferred


@dataclass(frozen=True, slots=True)
class Dates:
    """When and where the club is.

    ``days`` are one or two of :data:`WEEKDAYS`. Without a ``zone`` the times are those of the wall clock, wherever the family
    is (RFC 5545, 3.3.5, form 1); with one (``"Europe/London"``) a calendar abroad shows them moved. ``set_up_min`` before the
    beginning the calendar reminds of setting up.
    """

    first: date
    at: time
    length_min: int
    days: tuple[str, ...]
    weeks: int = FEWEST_WEEKS
    place: str = ""
    zone: str = ""
    set_up_min: int = 15

    def check(self) -> None:
        """See whether these dates make a club.

        Raises:
            SettingsError: with one sentence for the first thing that does not fit.
        """
        if not 1 <= len(set(self.days)) <= MOST_A_WEEK or not set(self.days) <= set(WEEKDAYS):
            raise SettingsError(f"The club is on one or two days a week, of {', '.join(WEEKDAYS)}. Choose --on MO,TH.")
        if WEEKDAYS[self.first.weekday()] not in self.days:
            day = WEEKDAYS[self.first.weekday()]
            raise SettingsError(f"{self.first} is a {day}, not one of {', '.join(self.days)}. Choose another first day.")
        if not FEWEST_WEEKS <= self.weeks <= MOST_WEEKS:
            raise SettingsError(f"A series goes on for {FEWEST_WEEKS} to {MOST_WEEKS} weeks, not {self.weeks}. Choose --weeks.")
        if self.first > date.max - timedelta(weeks=self.weeks + 1):  # and a week for what ends the day after
            raise SettingsError(f"{self.weeks} weeks from {self.first} go past the year {date.max.year}. Choose another.")
        if self.length_min <= 0:
            raise SettingsError(f"A club of {self.length_min} minutes is none. Choose --length, usually 30 to 60.")
        if not 0 <= self.set_up_min <= 24 * 60:
            raise SettingsError(f"The reminder comes up to a day before, not {self.set_up_min} minutes. Choose --remind.")


def calendar(dates: Dates, words: Mapping[str, Any], uid: str, stamp: datetime) -> bytes:
    """The series as an iCalendar file.

    Args:
        words: the table ``calendar`` of ``shared/sheets``.
        uid: what makes the entry one of its kind; the same again replaces an entry.
        stamp: when it is made, with a time zone (RFC 5545, 3.8.7.2, wants it in UTC).

    Raises:
        SettingsError: the dates do not make a club, or there is no such time zone.
    """
    dates.check()
    start = datetime.combine(dates.first, dates.at, _zone(dates.zone))
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp)
    event.add("dtstart", start)
    event.add("duration", timedelta(minutes=dates.length_min))
    event.add("summary", words["summary"])
    event.add("description", words["description"].format(minutes=Amount(dates.length_min)))
    if dates.place:
        event.add("location", dates.place)
    days = [day for day in WEEKDAYS if day in dates.days]
    event.add("rrule", vRecur(freq="WEEKLY", count=dates.weeks * len(days), byday=days))
    event.add_component(_alarm(words["day_before"], timedelta(days=1)))
    event.add_component(_alarm(words["set_up"], timedelta(minutes=dates.set_up_min)))
    return _file(event, dates)


def _file(event: Event, dates: Dates) -> bytes:
    whole = Calendar()
    whole.add("prodid", "-//Tray Turns//Club//EN")
    whole.add("version", "2.0")
    whole.add_component(event)
    if dates.zone:
        year = dates.first.year  # the zone's rules for the series, and no more of its history
        whole.add_missing_timezones(date(year - 1, 1, 1), date(year + 2, 1, 1))
    return bytes(whole.to_ical())


def _alarm(said: str, before: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", said)
    alarm.add("trigger", -before)
    return alarm


def _zone(name: str) -> ZoneInfo | None:
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise SettingsError(f"There is no time zone {name!r}. Write one such as Europe/London, or leave --zone out.") from error
