"""Published counts that cautions lean on, kept as counted: events out of a total."""

from __future__ import annotations

from dataclasses import dataclass

from voicelist.clinical.sources import Source


@dataclass(frozen=True, slots=True)
class Count:
    """`events` out of `total`, as the source counted them."""

    events: int
    total: int
    source: Source

    def per(self, many: float) -> float:
        """Events in so many: `per(1000)` is a rate per thousand, `per(100)` per cent."""
        return self.events / self.total * many


WOUND_BURNS_2006 = Count(75, 76_581, Source("published", "Am J Ophthalmol 2006;141:222-4"))
WOUND_BURNS_LATER = Count(
    341, 920_095, Source("published", "an academy's summary of a later survey of wound burns")
)
# Wrong lens, wrong eye and so on; those that a protocol with a time-out could have prevented: of
# 1982 to 2005 all but 16, where it would have been unlikely to; of 2006 to 2017 fewer.
CONFUSIONS_PREVENTABLE_UNTIL_2005 = Count(
    106 - 16, 106, Source("published", "Simon, Trans Am Ophthalmol Soc 2007;105:513-29")
)
CONFUSIONS_PREVENTABLE = Count(
    92, 143, Source("published", "Parikh et al., Ophthalmology 2020;127:296-302, abstract")
)
# Of these, the wrong lens: 95, of which 33 could not have been prevented so.
WRONG_LENSES_PREVENTABLE = Count(95 - 33, 95, CONFUSIONS_PREVENTABLE.source)
# R squared of ultrasound time against nuclear colour, in per cent: the grade leaves the rest open.
TIME_EXPLAINED_BY_COLOUR = Count(
    48, 100, Source("published", "Clinical application of LOCS III, abstract: 2,364 cases")
)
