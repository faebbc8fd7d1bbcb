"""How a sentence says where something is: by what it stands beside, how far off, on which way, whose the land is."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from journal.sharing.place_words import PLACES, Sentence, is_word

_SOME = ("one of them", "house_part", "counted")


def noun_phrase(sentence: Sentence, at: int, *, needs: tuple[str, ...], definite: bool = True) -> int:
    """The end of a noun phrase at a word that has a noun of one of those classes; 0 where there is none."""
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
    """Whether a word may describe a noun: none of those that join words or tell what is done."""
    means = sentence.meanings[at]
    return not any(
        each in means for each in ("preposition", "definite", "indefinite", "harmless", "indoor", "speaking")
    )


def _is_likeness(sentence: Sentence, at: int) -> bool:
    return any(sentence.after(before, "likeness") >= at for before in range(max(0, at - 4), at))


def _landmark(kind: str) -> Callable[[Sentence, int], int]:
    def rule(sentence: Sentence, at: int) -> int:
        end = sentence.after(at, kind)
        return end if end and not _is_likeness(sentence, at) else 0

    return rule


def _one_of_them(sentence: Sentence, at: int) -> int:
    """`the old wall`, `his field`; not in a room."""
    if sentence.is_indoors or not sentence.after(at, "definite") or _is_likeness(sentence, at):
        return 0
    return noun_phrase(sentence, at, needs=("one of them",))


def _beside(sentence: Sentence, at: int) -> int:
    """`behind the burnt-out tractor`: what something stands beside, out of doors."""
    end = sentence.after(at, "beside")
    if not end or _is_likeness(sentence, at):
        return 0
    if found := noun_phrase(sentence, end, needs=(*PLACES,), definite=False):
        return found
    if sentence.is_indoors:
        return 0
    if found := noun_phrase(sentence, end, needs=_SOME):
        return found
    if not sentence.after(end, "definite") or sentence.after(at, "route") or sentence.indoors:
        return 0
    behind = sentence.after(end, "definite")
    while (
        behind < len(sentence.words)
        and sentence.after(behind, "adjective", "colour")
        and not sentence.words[behind].ends_clause
    ):
        behind += 1
    if behind >= len(sentence.words) or not _is_plain(sentence, behind) or "outdoor" in sentence.meanings[behind]:
        return 0
    return behind + 1


def _counted(sentence: Sentence, at: int) -> int:
    """`the second gate`, `two doors past`."""
    if sentence.is_indoors:
        return 0
    ordinal = sentence.after(at, "ordinal")
    end = ordinal or sentence.after(at, "number")
    if not end and sentence.words[at].written.isdigit():
        end = at + 1
    if not end:
        return 0
    while sentence.after(end, "adjective", "colour") and not sentence.after(end, "counted"):
        end += 1
    found = sentence.after(end, "counted")
    if not found:
        return 0
    if ordinal:
        return found
    return (
        max(sentence.after(found, "beside", "preposition", "side", "compass"), 0) if found < len(sentence.words) else 0
    )


def _side(sentence: Sentence, at: int) -> int:
    """`turn left at the …`, `on your right`."""
    if sentence.is_indoors:
        return 0
    if (end := sentence.after(at, "route")) and (found := sentence.after(end, "side")):
        return found
    if end and sentence.words[end - 1].low in ("left", "right"):
        return end
    end = sentence.after(at, "side")
    if end and sentence.words[at].low != "straight" and end < len(sentence.words) and sentence.words[end].low in _ON:
        return end + 1
    if sentence.words[at].low in ("on", "to", "keep") and (end := sentence.after(at + 1, "definite")):
        return sentence.after(end, "side")
    return 0


_ON = frozenset(("at", "after", "before", "past", "over", "up", "down", "off", "into", "onto", "by"))
"""What goes on behind `left`: `left at the …`."""


def _route(sentence: Sentence, at: int) -> int:
    """`follow the burn`, `park at the …`, `get off at …`."""
    end = sentence.after(at, "route")
    if not end or sentence.is_indoors:
        return 0
    for _ in range(2):
        end = max(end, sentence.after(end, "preposition"))
    return noun_phrase(sentence, end, needs=(*PLACES, *_SOME), definite=True)


def _seen(sentence: Sentence, at: int) -> int:
    """`you can see the mast`, `within earshot of …`."""
    end = sentence.after(at, "sees")
    if not end or sentence.is_indoors or sentence.indoors > 1:
        return 0
    for step in range(end, min(end + 5, len(sentence.words))):
        if found := noun_phrase(sentence, step, needs=(*PLACES, *_SOME, "owner"), definite=False):
            return found
        if (after := sentence.after(step, "definite")) and after < len(sentence.words) and _is_plain(sentence, after):
            return after + 1
    return 0


def _sun(sentence: Sentence, at: int) -> int:
    """`the sun sets behind the mast`, `cut off at high water`."""
    end = sentence.after(at, "sun")
    if not end or sentence.is_indoors or sentence.indoors:
        return 0
    for step in range(end, min(end + 5, len(sentence.words))):
        if (after := sentence.after(step, "beside", "preposition")) and (
            found := noun_phrase(sentence, after, needs=(*PLACES, *_SOME), definite=False)
        ):
            return found
    return end if "tide" in sentence.words[end - 1].low or "water" in sentence.words[end - 1].low else 0


def _owner(sentence: Sentence, at: int) -> int:
    if sentence.is_indoors:
        return 0
    return sentence.after(at, "owner")


def _possessed(sentence: Sentence, at: int) -> int:
    """`Mrs Hale's orchard`, `the neighbour's wood`."""
    if sentence.is_indoors or not sentence.words[at].low.endswith(("'s", "s'")):
        return 0
    end = at + 1
    while sentence.after(end, "adjective", "colour") and not sentence.after(end, "possessed_land"):
        end += 1
    return sentence.after(end, "possessed_land", *PLACES)


_CODE = re.compile(r"(?:[0-9]{1,5}[a-z]{0,2}|[a-z]{1,3}[0-9]{1,5}[a-z]?|[a-z]|[ivx]{1,5})", re.IGNORECASE)
_ROAD = re.compile(r"[ABMEDLNK][0-9]{1,4}[a-z]?|DK[0-9]{1,3}|DW[0-9]{2,3}|R[0-9]{2,4}")


def _code(sentence: Sentence, at: int) -> int:
    """`compartment 214f`, `peg 9`."""
    end = sentence.after(at, "code_noun")
    if not end or sentence.is_indoors:
        return 0
    if at and sentence.after(at - 1, "labels") >= at and not sentence.words[at - 1].ends_clause:
        return 0
    if end < len(sentence.words) and sentence.words[end].low in (
        "no",
        "nr",
        "number",
        "numer",
        "is",
        "ref",
        "reference",
    ):
        end += 1
    if end >= len(sentence.words):
        return 0
    word = sentence.words[end]
    if not _CODE.fullmatch(word.written) or (
        not any(sign.isdigit() for sign in word.low) and not word.written.isupper()
    ):
        return 0
    if word.written.isalpha() and word.written in ("I", "A"):
        return 0
    more = end + 1
    if more < len(sentence.words) and len(sentence.words[more].low) == 1 and word.written.isdigit():
        more += 1
    return more


def _road(sentence: Sentence, at: int) -> int:
    word = sentence.words[at]
    if not _ROAD.fullmatch(word.written) or sentence.is_indoors or sentence.after(at - 1, "labels"):
        return 0
    before = sentence.words[at - 1].low if at else ""
    is_led_to = before in ("the", "on", "off", "along", "via", "from", "to", "by", "of", "near", "past")
    return at + 1 if is_led_to or len(word.written) > 3 else 0


def _code_alone(sentence: Sentence, at: int) -> int:
    return 0 if sentence.is_indoors else sentence.after(at, "code_alone")


def _quantity(sentence: Sentence, at: int) -> int:
    """The end of a number, in digits or words."""
    end = at
    for _ in range(3):
        if end >= len(sentence.words):
            break
        low = sentence.words[end].low
        if low[0].isdigit() and low.isdigit():
            end += 1
        else:
            end = max(end, sentence.after(end, "number")) if end > at or sentence.after(end, "number") else end
    return end if end > at else 0


_GLUED = re.compile(r"[0-9]+(?P<unit>km|mi|m|yds?|ft|min|mins|h)")


def _distance(sentence: Sentence, at: int) -> int:
    """`two miles from`, `40 paces past the gate`, `ten minutes on foot`."""
    glued = _GLUED.fullmatch(sentence.words[at].low)
    end = at + 1 if glued else _quantity(sentence, at)
    if not end:
        return 0
    if glued:
        far, near, time = (
            glued["unit"] in each for each in (("km", "mi"), ("m", "yd", "yds", "ft"), ("min", "mins", "h"))
        )
        behind = end
    else:
        far, near, time = (bool(sentence.after(end, each)) for each in ("far_unit", "near_unit", "time_unit"))
        behind = sentence.after(end, "far_unit", "near_unit", "time_unit")
    if not (far or near or time) or sentence.is_indoors or sentence.indoors > 1:
        return 0
    if far:
        return behind
    for step in range(behind, min(behind + 3, len(sentence.words))):
        if sentence.after(step, "travel"):
            return sentence.after(step, "travel")
        if not time and (after := sentence.after(step, "compass", "beside")):
            return after
        after = sentence.after(step, "beside", "preposition")
        if after and (found := noun_phrase(sentence, after, needs=(*PLACES, *_SOME), definite=False)):
            return found
    return 0


def _height(sentence: Sentence, at: int) -> int:
    """`at 410 m`."""
    if sentence.is_indoors or sentence.words[at].low not in ("at", "about", "around", "above", "below", "to", "near"):
        return 0
    if at + 1 >= len(sentence.words):
        return 0
    number = re.fullmatch(r"([0-9]{2,4})(m|ft)?", sentence.words[at + 1].low)
    if not number or int(number[1]) < 60:
        return 0
    return at + 2 if number[2] else sentence.after(at + 2, "near_unit")


def _compass(sentence: Sentence, at: int) -> int:
    """`north of the loch`, `the east bank`."""
    end = sentence.after(at, "compass")
    if not end or sentence.is_indoors:
        return 0
    if end < len(sentence.words) and sentence.words[end].low in ("of", "from"):
        return noun_phrase(sentence, end + 1, needs=(*PLACES, *_SOME), definite=False)
    return sentence.after(end, *PLACES, "one of them") if len(sentence.words[at].low) > 2 else 0


def _facade(sentence: Sentence, at: int) -> int:
    """`red door`, `number 14`."""
    if sentence.is_indoors:
        return 0
    end = sentence.after(at, "colour")
    while end and sentence.after(end, "colour", "adjective") and not sentence.after(end, "house_part"):
        end += 1
    return sentence.after(end, "house_part") if end else 0


def _nicknamed(sentence: Sentence, at: int) -> int:
    end = sentence.after(at, "nicknamed")
    return min(end + 3, len(sentence.words)) if end and not sentence.is_indoors else 0


def _name(sentence: Sentence, at: int) -> int:
    return sentence.after(at, "name")


def _small_name(sentence: Sentence, at: int) -> int:
    """`near kilbraith`: a word that no dictionary has, behind one that tells where."""
    end = sentence.after(at, "beside", "preposition")
    if sentence.language != "english" or not end or end >= len(sentence.words) or sentence.is_indoors:
        return 0
    word = sentence.words[end]
    if sentence.words[end - 1].ends_clause or not word.written.islower() or not word.low.isalpha() or len(word.low) < 4:
        return 0
    if (
        sentence.words[end - 1].low in ("of", "for", "with", "into", "to", "for", "until", "by")
        or is_word(word.low)
        or sentence.meanings[end]
    ):
        return 0
    return end + 1


Rule = Callable[[Sentence, int], int]
"""From a sentence and a word where something begins to the word that it ends before; 0 where nothing does."""

_RULES: dict[str, tuple[tuple[str, Rule], ...]] = {
    **{kind: ((kind, _landmark(kind)),) for kind in PLACES},
    "name": (("name", _name),),
    "beside": (("name", _small_name), ("landmark", _beside)),
    "preposition": (("name", _small_name), ("height", _height), ("direction", _side)),
    "nicknamed": (("name", _nicknamed),),
    "owner": (("owner", _owner),),
    "genitive": (("owner", _possessed),),
    "definite": (("landmark", _one_of_them),),
    "ordinal": (("direction", _counted),),
    "number": (("direction", _counted), ("direction", _distance)),
    "digits": (("direction", _counted), ("direction", _distance)),
    "side": (("direction", _side),),
    "route": (("direction", _side), ("direction", _route)),
    "compass": (("direction", _compass),),
    "sees": (("view", _seen),),
    "sun": (("view", _sun),),
    "colour": (("house", _facade),),
    "code_noun": (("code", _code),),
    "code_alone": (("code", _code_alone),),
    "letters and digits": (("road", _road),),
}
"""By the class of their first word."""


def hits_in(sentence: Sentence) -> Iterator[tuple[int, int, str]]:
    """Where a sentence with its names says where something is: (first word, word that it ends before, kind)."""
    for at, means in enumerate(sentence.meanings):
        for name in means:
            for kind, rule in _RULES.get(name, ()):
                if end := rule(sentence, at):
                    yield at, end, kind
