"""A plan as a calendar file (iCalendar, RFC 5545), one entry a day.

The same plan from the same date makes the same bytes: DTSTAMP is the first day's midnight, and every UID
comes from the plan (a name-based UUID, RFC 9562).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from ..book.addresses import DAILY
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import phrase
from .cautions import GENERAL
from .plan import Plan
from .sets import PAUSE, Day, block_how, block_keys, block_title, clock_time, days


def calendar(
    plans: Sequence[tuple[str, Plan]],
    book: str,
    start: date,
    at: time | None = None,
    site: str = "",
    translation: Translation = TO_ENGLISH,
) -> bytes:
    """The file, with all-day entries, or entries from `at` o'clock (local time) as long as the set.

    `plans` are students' names (empty for one without) and their plans. `site` is the address of the book's
    site with its last slash, or empty. An entry keeps its UID where the language changes.
    """
    from icalendar import Calendar, Event

    file = Calendar()
    file.add("prodid", "-//Stavewright//daily sets//EN")
    file.add("version", "2.0")
    for student, plan in plans:
        wish = plan.problem.wish
        for day in days(plan, start):
            assert day.on is not None
            event = Event()
            said = f"{book}/{student}/{wish}/{start}/{day.number}/{_described(day)}"
            event.add("uid", str(uuid5(NAMESPACE_URL, f"stavewright:{said}")))
            event.add("dtstamp", datetime.combine(start, time(), UTC))
            if at is None:
                event.add("dtstart", day.on)
            else:
                event.add("dtstart", datetime.combine(day.on, at))
                event.add("duration", timedelta(minutes=wish.minutes))
            count = {"number": day.number, "days": wish.days, "minutes": wish.minutes}
            said_of = phrase("Daily set {number} of {days}: {minutes} min", **count)
            if student:
                said_of = phrase(
                    "{student}: daily set {number} of {days}: {minutes} min", student=student, **count
                )
            event.add("summary", translation.say(said_of))
            event.add("description", _described(day, translation))
            event.add("transp", "TRANSPARENT" if at is None else "OPAQUE")
            if site:
                event.add("url", f"{site}{DAILY}")
            file.add_component(event)
    data: bytes = file.to_ical()
    return data


def _described(day: Day, translation: Translation = TO_ENGLISH) -> str:
    say = translation.say
    rows: list[str] = []
    for place, sitting in enumerate(day.sittings):
        rows += [say(PAUSE)] if place else []
        for block in sitting:
            title, keys, how = (say(words(block)) for words in (block_title, block_keys, block_how))
            rows.append(f"- {title}, {keys}: {how} ({clock_time(block.seconds)})")
    return "\n".join((*rows, "", say(GENERAL[0])))
