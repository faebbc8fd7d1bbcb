"""How a sentence says where something is: what it is beside, how far away, along which path, on whose land."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from journal.sharing.place_codes import code, code_alone, height, odd_code, road_number, spoken_numbers, two_groups
from journal.sharing.place_names import name, nicknamed, unknown
from journal.sharing.place_words import PLACES, Sentence, function_words

_SOME = ("one of them", "house_part", "counted")


def noun_phrase(sentence: Sentence, at: int, *, needs: tuple[str, ...], definite: bool = True) -> int:
    """The end of a noun phrase at a word, if it has a noun of one of these classes; otherwise 0."""
    start = at
    is_definite = False
    for _ in range(2):
        if end := sentence.after(at, "definite", "ordinal", "number", "side"):
            is_definite, at = True, end
        elif not definite and (end := sentence.after(at, "indefinite")):
            at = end
    found = 0
    for _ in range(5):
        if at >= len(sentence.words) or (at > start and sentence.words[at - 1].ends_clause):
            break
        means = sentence.meanings[at]
        if end := sentence.after(at, "name"):
            found = end
            at = end
            continue
        is_definite = is_definite or sentence.words[at].low.endswith(("'s", "s'"))
        if (end := sentence.after(at, *needs)) and (is_definite or not definite):
            found = max(found, end)
            at = end
        elif any(each in means for each in ("adjective", "colour", "compass", "ordinal")) or _is_plain(sentence, at):
            at += 1
        else:
            break
    return found


def _is_plain(sentence: Sentence, at: int) -> bool:
    """Whether a word may describe a noun: it is neither a conjunction nor a verb."""
    if sentence.words[at].low in function_words("english") or len(sentence.words[at].low) < 3:
        return False
    return not any(each in sentence.meanings[at] for each in _JOINING)


_JOINING = ("preposition", "definite", "indefinite", "harmless", "indoor", "speaking", "beside")


def _is_likeness(sentence: Sentence, at: int) -> bool:
    return any(sentence.after(before, "likeness") >= at for before in range(max(0, at - 4), at))


def _landmark(kind: str) -> Callable[[Sentence, int], int]:
    def rule(sentence: Sentence, at: int) -> int:
        end = sentence.after(at, kind)
        return end if end and not _is_likeness(sentence, at) else 0

    return rule


def _one_of_them(sentence: Sentence, at: int) -> int:
    """`the old wall`, `his field`; not in a room."""
    is_number = not sentence.after(at, "definite")
    if (is_number and sentence.indoors >= 1) or _is_likeness(sentence, at):
        return 0
    return noun_phrase(sentence, at, needs=("one of them",))


def _beside(sentence: Sentence, at: int) -> int:
    """`behind the burnt-out tractor`: what something is beside, outdoors."""
    end = sentence.after(at, "beside")
    if not end or _is_likeness(sentence, at):
        return 0
    if found := noun_phrase(sentence, end, needs=(*PLACES,), definite=False):
        return found
    if sentence.is_indoors:
        return 0
    if found := noun_phrase(sentence, end, needs=_SOME):
        return found
    return _something(sentence, end)


def _at_something(sentence: Sentence, at: int) -> int:
    """`by the bathtub`, out in the woods."""
    end = sentence.after(at, "preposition")
    word = sentence.words[at].low
    if not end or word in _NOT_WHERE or _is_likeness(sentence, at):
        return 0
    return 0 if word in _OFTEN_NOT_WHERE and (sentence.indoors or not sentence.outdoors) else _something(sentence, end)


_NOT_WHERE = frozenset(("of", "for", "with", "within", "until", "till", "upon"))
_OFTEN_NOT_WHERE = frozenset(("in", "on", "to", "from"))
"""Phrases that say where something is if the sentence is about woods, and may mean anything otherwise."""


def _something(sentence: Sentence, at: int) -> int:
    """The end of a thing with an article at a word, of any kind except those that may be beside anything; 0 if there is
    none, or if the sentence is about a room."""
    end = sentence.after(at, "definite")
    if sentence.language != "english" or not end or sentence.indoors >= 1 or sentence.words[end - 1].ends_clause:
        return 0
    for _ in range(3):
        if (
            end >= len(sentence.words)
            or not _is_plain(sentence, end)
            or sentence.after(end, "plain", "ordinal", "kinds")
        ):
            return 0
        end += 1
        is_last = end == len(sentence.words) or sentence.words[end - 1].ends_clause or not _is_plain(sentence, end)
        if is_last or not sentence.after(end - 1, "adjective", "colour"):
            break
    means = sentence.meanings[end - 1]
    return 0 if any(each in means for each in ("outdoor", "half_indoor", "time_unit", "adjective")) else end


def _counted(sentence: Sentence, at: int) -> int:
    """`the second gate`, `two doors past`."""
    ordinal = sentence.after(at, "ordinal")
    end = ordinal or sentence.after(at, "number")
    if not end and sentence.words[at].written.isdigit():
        end = at + 1
    if not end:
        return 0
    while sentence.after(end, "adjective", "colour") and not sentence.after(end, "counted"):
        end += 1
    found = sentence.after(end, "counted")
    if not found and ordinal:
        return _nth(sentence, ordinal)
    if not found:
        return 0
    if ordinal:
        return found
    return (
        max(sentence.after(found, "beside", "preposition", "side", "compass"), 0) if found < len(sentence.words) else 0
    )


def _nth(sentence: Sentence, at: int) -> int:
    """The end of whatever is counted, if the sentence says from where: `second yew from the porch`."""
    if at >= len(sentence.words) or not _is_plain(sentence, at) or sentence.indoors >= 1:
        return 0
    if any(each in sentence.meanings[at] for each in ("plain", "half_indoor", "time_unit", "trade", "verbs")):
        return 0
    return sentence.after(at + 1, "beside", "preposition") if not sentence.words[at].ends_clause else 0


def _side(sentence: Sentence, at: int) -> int:
    """`turn left at the …`, `on your right`."""
    if (end := sentence.after(at, "route")) and (found := sentence.after(end, "side")):
        return found
    if end and sentence.words[end - 1].low in ("left", "right"):
        return end
    end = sentence.after(at, "side")
    if end and sentence.words[at].low != "straight" and end < len(sentence.words) and sentence.words[end].low in _ON:
        return end + 1
    if end and end < len(sentence.words) and sentence.words[end].low in ("again", "then"):
        return end + 1
    if sentence.words[at].low in ("on", "to", "keep") and (end := sentence.after(at + 1, "definite")):
        return sentence.after(end, "side")
    return 0


_ON = frozenset(("at", "after", "before", "past", "over", "up", "down", "off", "into", "onto", "by"))
"""What follows `left`: `left at the …`."""


def _route(sentence: Sentence, at: int) -> int:
    """`follow the burn`, `park at the …`, `get off at …`."""
    end = sentence.after(at, "route")
    if not end:
        return 0
    for _ in range(2):
        end = max(end, sentence.after(end, "preposition"))
    return noun_phrase(sentence, end, needs=(*PLACES, *_SOME), definite=True)


def _seen(sentence: Sentence, at: int) -> int:
    """`you can see the mast`, `within earshot of …`."""
    end = sentence.after(at, "sees")
    if not end or sentence.indoors > 1:
        return 0
    for step in range(end, min(end + 5, len(sentence.words))):
        if sentence.words[step - 1].ends_clause:
            break
        if found := noun_phrase(sentence, step, needs=(*PLACES, *_SOME, "owner"), definite=False):
            return found
        if (after := sentence.after(step, "definite")) and after < len(sentence.words) and _is_plain(sentence, after):
            return after + 1
    return 0


def _sun(sentence: Sentence, at: int) -> int:
    """`the sun sets behind the mast`, `cut off at high water`."""
    end = sentence.after(at, "sun")
    if not end or sentence.indoors >= 1:
        return 0
    for step in range(end, min(end + 5, len(sentence.words))):
        if (after := sentence.after(step, "beside", "preposition")) and (
            found := noun_phrase(sentence, after, needs=(*PLACES, *_SOME), definite=False)
        ):
            return found
    return end if any(one in sentence.words[end - 1].low for one in _TIDAL) else 0


_TIDAL = ("tide", "water", "ebb", "neap", "springs", "awash")


def _owner(sentence: Sentence, at: int) -> int:
    return sentence.after(at, "owner")


def _possessed(sentence: Sentence, at: int) -> int:
    """`Mrs Hale's orchard`, `the neighbour's wood`."""
    if not sentence.words[at].low.endswith(("'s", "s'")):
        return 0
    end = at + 1
    while sentence.after(end, "adjective", "colour") and not sentence.after(end, "possessed_land"):
        end += 1
    return sentence.after(end, "possessed_land", *PLACES)


def _land_of(sentence: Sentence, at: int) -> int:
    """`MOD land`."""
    written = sentence.words[at - 1].written if at else ""
    is_short_name = len(written) > 1 and written.isupper() and written.isalpha()
    return sentence.after(at, "possessed_land") if is_short_name else 0


def _quantity(sentence: Sentence, at: int) -> int:
    """The end of a number, in digits or words; of `an` before a unit."""
    end = at
    for _ in range(5):
        if end >= len(sentence.words):
            break
        more = (
            end + 1
            if sentence.words[end].low[0].isdigit() and sentence.words[end].low[-1].isdigit()
            else sentence.after(end, "number")
        )
        if not more and not (end > at and sentence.words[end].low == "and"):
            break
        end = more or end + 1
    if end == at and (more := sentence.after(at, "indefinite")) and sentence.after(more, "time_unit", "far_unit"):
        return more
    return end if end > at else 0


_GLUED = re.compile(r"[0-9]+(?:(?P<far_unit>km|mi)|(?P<near_unit>m|yds?|ft)|(?P<time_unit>mins?|h))")


def _measured(sentence: Sentence, at: int) -> tuple[int, str]:
    """The end of a number with a unit at a word, and the unit's class: `40m`, `two miles`; 0 if there is none."""
    if glued := _GLUED.fullmatch(sentence.words[at].low):
        return at + 1, glued.lastgroup or ""
    if end := _quantity(sentence, at):
        for unit in ("far_unit", "near_unit", "time_unit"):
            if behind := sentence.after(end, unit):
                return behind, unit
    return 0, ""


