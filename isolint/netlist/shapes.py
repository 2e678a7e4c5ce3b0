"""From a card taken apart to an element: which parts are nodes, model, value and controls, letter by letter."""

from __future__ import annotations

import re
from sys import intern

from isolint.netlist.card_values import doubt, read_value
from isolint.netlist.cards import Number
from isolint.netlist.controlled import behavioural, controlled, sensed
from isolint.netlist.element import BadCard, CardRemark, Element, Tails, unbraced
from isolint.netlist.malformed import letter_of
from isolint.netlist.sources import source
from isolint.netlist.syntax import Parsed, Piece, flat, node_name, parse_card, tails_of, value_of

PLAIN_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?\Z")
_FLAGS = frozenset({"off", "on"})
_UNITS = re.compile(r"(?:[kmunpf]|meg)?(?:ohms?|f|farad|h|henry|v|a|hz)?\Z", re.IGNORECASE)
_VALUE_KEYS: dict[str, tuple[str, ...]] = {
    "R": ("r", "value", "val", "resistance"),
    "C": ("c", "value", "val", "capacitance"),
}
_VALUE_KEYS |= {"L": ("l", "value", "val", "inductance"), "K": ("k", "coupling", "value")}


def element(text: str) -> Element:
    """Read an element card through the grammar; raise `BadCard` where it can't be read."""
    found = _shaped(text)
    if "{" in text and any(node[:1] == "{" for node in (*found.nodes, *found.controls)):
        found = _with_computed_nodes(found, text)
    return found._replace(nodes=tuple(map(intern, found.nodes)), controls=tuple(map(intern, found.controls)))


def _with_computed_nodes(found: Element, text: str) -> Element:
    """Remark nodes that are expressions: which nets they are is known when all parameters are."""
    braced = sum(node[:1] == "{" for node in found.nodes)
    if (
        found.letter in "RCLVI"
        and found.nodes[-1][:1] == "{"
        and text.rstrip()[-1] == "}"
        and text.count("{") == braced
    ):
        raise BadCard("has a node written as an expression and no value", 0)
    return found._replace(
        remarks=(*found.remarks, CardRemark("note", "has a node written as an expression", "", computed=True))
    )


def _shaped(text: str) -> Element:
    if text[0] in "xX":
        text = unbraced(text)
    parsed = parse_card(text)
    letter = letter_of(text)
    if letter in "RCL":
        return _passive(letter, parsed, text)
    if letter == "K":
        return _coupling(parsed, text)
    if letter in "VI":
        return source(letter, parsed, text, tails_of(parsed.tails, text))
    if letter in "DQJM":
        return _device(letter, parsed, text)
    if letter in "EG":
        return controlled(letter, parsed, text)
    if letter in "FH":
        return sensed(letter, parsed, text)
    if letter == "B":
        return behavioural(parsed, text)
    if letter in "SW":
        return _switch(letter, parsed, text)
    if letter == "X":
        return _instance(parsed, text)
    return _black_box(letter, parsed, text)


def _is_value(part: Piece) -> bool:
    if part.kind in ("BRACED", "QUOTED"):
        return True
    return part.kind == "NUMBER" and read_value(part.text) is not None


def _passive(letter: str, parsed: Parsed, text: str) -> Element:
    tails = tails_of(parsed.tails, text)
    items = list(parsed.items)
    model: str | None = None
    value: Number | None = None
    remarks: list[CardRemark] = []
    if items and not _is_value(items[0]):
        model = items.pop(0).text
    if items and _is_value(items[0]):
        part = items.pop(0)
        value = value_of(part)
        question = doubt(letter, part.text)
        if question is not None:
            remarks.append(CardRemark("note", *question, unit=True))
        if items and text[part.end : items[0].start].strip() == "," and "," in text[part.end : part.end + 1]:
            remarks.append(
                CardRemark("warning", "has a comma in its value, which then is not known", "write a decimal point")
            )
            items.pop(0)
            value = None
        elif items and items[0].kind == "WORD" and _UNITS.match(items[0].text):
            shown = text[part.start : items[0].end]
            cure = f"write {shown.replace(' ', '')}"
            remarks.append(CardRemark("warning", f"has a blank in its value `{shown}`, which then is not known", cure))
            items.pop(0)
            value = None
        elif items and items[0].kind == "WORD" and model is None:
            model = items.pop(0).text
    for key in _VALUE_KEYS[letter]:
        stated = tails.get(key)
        if value is None and stated is not None and not isinstance(stated, str) and not remarks:
            value = stated
            del tails[key]
    if items and not all(_is_value(item) or item.text.lower() in _FLAGS for item in items):
        raise BadCard("can't be read", next(item.start for item in items if not _is_value(item)))
    return Element(letter, parsed.name, parsed.pairs[0], model, value, (), tails or None, tuple(remarks))


