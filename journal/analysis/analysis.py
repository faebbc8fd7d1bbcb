"""Everything that is calculated from a journal as a whole, each figure once and only when it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from journal.analysis import identity
from journal.analysis.calendar import Season, seasons_of, zone_of
from journal.analysis.climate import Climate, climate_of
from journal.analysis.comparison import Comparison, comparison_of
from journal.analysis.costs import JournalCosts, costs_of
from journal.analysis.due import Due, due, nexts_not_done, renewals
from journal.analysis.forecast import Evidence, Expected, evidence_of, expected
from journal.analysis.growth import Growth, Vigour, growth_of, vigours
from journal.analysis.heat import Heating, heating_by_entry, uncalculated_by_entry
from journal.analysis.lineage import Lineage, lineage_of
from journal.analysis.losses import Lot, lots_of
from journal.analysis.patches import Patch, patch_by_find, patches_of
from journal.analysis.permits import PermitUse, permit_uses
from journal.analysis.place_yield import PlaceYield, yields_by_place
from journal.analysis.planning import Prospect, prospects
from journal.analysis.plausibility import Doubt, doubtful_harvests, doubts_of
from journal.analysis.power import PowerAndControl, power_and_control_of
from journal.analysis.progress import Progress, progress_of
from journal.analysis.readings import Series, series_of
from journal.analysis.rollups import Rollups, rollups_of
from journal.analysis.sensors import LastReadings, last_readings
from journal.analysis.upcoming import Ahead, Coming, ahead
from journal.analysis.weather import Outing, Weather, outings, weather_of
from journal.analysis.yields import BatchYield, yields_of
from journal.model import Journal, Note


class Analysis:
    """The figures of one journal; mappings are by ID, as defined. The journal is never changed, so none goes stale."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal

    # Origin and identity

    @cached_property
    def lineage(self) -> Lineage:
        return lineage_of(self.journal)

    @cached_property
    def identifications(self) -> Mapping[str, tuple[identity.Identification, ...]]:
        """Each find's identifications, the latest last."""
        return identity.identifications(self.journal)

    @cached_property
    def confirmed(self) -> Mapping[str, bool]:
        """Whether the identity of each find, culture and batch counts as confirmed."""
        less_sure = {id for id, certainty in self.journal.surest.items() if certainty != "confirmed"}
        return {id: is_sure and id not in less_sure for id, is_sure in self.seems_confirmed.items()}

    @cached_property
    def seems_confirmed(self) -> Mapping[str, bool]:
        """The same by what the journal tells; in a share the one that is shared may tell more, and not confirm it."""
        named, misnamed = self.identifications, self.misnamed
        return identity.identity_confirmed(self.journal, self.lineage, named, misnamed, self.mixed)

    @cached_property
    def misnamed(self) -> Mapping[str, identity.OtherName]:
        """Each culture and batch with a name that a find it goes back to does not have, or below such a one."""
        return identity.other_names(self.journal, self.lineage, self.identifications)

    @cached_property
    def mixed(self) -> frozenset[str]:
        """The cultures and batches that go back to several finds which may be of more than one species."""
        return identity.several_species(self.journal, self.lineage, self.identifications)

    @cached_property
    def doubtful(self) -> Mapping[str, str]:
        """Each culture and batch whose label is in doubt, with what the doubt began at."""
        return identity.doubtful(self.journal, self.lineage)

    @cached_property
    def below_unshared(self) -> frozenset[str]:
        """What was grown from something with origins that are not shared."""
        return identity.below_unshared(self.journal, self.lineage)

    @cached_property
    def received_above(self) -> Mapping[str, str]:
        """From whom what is above was received, for each that has any such above it."""
        return identity.received_above(self.journal, self.lineage)

    # Progress, yields and what comes next

    @cached_property
    def progress(self) -> Mapping[str, Progress]:
        return progress_of(self.journal)

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What is hardly possible in the entries."""
        return doubts_of(self.journal, self.progress)

    @cached_property
    def doubtful_harvests(self) -> Mapping[str, tuple[Note, ...]]:
        """The harvests that are hardly possible, by the ID of the batch that they are of."""
        return doubtful_harvests(self.doubts)

    @cached_property
    def yields(self) -> Mapping[str, BatchYield]:
        return yields_of(self.journal, self.progress)

    @cached_property
    def rollups(self) -> Rollups:
        """What has been grown from each find, culture and line."""
        return rollups_of(self.journal, self.lineage, self.progress, self.yields)

    @cached_property
    def comparison(self) -> Comparison:
        return comparison_of(self.journal, self.yields, self.rollups.lines, self.doubtful)

    @cached_property
    def evidence(self) -> Evidence:
        """The finished batches that a forecast can be based on, by line and by species."""
        return evidence_of(self.journal, self.progress, self.lineage, self.doubtful)

    @cached_property
    def expected(self) -> Mapping[str, Expected]:
        """What is expected next of each batch of which something is."""
        return expected(self.journal, self.progress, self.evidence, self.lineage)

    @cached_property
    def lots(self) -> tuple[Lot, ...]:
        """Everything that was made together, with what was lost of it."""
        return lots_of(self.journal, self.progress)

    @cached_property
    def costs(self) -> JournalCosts:
        """What was paid, worked and sold."""
        return costs_of(self.journal, self.progress, self.lineage)

    @cached_property
    def prospects(self) -> tuple[Prospect, ...]:
        """What is to be expected of a new batch, by species and line."""
        return prospects(self.journal, self.progress, self.yields, self.lineage, self.doubtful)

    @cached_property
    def ahead(self) -> Ahead:
        """The flushes still to come of every batch, and those that are overdue."""
        return ahead(
            self.journal, self.progress, self.yields, self.lineage, self.evidence, self.prospects, self.expected
        )

    @property
    def coming(self) -> tuple[Coming, ...]:
        return self.ahead.coming

    @cached_property
    def _nexts(self) -> tuple[tuple[Due, ...], tuple[Due, ...]]:
        return nexts_not_done(self.journal, self.progress)

    @cached_property
    def open_nexts(self) -> tuple[Due, ...]:
        """What is under `next` and still to be done."""
        return self._nexts[0]

    @cached_property
    def ended_nexts(self) -> tuple[Due, ...]:
        """What is under `next`, was not done, and is not due any more, because what it is about has ended."""
        return self._nexts[1]

    @cached_property
    def renewals(self) -> Mapping[str, Due]:
        """The kept cultures that want renewing one day."""
        return {row.about[0]: row for row in renewals(self.journal, self.progress)}

    @cached_property
    def due(self) -> tuple[Due, ...]:
        return due(self.journal, self.open_nexts, self.renewals.values(), self.expected)

    @cached_property
    def heating(self) -> Mapping[str, Heating]:
        """What each entry's core log comes to, by the entry's path."""
        return heating_by_entry(self.journal)

    @cached_property
    def uncalculated_heating(self) -> Mapping[str, str]:
        """Why each core log that comes to nothing does, by the path of its entry."""
        return uncalculated_by_entry(self.journal)

    @cached_property
    def growth(self) -> Mapping[str, Growth]:
        """The growth on agar of each culture of which a colony was measured."""
        return growth_of(self.journal, self.progress)

    @cached_property
    def vigours(self) -> tuple[Vigour, ...]:
        """Whether a line has slowed with its transfers, for each of which that was measured."""
        return tuple(vigours(self.growth, self.lineage))

    # Patches

    @cached_property
    def patches(self) -> tuple[Patch, ...]:
        return patches_of(self.journal)

    @cached_property
    def patch_of(self) -> Mapping[str, Patch]:
        """The patch of each find that is of one."""
        return patch_by_find(self.patches)

    @cached_property
    def seasons(self) -> tuple[Season, ...]:
        """When each species was found or seen fruiting."""
        return seasons_of(self.journal, self.identifications)

    @cached_property
    def permit_uses(self) -> tuple[PermitUse, ...]:
        """What was picked, by permit and day."""
        return permit_uses(self.journal)

    @cached_property
    def weather(self) -> Weather:
        return weather_of(self.journal)

    @cached_property
    def outings(self) -> tuple[Outing, ...]:
        """The days on which somebody looked, with what was found and the weather before."""
        return outings(self.journal, self.weather)

    # Tents

    @cached_property
    def readings(self) -> Mapping[str, Series]:
        return series_of(self.journal)

    @cached_property
    def climate(self) -> Climate:
        return climate_of(self.journal, self.progress, self.readings)

    @cached_property
    def last_readings(self) -> Mapping[str, LastReadings]:
        zone = zone_of(self.journal.settings)
        none_s = self.climate.colonising_s
        return {
            tent.id: last_readings(self.journal, tent, self.readings[tent.id], zone, none_s[tent.id])
            for tent in self.journal.settings.tents
        }

    @cached_property
    def place_yields(self) -> Mapping[str, PlaceYield]:
        """What was harvested in each tent in which a batch stood, by area and day."""
        return yields_by_place(self.journal, self.progress)

    @cached_property
    def power(self) -> PowerAndControl:
        """What each device is powered and controlled by, and how long it has lasted."""
        return power_and_control_of(self.journal)
