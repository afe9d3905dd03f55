"""The simple method: it fills day after day with what is missing most, then improves the plan by exchanges.

It is quick and needs no large library. But it may miss a plan that exists, and it does not know how good the
best plan is: stavewright.daily.cp_sat does. Equal seeds give equal plans on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heapify, heappop, heapreplace
from itertools import repeat
from random import Random

from .plan import PAIR_WORTH, WORK_WORTH, Days, Problem, kinds, objective, one_of, violations

TRIES = 12
_KEPT = 2
"""So many valid plans are made; the best of them is taken."""

_EXCHANGES = 2000
_SEEN = 1500
"""The most kinds of pieces that are compared for a day."""

_MISSING = 400
"""What a promise still open is worth while days are filled, in seconds: more than any fourfold visit."""


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A kind of choice as numbers, so that filling days is quick."""

    number: int
    whole: int
    topic: int
    register: int
    key: int
    pair: int
    work: int
    promises: tuple[int, int, int]


def _pieces(task: Problem) -> list[_Piece]:
    numbers: dict[tuple[object, ...], int] = {}

    def number(*name: object) -> int:
        return numbers.setdefault(name, len(numbers))

    found = []
    for index, kind in enumerate(kinds(task)):
        item = kind[0]
        promises = (
            number("key", item.key),
            number("register", item.register),
            number("variation", item.variation),
        )
        found.append(
            _Piece(
                index,
                item.whole,
                number("topic", *item.topic),
                task.registers.index(item.register),
                promises[0],
                number("pair", *item.pair),
                number("work", *item.work),
                promises,
            )
        )
    return found


class _Closed:
    """What a day may not take: what it or a neighbouring day has, and what the neighbour still needs."""

    def __init__(self, task: Problem, pieces: list[_Piece]) -> None:
        alone = task.wish.days == 1 and not task.wish.round
        self.least = [0 if alone else task.least[register] for register in task.registers]
        self.serves: dict[int, set[tuple[int, int]]] = {}
        for piece in pieces:
            self.serves.setdefault(piece.topic, set()).add((piece.register, piece.key))
        # The next day may not take what this one takes, so each day may have half of everything.
        self.most = len(self.serves) if alone else len(self.serves) // 2
        self.open_day(set())

    def open_day(self, topics: set[int]) -> None:
        """Begin a day that may take none of these."""
        self.topics = topics
        self.taken = 0
        self.left: dict[tuple[int, int], int] = {}
        for places in self.serves.values():
            for place in places:
                self.left[place] = self.left.get(place, 0) + 1
        self.keys = [0] * len(self.least)
        for register, _ in self.left:
            self.keys[register] += 1

    def allows(self, topic: int) -> bool:
        """Whether the neighbouring day has enough left in every register if this day takes the piece."""
        return self.taken < self.most and not any(
            self.left[place] == 1 and self.keys[place[0]] <= self.least[place[0]]
            for place in self.serves[topic]
        )

    def close(self, topic: int) -> None:
        """Take the piece, so that the neighbouring days cannot."""
        self.topics.add(topic)
        self.taken += 1
        for place in self.serves[topic]:
            self.left[place] -= 1
            if not self.left[place]:
                self.keys[place[0]] -= 1


