"""Spawn rate: how much spawn went into how much substrate, on the wet and on the dry basis."""

from __future__ import annotations

WET_SOURCE = (
    "Royse, trials of spawn rate on Pleurotus cornucopiae: 1.25 to 5 % of the wet weight of substrate "
    "(spawn as it is, the block before spawn)"
)
DRY_SOURCE = "common practice: spawn as it is over the dry substance of the substrate; always say which basis"


def spawn_rate_wet_pct(spawn_g: float, wet_g: float) -> float | None:
    """Spawn in % of the wet substrate, spawn not counted in; None where there is no substrate, or less than no spawn.

    *Source:* D. J. Royse, spawn rates of 1.25 to 5 % of wet weight (his abstract; name and title from memory).
    """
    return _rate_pct(spawn_g, wet_g)


def spawn_rate_dry_pct(spawn_g: float, dry_g: float) -> float | None:
    """Spawn, as it is, in % of the dry substance of the substrate: *common practice*. None as above."""
    return _rate_pct(spawn_g, dry_g)


def spawn_for_rate_g(wet_g: float, rate_pct: float) -> float | None:
    """Spawn for a rate of the wet substrate; None where the rate or mass is below 0."""
    return None if wet_g < 0 or rate_pct < 0 else wet_g * rate_pct / 100


def spawn_for_share_of_all_g(wet_g: float, share_pct: float) -> float | None:
    """Spawn that makes up a share of substrate and spawn together; None where the share is not from 0 to below 100."""
    return wet_g * share_pct / (100 - share_pct) if wet_g >= 0 and 0 <= share_pct < 100 else None


def _rate_pct(spawn_g: float, substrate_g: float) -> float | None:
    return spawn_g / substrate_g * 100 if substrate_g > 0 and spawn_g >= 0 else None
