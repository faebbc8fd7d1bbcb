"""What a batch's BE says in words: units begun lead, those that lived stand beside, each with its counts."""

from __future__ import annotations

from dataclasses import dataclass

from journal.reckoning.reckoned import counted
from journal.reckoning.yields import BatchYield


@dataclass(frozen=True, slots=True)
class BeWords:
    """`BE 53 %`, `of the 4 blocks begun`, `(71 % of the 3 that lived)`, `2 flushes so far`.

    lived is empty where none was lost, ending as `flushes_words` says.
    """

    be: str
    begun: str
    lived: str
    ending: str

    def __str__(self) -> str:
        text = " ".join(filter(None, (self.be, self.begun, self.lived)))
        return f"{text}, {self.ending}" if self.ending else text


def be_words(crop: BatchYield, units: str = "units") -> BeWords | None:
    """A batch's BE in words; None without a dry mass, and where nothing is picked yet. units: what several are called.

    Until the batch is finished it is so far.
    """
    if crop.be is None or crop.is_unpicked:
        return None
    return BeWords(
        be=f"BE {crop.be.value:.0f} %",
        begun=f"of the {crop.begun} {units} begun" if crop.begun > 1 else "of the one begun",
        lived=_lived_words(crop),
        ending=flushes_words(crop),
    )


def be_in_words(crop: BatchYield, units: str = "units") -> str | None:
    """`BE 53 % of the 4 blocks begun (71 % of the 3 that lived), 2 flushes so far`, as `be_words`."""
    words = be_words(crop, units)
    return str(words) if words else None


def flushes_words(crop: BatchYield) -> str:
    """`2 flushes so far`, `3 flushes`; where no flush is told of `so far`, and nothing once it is finished."""
    borne = sum(flush.harvest_g > 0 for flush in crop.flushes)
    flushes = counted(borne, "flush", "flushes") if borne else ""
    return " ".join(filter(None, (flushes, "" if crop.final else "so far")))


def _lived_words(crop: BatchYield) -> str:
    if not crop.lost:
        return ""
    return f"({crop.be_lived.value:.0f} % of the {crop.lived} that lived)" if crop.be_lived else "(none lived)"
