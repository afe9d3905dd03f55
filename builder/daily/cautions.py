"""Cautions where sets are long or loud, with the publications they rest on. Nothing here is medical advice.

Sources:

- National Institute for Occupational Safety and Health, "Criteria for a recommended standard: occupational
  noise exposure, revised criteria 1998", DHHS (NIOSH) Publication No. 98-126: 85 dBA over 8 hours, half the
  time for every 3 dB more; its table 1-1 is checked in the tests. From memory, as are all of these.
- National Association of Schools of Music and Performing Arts Medicine Association, "Basic information on
  hearing health", 2011.
- S. L. Phillips and S. Mace, "Sound level measurements in music practice rooms", Music Performance Research
  2 (2008): averages of 87 to 95 dBA while students practised alone.
- G. Klickstein, "The Musician's Way", 2009, and J. Horvath, "Playing (Less) Hurt", 2010: about ten minutes of
  rest in an hour, or five after twenty-five. No measurement stands behind the exact numbers.
"""

from __future__ import annotations

from ..translation.said import Said, counted, phrase, term
from .plan import Plan

LIMIT_DBA = 85.0
LIMIT_HOURS = 8.0
EXCHANGE_DB = 3.0

LOUD_SECONDS = 300
"""Seconds at f or above in a day from which a caution is given; common practice, no source."""

TABLE_DBA = (85, 88, 91, 94, 97, 100, 103)

GENERAL = (
    term(
        "Stop when something hurts, tingles or goes numb, when you feel dizzy, or when your ears ring or "
        "feel dull. If you are dizzy, put the instrument down, sit, and breathe as you usually do. Begin "
        "again later, with less."
    ),
    term(
        "Loud sound near the ears, your own or a loudspeaker's, can harm hearing. Keep a drone, a metronome"
        " or a recording no louder than you play, begin softly, and more softly with headphones. A piccolo,"
        " a saxophone or a brass instrument is loud for its player too; ear protection made for musicians "
        "helps in a small room."
    ),
    term(
        "This book does not replace your teacher, who hears and sees you, or a clinician; do as they say. "
        "Take pain, dizziness or a change of hearing that stays or comes back to a clinician who knows "
        "musicians."
    ),
)
"""The cautions for every player, wherever cautions stand: site, print, daily sets, README.

The usual caution of a studio; what it says of hearing follows the two sources on hearing above.
"""

LONG = term(
    "More than twenty-five minutes is a long set. Take its pauses away from the instrument: your lips, "
    "hands and ears need them. Musicians' health books ask for about ten "
    "minutes of rest in an hour of playing (Klickstein 2009, Horvath 2010)."
)
LOUD = term(
    "Several minutes at f or louder are a lot for the ears. In practice rooms, levels of "
    "87 to 95 dBA on average have been measured (Phillips and Mace 2008). The limit recommended for a "
    "working day is 85 dBA over 8 hours, and half the time for every 3 dB more (NIOSH 98-126). All loud "
    "sound of a day adds up, rehearsals too. Leave out loud variations when your ears ring or feel dull, "
    "and see a clinician if that stays."
)


def hours_allowed(dba: float) -> float:
    """Hours a day at a level (in dBA, as a meter at the ear shows it) by the recommended limit."""
    return LIMIT_HOURS / float(2 ** ((dba - LIMIT_DBA) / EXCHANGE_DB))


def hours_in_words(hours: float) -> Said:
    """`8 hours`, `1 hour`, `30 minutes`, `7 and a half minutes`."""
    if hours >= 1:
        return counted("{hours} hour", "{hours} hours", hours, hours=f"{hours:g}")
    minutes = hours * 60
    whole = int(minutes)
    if minutes - whole == 0.5:
        return phrase("{minutes} and a half minutes", minutes=whole)
    return phrase("{minutes} minutes", minutes=f"{minutes:.0f}")


def noise_table() -> tuple[tuple[int, Said], ...]:
    """Levels in dBA and how long a day each is within the recommended limit."""
    return tuple((dba, hours_in_words(hours_allowed(dba))) for dba in TABLE_DBA)


def cautions(plan: Plan) -> tuple[Said, ...]:
    """What to say beside a plan."""
    found = [*GENERAL]
    if plan.problem.sittings > 1:
        found.append(LONG)
    loud = (
        sum(item.loud for sitting in day for block in sitting for item in block.items) for day in plan.days
    )
    if max(loud) >= LOUD_SECONDS:
        found.append(LOUD)
    return tuple(found)