def _distance(sentence: Sentence, at: int) -> int:
    """`two miles from`, `40 paces past the gate`, `ten minutes on foot`."""
    behind, unit = _measured(sentence, at)
    if not behind or sentence.indoors > 1:
        return 0
    words = sentence.words
    is_long = any(word.low in ("hundred", "thousand") for word in words[at:behind])
    if unit == "far_unit" or (unit == "near_unit" and is_long):
        return behind
    if unit == "time_unit" and [word.low for word in words[behind : behind + 2]] in _FROM_HERE:
        return behind + 2
    for step in range(behind, min(behind + 3, len(words))):
        if words[step - 1].ends_clause:
            break
        if travelled := sentence.after(step, "travel"):
            return travelled
        if words[step].low in ("in", "out", "up", "down", "on") and words[step].ends_clause:
            return step + 1
        if unit == "near_unit" and (side := sentence.after(step, "compass", "beside")):
            return side
        place = sentence.after(step, "beside", "preposition")
        if place and (found := noun_phrase(sentence, place, needs=(*PLACES, *_SOME), definite=False)):
            return found
    return 0


_FROM_HERE = [["from", where] for where in ("where", "home", "here", "there", "us")]


def _compass(sentence: Sentence, at: int) -> int:
    """`north of the loch`, `the east bank`."""
    end = sentence.after(at, "compass")
    if not end:
        return 0
    if end < len(sentence.words) and sentence.words[end].low in ("of", "from"):
        return noun_phrase(sentence, end + 1, needs=(*PLACES, *_SOME), definite=False)
    return sentence.after(end, *PLACES, "one of them") if len(sentence.words[at].low) > 2 else 0


