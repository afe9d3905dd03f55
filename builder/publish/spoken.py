"""Music in words: the text alternative of an engraved piece."""

from __future__ import annotations

from builder.music.score import Event, Score, Value

_NAMES = ("whole", "half", "quarter", "eighth", "sixteenth", "thirty-second", "sixty-fourth")
_VALUES = {2**power: name for power, name in enumerate(_NAMES)}
_SHADES = {"<": "getting louder", ">": "getting softer", "!": ""}


_DOTS = ("", "dotted ", "double dotted ", "triple dotted ")


def value_name(value: Value) -> str:
    """`dotted quarter`."""
    return _DOTS[value.dots] + _VALUES[value.base.denominator]


def _said(event: Event) -> str:
    value = value_name(event.value)
    words = [f"{event.pitch.spoken} {value}" if event.pitch else f"{value} rest"]
    words += [_SHADES.get(shade.mark, shade.mark) for shade in event.shades]
    words += event.marks
    words += [text for text in (event.above, event.below) if text]
    words += ["tied"] if event.tie else []
    words += ["slur begins"] if "slur" in event.opens else []
    words += ["slur ends"] if "slur" in event.closes else []
    return " ".join(word for word in words if word)


def spoken(score: Score, limit: int = 40) -> str:
    """The notes of the player's line in words, bar by bar; after `limit` events, how many are left."""
    bars: list[str] = []
    count = 0
    for number, bar in enumerate(score.line.bars, start=1):
        if count + len(bar.events) > limit and bars:
            rest = sum(len(later.events) for later in score.line.bars[number - 1 :])
            bars.append(f"and {rest} more notes and rests")
            break
        count += len(bar.events)
        bars.append(f"bar {number}: " + ", ".join(_said(event) for event in bar.events))
    return f"{score.key.name}, {score.meter}; " + "; ".join(bars) + "."