def _coupling(parsed: Parsed, text: str) -> Element:
    names: list[str] = []
    items = list(parsed.items)
    while items and not _is_value(items[0]):
        names.append(items.pop(0).text)
    tails = tails_of(parsed.tails, text)
    value: Number | None = None
    model: str | None = None
    if items:
        value = value_of(items.pop(0))
        if items:
            model = items.pop(0).text
    else:
        stated = next((tails.pop(key) for key in _VALUE_KEYS["K"] if key in tails), None)
        value = None if isinstance(stated, str) else stated
        if value is None and len(names) > 1 and not tails:
            # `K1 L1 L2 kparam`: the coefficient is a parameter by its bare name.
            value = value_of(parsed.items[len(names) - 1])
            names.pop()
    if not names or value is None or items:
        raise BadCard("can't be read", len(text))
    if len(names) > 2 and not tails and not any(name[0] in "lL" or "." in name for name in names):
        word = parsed.items[len(names)] if len(parsed.items) > len(names) else None
        if word is not None and word.kind == "WORD" and read_value(word.text) is None:
            # Nets and a part: a relay whose reference begins with the same letter.
            return Element("U", parsed.name, tuple(names), word.text, None)
    return Element("K", parsed.name, (), model, value, tuple(names), tails or None)


_LEAST = {"D": 2, "J": 3, "Q": 3, "M": 3}
_MOST = {"D": 3, "J": 3, "Q": 5, "M": 7}


def _device(letter: str, parsed: Parsed, text: str) -> Element:
    items = list(parsed.items)
    while len(items) > 1 and items[-1].text.lower() in _FLAGS:
        items.pop()
    least = _LEAST[letter]
    if len(items) <= least:
        raise BadCard("can't be read", len(text))
    quoted = next((item for item in items[least:] if item.kind not in ("WORD", "NUMBER")), None)
    lacking = next((item for item in items[:least] if item.kind not in ("WORD", "NUMBER", "BRACED")), None)
    if lacking is not None:
        raise BadCard("can't be read", lacking.start)
    areas: list[Number] = []
    if quoted is not None:
        if quoted.kind in ("BRACED", "QUOTED"):
            areas.append(value_of(quoted))
        items = items[: items.index(quoted)]
        if len(items) <= least:
            raise BadCard("can't be read", quoted.start)
    words = [node_name(item.text) for item in items]
    most = 2 if letter == "M" else 1
    fewest = 5 if letter == "M" else least + 1
    while most and len(words) > fewest and PLAIN_NUMBER.match(words[-1]):
        areas.append(float(words.pop()))
        most -= 1
    if letter in "DJ" and len(words) == fewest + 1 and (area := read_value(words[-1])) is not None:
        # An area with a suffix; elsewhere a model may begin with a digit too.
        areas.append(area)
        words.pop()
    count = len(words) - 1
    if letter in "DJ" and count > least:
        raise BadCard("can't be read", items[least + 1].start)
    if count > _MOST[letter]:
        raise BadCard("can't be read", items[_MOST[letter] + 1].start)
    nodes = words[:count]
    if letter == "Q" and count > 3 and nodes[3].startswith("[") and nodes[3].endswith("]"):
        nodes[3] = nodes[3][1:-1] or nodes[3]
    tails = tails_of(parsed.tails, text)
    if areas and letter != "M":
        # What stands first behind the model; where it stands as `area=` too, that counts.
        tails.setdefault("area", areas[-1])
    return Element(letter, parsed.name, tuple(nodes), words[-1], None, (), tails or None)