def _facade(sentence: Sentence, at: int) -> int:
    """`red door`, `number 14`."""
    end = sentence.after(at, "colour")
    while end and sentence.after(end, "colour", "adjective") and not sentence.after(end, "house_part"):
        end += 1
    return sentence.after(end, "house_part") if end else 0


def _fixture(sentence: Sentence, at: int) -> int:
    """`stone lions`, `choir practice`, in a sentence that is not about a room."""
    return sentence.after(at, "fixture") if sentence.indoors < 1 and not _is_likeness(sentence, at) else 0


def _coloured(sentence: Sentence, at: int) -> int:
    """`the purple route`, `blue diamond`, but not a part of a mushroom."""
    end = sentence.after(at, "colour")
    if not end or sentence.indoors >= 1 or sentence.language != "english" or sentence.words[end - 1].ends_clause:
        return 0
    if (
        end >= len(sentence.words)
        or not _is_plain(sentence, end)
        or sentence.words[end].low.endswith(("ish", "er", "ed", "ing"))
    ):
        return 0
    means = sentence.meanings[end]
    return 0 if any(each in means for each in _PLAIN) else end + 1


_PLAIN = ("plain", "trade", "kinds", "outdoor", "half_indoor", "colour", "adjective", "verbs", "number", "time_unit")


