"""Notations of more than one number: bands, hours of light, exhaust cycles, parts of a mix."""

from __future__ import annotations

import re
from collections.abc import Callable

from journal.model import Band, Exhaust, LightHours, MixPart
from journal.problems import Unreadable, shortened
from journal.quantities import Read, duration_min, mass_g, percentage, temperature_c, tidied

_NUMBER = r"[+-]?[0-9][0-9.,]*"
_BAND = re.compile(rf"(?P<low>{_NUMBER}) ?(?P<unit>[^0-9]*?) ?(?:[-–—]|\bto\b) ?(?P<high>{_NUMBER}) ?(?P<last>[^0-9]*)")


def _band(text: str, reader: Callable[[str], Read[float]], example: str) -> Read[Band]:
    plain = tidied(text)
    found = _BAND.fullmatch(plain)
    if not found:
        raise Unreadable(f"{shortened(plain)} is no band", f"write both ends, like {example}")
    high = reader(f"{found['high']} {found['last']}")
    low = reader(f"{found['low']} {found['unit'] or found['last']}")
    if low.value > high.value:
        raise Unreadable(f"{shortened(plain)} runs downwards", f"write the lower end first, like {example}")
    return Read(Band(low.value, high.value), low.remarks + high.remarks)


def humidity_band(text: str) -> Read[Band]:
    """A band in %, within 0 to 100: `85–95 %`, `85-95 %`, `85 to 95 %`."""
    band = _band(text, percentage, "85–95 %")
    if band.value.low < 0 or band.value.high > 100:
        return band.noting(f"{shortened(text)} leaves 0 to 100 %", "look at it again")
    return band


def temperature_band(text: str) -> Read[Band]:
    """A band in °C: `12–18 °C`, `54 to 64 °F`, `-2–4 °C`."""
    return _band(text, temperature_c, "12–18 °C")


_LIGHT_EXAMPLE = "write it like 12 h on, 12 h off, or 12:12, or 06:30–18:30"
_CLOCK = r"([01]?[0-9]|2[0-4]):([0-5][0-9])"
_CLOCK_TIMES = re.compile(rf"{_CLOCK} ?(?:[-–—]|\bto\b) ?{_CLOCK}")
_HOURS = r"([0-9]{1,2}(?:[.,][0-9]+)?)"
_ON_AND_OFF = re.compile(
    rf"{_HOURS} ?(?:h|hours?|hrs?) on ?[,/;:+]? ?(?:and )?{_HOURS} ?(?:h|hours?|hrs?) off", re.IGNORECASE
)
_RATIO = re.compile(rf"{_HOURS} ?[:/] ?{_HOURS}")


def light_hours(text: str) -> Read[LightHours]:
    """Hours of light a day: `12 h on, 12 h off`, `12:12`, `12/12`, `06:30–18:30`, or `on` and `off` for all and none.

    Hours on and off make 24; clock times may run over midnight and are not the same.
    """
    plain = tidied(text)
    if plain.casefold() in {"on", "off"}:
        return Read(LightHours(24.0 if plain.casefold() == "on" else 0.0))
    if clock := _CLOCK_TIMES.fullmatch(plain):
        return Read(_between_clock_times(plain, *(int(part) for part in clock.groups())))
    shares = _ON_AND_OFF.fullmatch(plain) or _RATIO.fullmatch(plain)
    if not shares:
        raise Unreadable(f"{shortened(plain)} is no light and dark", _LIGHT_EXAMPLE)
    on_h, off_h = (float(part.replace(",", ".")) for part in shares.groups())
    if abs(on_h + off_h - 24) > 1e-9:
        raise Unreadable(f"hours on and off in {shortened(plain)} make {on_h + off_h:g}, not 24", _LIGHT_EXAMPLE)
    return Read(LightHours(on_h))


def _between_clock_times(plain: str, from_h: int, from_min: int, to_h: int, to_min: int) -> LightHours:
    lit_from, lit_to = 60 * from_h + from_min, 60 * to_h + to_min
    if max(lit_from, lit_to) > 24 * 60 or lit_from == lit_to:
        raise Unreadable(f"{shortened(plain)} are no two times of a day", _LIGHT_EXAMPLE)
    lit_min = (lit_to - lit_from) % (24 * 60) or 24 * 60
    return LightHours(lit_min / 60, f"{from_h:02}:{from_min:02}", f"{to_h:02}:{to_min:02}")


_CYCLE = re.compile(r"(?:(?P<on>[0-9].*?) (?:on )?)?every (?P<every>.+)", re.IGNORECASE)


def exhaust(text: str) -> Read[Exhaust]:
    """How an exhaust runs: `2 min every 15 min`, `every 15 min` (run time unknown), `on`, `off`."""
    plain = tidied(text)
    if plain.casefold() == "on":
        return Read(Exhaust("on"))
    if plain.casefold() == "off":
        return Read(Exhaust("off"))
    found = _CYCLE.fullmatch(plain)
    if not found:
        raise Unreadable(f"{shortened(plain)} is no exhaust cycle", "write it like 2 min every 15 min, or on, or off")
    every = duration_min(found["every"] if found["every"][0].isdigit() else f"1 {found['every']}")
    on = duration_min(found["on"]) if found["on"] else None
    if every.value <= 0 or (on and on.value > every.value):
        raise Unreadable(f"{shortened(plain)} runs longer than it waits", "write it like 2 min every 15 min")
    remarks = every.remarks + (on.remarks if on else ())
    return Read(Exhaust("cycle", on.value if on else None, every.value), remarks)


_AMOUNT = r"[0-9][0-9.,]*(?: [0-9]{3})* ?[a-z]+(?: [0-9][0-9.,]* ?oz)?\.?"
_NAME_FIRST = re.compile(rf"(?P<name>.*?[^\s:=]) ?[:=]? (?P<mass>{_AMOUNT})", re.IGNORECASE)
_MASS_FIRST = re.compile(rf"(?P<mass>{_AMOUNT}) (?:of )?(?P<name>[^0-9].*)", re.IGNORECASE)


def mix_part(text: str) -> Read[MixPart]:
    """One part of a mix, name and mass in either order: `oak pellets 5 kg`, `5 lb 2 oz wheat bran`."""
    plain = tidied(text)
    for pattern in (_NAME_FIRST, _MASS_FIRST):
        if found := pattern.fullmatch(plain):
            name = found["name"]
            return mass_g(found["mass"]).then(lambda g: MixPart(name, g))  # noqa: B023
    raise Unreadable(f"{shortened(plain)} has no mass", "write a name and a mass, like oak pellets 5 kg")