def _switch(letter: str, parsed: Parsed, text: str) -> Element:
    words = [item for item in parsed.items if item.text.lower() not in _FLAGS]
    wanted = 1 if letter == "S" else 2
    if len(words) < wanted:
        raise BadCard("can't be read", len(text))
    if len(words) > wanted:
        raise BadCard("can't be read", words[wanted].start)
    controls = parsed.pairs[1] if letter == "S" else (words[0].text,)
    tails = tails_of(parsed.tails, text) or None
    return Element(letter, parsed.name, parsed.pairs[0], words[-1].text, None, controls, tails)


def _instance(parsed: Parsed, text: str) -> Element:
    words = [node_name(part.text) for part in flat(parsed.items) if part.text != "/"]
    if len(words) < 2:
        raise BadCard("can't be read", len(text))
    if words[-1][:1] == "{":
        raise BadCard("can't be read", parsed.items[-1].start)
    return Element("X", parsed.name, tuple(words[:-1]), words[-1], None, (), tails_of(parsed.tails, text) or None)


_DIGITAL = re.compile(
    r"(?:buf|inv|and|nand|or|nor|xor|nxor|bufa|inva|anda|nanda|ora|nora|xora|nxora|ao|oa|aoi|oai|buf3a?|inv3a?|and3a?|nand3a?"
    r"|or3a?|nor3a?|xor3a?|nxor3a?|nbtg|pbtg|jkff|dff|srff|dltch|pullup|pulldn|dlyline|delay|pload|rom|ram|adc|dac|stim"
    r"|logicexp|pindly|constraint)\Z",
    re.IGNORECASE,
)


def _black_box(letter: str, parsed: Parsed, text: str) -> Element:
    """A part of which only the nodes are understood: every plain word before the model is taken for one."""
    tails = tails_of(parsed.tails, text) or None
    items = list(parsed.items)
    if letter == "U" and items and _DIGITAL.match(items[0].text):
        return _digital(parsed, items, tails)
    name = parsed.name
    if letter == "Y" and len(items) > 2 and name.isalpha() and len(name) > 1 and items[0].kind == "WORD":
        # `YTYPE NAME n1 n2 ... model`
        name = items.pop(0).text
    words = [node_name(part.text) for part in flat(tuple(items)) if part.kind in ("WORD", "NUMBER", "CWORD", "BRACED")]
    while len(words) > 2 and words[-1][:1] == "{":
        words.pop()
    pins = next((at for at, word in enumerate(words) if word.lower() == "pin:"), 0)
    if letter == "Y" and pins:
        # `Yname MODEL PIN: n1 n2 ...`
        words = [*words[pins + 1 :], words[pins - 1]]
    if letter == "A":
        bracketed = "[" in text
        words = [word.lstrip("~") for word in words if not word.startswith("%") and word.lower() != "null"]
        if len(words) == 9 and not bracketed:
            # The eight-pin form: a pin at node 0 other than the last is one that is not connected.
            tails = {**(tails or {}), "outputs": float(sum(word != "0" for word in words[5:7]))}
            words = [word for word in words[:7] if word != "0"] + words[7:]
    if letter == "T" and len(words) < 4:
        raise BadCard("can't be read", len(text))
    if letter == "T" and len(words) > 5 and not tails:
        return Element(letter, name, tuple(words[:-1]), words[-1], None, (), tails)
    if letter == "T" or (letter == "O" and len(words) == 4):
        return Element(letter, name, tuple(words[:4]), words[4] if len(words) > 4 else None, None, (), tails)
    if len(words) < 2:
        raise BadCard("can't be read", len(text))
    return Element(letter, name, tuple(words[:-1]), words[-1], None, (), tails)


def _digital(parsed: Parsed, items: list[Piece], tails: Tails | None) -> Element:
    """A digital primitive: its type is no node, its timing and input/output models close the card.

    It has `digital`, by which it is told from a part of an export whose reference begins with the same letter.
    """
    words: list[str] = []
    rest = items[1:]
    if rest and rest[0].kind == "GROUP":
        rest = rest[1:]
    for part in rest:
        if part.text.endswith(":"):
            break
        if part.kind in ("WORD", "NUMBER"):
            words.append(part.text)
    if len(words) < 3:
        raise BadCard("can't be read", rest[0].start if rest else items[0].end)
    nodes = words[:-2] if len(words) > 4 else words[:-1]
    return Element("U", parsed.name, tuple(nodes), words[-1], None, (), {**(tails or {}), "digital": 1.0})