Rule = Callable[[Sentence, int], int]
"""From a sentence and the word where a phrase begins to the word after its end; 0 if there is no phrase."""

_ANYWHERE: dict[str, tuple[tuple[str, Rule], ...]] = {
    **{kind: ((kind, _landmark(kind)),) for kind in PLACES},
    "name": (("name", name),),
    "beside": (("landmark", _beside),),
}
_NOT_IN_A_ROOM: dict[str, tuple[tuple[str, Rule], ...]] = {
    "preposition": (("landmark", _at_something), ("direction", _side)),
    "nicknamed": (("name", nicknamed),),
    "owner": (("owner", _owner),),
    "genitive": (("owner", _possessed),),
    "possessed_land": (("owner", _land_of),),
    "definite": (("landmark", _one_of_them),),
    "ordinal": (("direction", _counted),),
    "number": (
        ("landmark", _one_of_them),
        ("position", spoken_numbers),
        ("direction", _counted),
        ("direction", _distance),
    ),
    "digits": (("code", two_groups), ("direction", _counted), ("direction", _distance), ("height", height)),
    "side": (("direction", _side),),
    "route": (("direction", _side), ("direction", _route)),
    "compass": (("direction", _compass),),
    "sees": (("view", _seen),),
    "sun": (("view", _sun),),
    "colour": (("house", _facade), ("landmark", _coloured)),
    "fixture": (("landmark", _fixture),),
    "indefinite": (("direction", _distance),),
    "code_noun": (("code", code),),
    "code_alone": (("code", code_alone),),
    "letters and digits": (("road number", road_number), ("code", odd_code)),
}
"""By the class of their first word: the kind of the flag, and the rule."""


def hits_in(sentence: Sentence) -> Iterator[tuple[int, int, str]]:
    """The parts of a sentence, with its names, that say where something is: (first word, word after the last, kind)."""
    if sentence.language == "unknown":
        yield 0, len(sentence.words), "language"
    tables = (_ANYWHERE,) if sentence.is_indoors else (_ANYWHERE, _NOT_IN_A_ROOM)
    for at, means in enumerate(sentence.meanings):
        for kind, rule in (one for table in tables for each in means for one in table.get(each, ())):
            if end := rule(sentence, at):
                yield at, end, kind
        if not means and (end := unknown(sentence, at)):
            yield at, end, "name"
