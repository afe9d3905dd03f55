"""Whether pieces that failed are themselves to blame, or the engraver and the machine under it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from functools import cache

from .piece import Blame, Failure
from .processes.lilypond import Engraver, EngraverAtFault
from .processes.trial import find_trial_failure

log = logging.getLogger(__name__)


def judge(failed: Sequence[Failure], count: int, engraver: Engraver | None) -> None:
    """Raises EngraverAtFault where the pieces that failed, of `count`, are not themselves to blame.

    They are not where at least two, and half of all, failed because their engraver had to be stopped or could
    not be run, or because their workers were lost. Nor are they where `engraver` fails now on a piece of the
    builder's own. So a piece or an exercise that no engraver would take costs itself, even if nothing else is
    new.
    """
    unable = [each for each in failed if each.blame is not Blame.PIECE]
    if len(unable) > 1 and 2 * len(unable) >= count:
        raise engraver_at_fault(failed, count)
    if engraver and (trial := find_trial_failure(engraver)):
        raise engraver_at_fault(failed, count, trial)


def engraver_at_fault(failed: Sequence[Failure], count: int, trial: Failure | None = None) -> EngraverAtFault:
    """What failed, of `count` pieces, and how many, in one line."""
    full = next((each for each in (*failed, trial) if each and each.blame is Blame.MACHINE), None)
    if full:
        why = full.said
    elif trial:
        why = f"so did {trial.name}: {trial.said}"
    else:
        why = f"the last: {failed[-1]}"
    return EngraverAtFault(
        "the engraver is not able to work here, and what was made before stays as it was: "
        f"{len(failed)} of {count} new pieces failed; {why}"
    )


@cache
def warn_of_slow_engraver(engraver: Engraver) -> None:
    """Say once that an engraver has no Cairo, and what that costs."""
    log.warning(
        "%s is built without Cairo, so that engraving takes about ten times as long; the LilyPond of "
        "`pip install 'lilypond>=2.24,<2.25'` has it, where there is one for your system.",
        engraver.path,
    )