class _Draft:
    """Days that are being filled, with the number of times each pair, work and promise has come."""

    def __init__(self, task: Problem, pieces: list[_Piece]) -> None:
        self.task = task
        self.days: list[list[_Piece]] = [[] for _ in range(task.wish.days)]
        self.room = [task.budget for _ in self.days]
        most = 1 + max(max(piece.pair, piece.work, *piece.promises) for piece in pieces)
        self.count = [0] * most
        self.open = len({promise for piece in pieces for promise in piece.promises})
        """Promises that no day keeps yet."""
        # After four times a pair adds nothing more.
        often = repeat(0, len(self.days) * (task.budget // min(piece.whole for piece in pieces) + 1))
        self.pair_worth = (*PAIR_WORTH, *often)
        self.work_worth = (*WORK_WORTH, *self.pair_worth[len(PAIR_WORTH) :])

    def add(self, day: int, piece: _Piece, by: int = 1) -> None:
        if by > 0:
            self.days[day].append(piece)
        else:
            self.days[day].remove(piece)
        self.room[day] -= by * piece.whole
        self.count[piece.pair] += by
        self.count[piece.work] += by
        for promise in piece.promises:
            before = self.count[promise]
            self.count[promise] = before + by
            self.open += (before + by == 0) - (before == 0)

    def beside(self, day: int) -> set[int]:
        """The topics that a day has, or that one beside it has."""
        days = (day, *self.task.follows(day))
        return {piece.topic for other in days for piece in self.days[other]}

    def gain(self, piece: _Piece) -> int:
        """What one more of a piece adds to the worth, apart from its length."""
        count = self.count
        found = self.pair_worth[count[piece.pair]] + self.work_worth[count[piece.work]]
        if self.open:
            for promise in piece.promises:
                if not count[promise]:
                    found += _MISSING
        return found

    def take(self, day: int, room: int, among: list[_Piece], closed: _Closed, keys: set[int]) -> bool:
        """Add the piece that fits and gives most for its time, if any; none in a key of `keys`."""
        found, best = None, -1.0
        for piece in among:
            if piece.whole > room or piece.topic in closed.topics or piece.key in keys:
                continue
            rank = self.gain(piece) / piece.whole
            if rank > best and closed.allows(piece.topic):
                found, best = piece, rank
        if found is None:
            return False
        self.add(day, found)
        closed.close(found.topic)
        return True

    def fill_up(self, day: int, among: list[_Piece], closed: _Closed) -> None:
        """Take pieces, as `take` does, until none fits.

        A taken piece makes no other piece worth more or fit better. So the piece that was best before is
        looked at first, and only that one is weighed again.
        """
        queue = [(-self.gain(piece) / piece.whole, place) for place, piece in enumerate(among)]
        heapify(queue)
        while queue:
            rank, place = queue[0]
            piece = among[place]
            if piece.whole > self.room[day] or piece.topic in closed.topics or not closed.allows(piece.topic):
                heappop(queue)
                continue
            now = -self.gain(piece) / piece.whole
            if now != rank:
                heapreplace(queue, (now, place))
                continue
            heappop(queue)
            self.add(day, piece)
            closed.close(piece.topic)


def _fill(draft: _Draft, pieces: list[_Piece], random: Random) -> None:
    task = draft.task
    least = [task.least[register] for register in task.registers]
    shortest = [
        min(piece.whole for piece in pieces if piece.register == register) for register in range(len(least))
    ]
    closed = _Closed(task, pieces)
    for day in range(task.wish.days):
        # Ties are broken at random: the first in a shuffled order wins. In a very big book a day looks at
        # some only, first at those that keep a promise still open.
        shuffled = sorted(pieces, key=lambda piece: random.random())
        if len(shuffled) > _SEEN:
            shuffled.sort(key=lambda piece: all(draft.count[promise] for promise in piece.promises))
            shuffled = _for_each_register(shuffled, len(least))
        closed.open_day(draft.beside(day))
        owed = dict(enumerate(least))
        inside = {r: [piece for piece in shuffled if piece.register == r] for r in owed}
        while any(owed.values()):
            # The register with the fewest keys to spare first: another may need the same exercises.
            for register, count in owed.items():
                inside[register] = [p for p in inside[register] if count and p.topic not in closed.topics]
            owing = [register for register, count in owed.items() if count]
            register = min(owing, key=lambda r: len({p.key for p in inside[r]}) - owed[r])
            owed[register] -= 1
            kept = sum(shortest[other] * count for other, count in owed.items())
            keys = {piece.key for piece in draft.days[day] if piece.register == register}
            draft.take(day, draft.room[day] - kept, inside[register], closed, keys)
        draft.fill_up(day, shuffled, closed)


def _for_each_register(pieces: list[_Piece], registers: int) -> list[_Piece]:
    """Take the first pieces of each register, until each register has enough."""
    found = []
    left = [_SEEN // registers] * registers
    for piece in pieces:
        if left[piece.register]:
            left[piece.register] -= 1
            found.append(piece)
    return found


def _exchange(draft: _Draft, pieces: list[_Piece], random: Random) -> None:
    """Try to exchange one piece of a day for another, and keep the better day.

    Every second try exchanges it for the same exercise in the same key, the others for anything.
    """
    least = [draft.task.least[register] for register in draft.task.registers]
    same: dict[int, list[_Piece]] = {}
    for piece in pieces:
        same.setdefault(piece.topic, []).append(piece)
    for number in range(_EXCHANGES):
        # Three lots each time, whatever comes of them, so that one choice does not shift all later ones.
        lots = [random.random() for _ in range(3)]
        day = int(lots[0] * len(draft.days))
        if not draft.days[day]:
            continue
        old = draft.days[day][int(lots[1] * len(draft.days[day]))]
        among = same[old.topic] if number % 2 else pieces
        new = among[int(lots[2] * len(among))]
        if new.whole > draft.room[day] + old.whole:
            continue
        draft.add(day, old, -1)
        keys = {piece.key for piece in draft.days[day] if piece.register == old.register}
        needed = len(keys) < least[old.register]
        serves = new.register == old.register and new.key not in keys
        better = draft.gain(new) + new.whole > draft.gain(old) + old.whole
        fits = better and (serves or not needed) and new.topic not in draft.beside(day)
        draft.add(day, new if fits else old)


def simple_days(task: Problem, tries: int = TRIES) -> tuple[Days, tuple[str, ...]]:
    """The best days of several tries, and the conditions that they break; none if they are a plan."""
    random = Random(task.wish.seed)
    pieces = _pieces(task)
    alike = kinds(task)
    kept: list[tuple[int, Days]] = []
    nearest: tuple[int, int, Days] | None = None
    faults: tuple[str, ...] = ()
    for _ in range(tries):
        draft = _Draft(task, pieces)
        _fill(draft, pieces, random)
        _exchange(draft, pieces, random)
        days = tuple(
            task.ordered(one_of(alike[piece.number], task.wish.seed + number) for piece in day)
            for number, day in enumerate(draft.days)
        )
        found, value = violations(task, days), objective(days)
        if not found:
            kept.append((value, days))
            if len(kept) == _KEPT:
                break
        elif nearest is None or (-len(found), value) > nearest[:2]:
            nearest, faults = (-len(found), value, days), found
    if kept:
        return max(kept, key=lambda plan: plan[0])[1], ()
    assert nearest is not None
    return nearest[2], faults
