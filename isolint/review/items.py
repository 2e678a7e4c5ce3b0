"""Items: what became of results, with places, cause and names that stay, one for all that stand at the same card."""

from __future__ import annotations

import math
import posixpath
from collections.abc import Iterable, Sequence
from typing import NamedTuple, cast

from isolint.errors import Place
from isolint.reports.wording import details
from isolint.results import LEVELS, Level
from isolint.review.atoms import Atom
from isolint.review.causes import Causes, Hybrids, chain_of
from isolint.review.classing import Classed
from isolint.review.correspondence import Correspondence
from isolint.review.findings import Finding, Names, Revision, state
from isolint.review.keys import KeyChange
from isolint.review.suggestions import Suggestions
from isolint.review.values import (
    CLASSES,
    COUNTING,
    Anchor,
    Cause,
    Identity,
    Item,
    Link,
    Standing,
    State,
    counts_at,
)

MOST_DETAILS = 30
MOST_NAMED = 1_000
"""Instances and boards of one item that are named."""
MOST_CHANGES = 4
_MOST_LINKS = 12


class Compared(NamedTuple):
    """One netlist in both revisions with everything that its items are made from."""

    old: Revision
    new: Revision
    found: Correspondence
    names: Names
    back: Names
    atoms: tuple[Atom, ...]
    keys: tuple[tuple[KeyChange, str], ...]
    trials: Hybrids
    suggestions: Suggestions


def items_of(compared: Compared, classes: Iterable[Classed]) -> list[Item]:
    """The items of one netlist, with their causes."""
    causes = Causes(compared.atoms, [change for change, _ in compared.keys], compared.trials)
    made = []
    for each in classes:
        if compared.new.judged.context.notes_decide(each.finding.result.rule):
            made.append(_item(compared, each, Cause()))  # a note of the reader comes of no card that can be put back
            continue
        chain = chain_of(each, compared.old, compared.new, compared.atoms, [change for change, _ in compared.keys])
        made.append(_item(compared, each, causes.of(each, chain)))
    return made


def _item(compared: Compared, each: Classed, cause: Cause) -> Item:
    finding = each.finding
    result = finding.result
    is_new = each.after is not None
    revision = compared.new if is_new else compared.old
    after, before = state(each.after), state(each.before)
    level: Level = finding.counted
    if each.state == "unjudged":
        level = _unjudged_level(compared.new, finding)
        after = State("open", level, each.notes[0], None)
    rule = result.rule
    if each.state == "unjudged" and finding.kind == "pass":
        rule = compared.new.judged.context.rulebook.judge_of("identity").slug
    counts = each.state in COUNTING and not (each.after is not None and each.after.accepted)
    own, base = _identities(compared, finding, is_new)
    where = result.where
    if each.state == "unjudged":
        there = _place_now(compared, finding)
        where = where if there is None else there
    members = tuple(sorted(finding.members))
    chain = tuple(Link(link.place, link.text) for link in result.related[:_MOST_LINKS])
    return Item(
        state=each.state,
        rule=rule,
        role=result.role,
        subject=result.subject,
        netlist=compared.new.path,
        level=level,
        counts=counts and counts_at(level, compared.new.judged.report.fail_on or "error"),
        identity=base,
        own=own,
        before=before,
        after=after,
        where=where,
        chain=chain,
        members=members,
        cause=cause,
        cure=result.remedy if each.state in COUNTING and is_new else "",
        details=tuple(details(result))[:MOST_DETAILS] if is_new else (),
        anchors=_anchors(cause, where if is_new else None, revision, finding, chain if is_new else ()),
        instead=each.instead,
        suggestion=compared.suggestions.of(each),
        hides=tuple(hidden_words(hidden) for hidden in each.hides),
        came=each.came,
        notes=each.notes,
        harm=finding.harm,
        of=revision.placed(finding.card),
        which=(result.instance,) if result.instance else (),
        on=(compared.new.path,),
    )


def hidden_words(finding: Finding) -> str:
    """A failure that is not judged now: its rule, the part type where it has one, and its margin."""
    margin = finding.result.margin
    role = f" ({finding.result.role})" if finding.result.role else ""
    return finding.result.rule + role + ("" if margin is None else f", margin {margin.value:.2f}")


def _unjudged_level(new: Revision, finding: Finding) -> Level:
    """What the loss of a judgement counts: as an open question of what a part is."""
    context = new.judged.context
    rule = context.rulebook.judge_of("identity")
    stated = context.facts.open
    level = rule.opens_at if stated is None else cast(Level, stated.value)
    own: Level = finding.counted if finding.kind in ("fail", "open") else "none"
    return max((level, own), key=LEVELS.index)


def _place_now(compared: Compared, finding: Finding) -> Place | None:
    part = finding.result.part
    there = compared.names.element(part) if part else None
    element = None if there is None else compared.new.judged.context.circuit.find(there)
    return None if element is None else compared.new.judged.context.circuit.place(element)


def _anchors(
    cause: Cause, where: Place | None, revision: Revision, finding: Finding, chain: Sequence[Link]
) -> tuple[Anchor, ...]:
    """Lines to speak on, the best first: the cause's where it is proven, then the place, the members, the chain."""
    found: list[Anchor] = [anchor for anchor in cause.anchors if cause.proven and anchor.side == "new"]
    if where is not None:
        found.append(Anchor("new", where.file, where.line))
        circuit = revision.judged.context.circuit
        elements = (circuit.find(member) for member in sorted(finding.members))
        places = [circuit.place(element) for element in elements if element is not None]
        found += [Anchor("new", place.file, place.line) for place in (*places, *(link.place for link in chain))]
    found += [anchor for anchor in cause.anchors if cause.proven and anchor.side == "old"]
    return tuple(dict.fromkeys(found))


def _identities(compared: Compared, finding: Finding, is_new: bool) -> tuple[Identity, Identity]:
    """What an item is known by, in the names of head and in those of the base."""
    revision = compared.new if is_new else compared.old
    own = own_identity(revision, finding)
    other = _translated(compared, finding, own, is_new)
    return (own, other) if is_new else (other, own)


def own_identity(revision: Revision, finding: Finding) -> Identity:
    """What an item is known by in its own revision."""
    card = finding.card
    cards = revision.judged.cards
    if card.scope < 0:
        return Identity(card.file, "", "", finding.carrier.casefold())
    definition = revision.netlist.name(card.scope)
    element = cards.scopes[card.scope].names[card.place].casefold()
    return Identity(card.file, definition, element, _inside(finding.carrier, finding.result.instance))


def _inside(subject: str, instance: str) -> str:
    """A subject without the instances that lead to the definition which it stands in."""
    return subject.casefold().removeprefix(f"{instance.casefold()}.") if instance else subject.casefold()


def _translated(compared: Compared, finding: Finding, own: Identity, is_new: bool) -> Identity:
    """An identity in the names of the other revision, as far as they are paired."""
    names = compared.back if is_new else compared.names
    file = own.file
    here, there = (compared.new.path, compared.old.path) if is_new else (compared.old.path, compared.new.path)
    if here != there and posixpath.dirname(file) == posixpath.dirname(here):
        file = there if file == here else posixpath.join(posixpath.dirname(there), posixpath.basename(file))
    element, definition = own.element, own.definition
    card = finding.card
    if card.scope >= 0:
        pairs = compared.found.scopes if not is_new else compared.found.reversed().scopes
        pair = pairs.get(card.scope)
        if pair is not None:
            other = compared.old if is_new else compared.new
            definition = other.netlist.name(pair.new.scope)
            partner = pair.pairs.elements.get(card.place)
            element = element if partner is None else pair.new.names[partner].casefold()
    subject = names.text(finding.carrier)
    instance = names.text(finding.result.instance) if finding.result.instance else ""
    return Identity(file, definition, element, subject.removeprefix(f"{instance}.") if instance else subject)


def standing_of(compared: Compared, items: Sequence[Item]) -> tuple[Standing, ...]:
    """The failures and open results of head that are no items."""
    known = {(item.rule, item.role, item.own) for item in items}
    found = []
    for finding in compared.new.findings:
        if finding.kind in ("fail", "open") and not finding.accepted:
            own, base = _identities(compared, finding, is_new=True)
            if (finding.result.rule, finding.result.role, own) not in known:
                found.append(Standing(base, finding.result.rule, finding.result.role, finding.kind, own))
    return tuple(found)


def merged(items: Iterable[Item]) -> tuple[Item, ...]:
    """One item for all of one class at one card: instances of a block, and boards that share a sheet."""
    groups: dict[object, list[Item]] = {}
    for item in items:
        card = (item.own.file, item.own.definition, item.own.element, item.own.subject)
        groups.setdefault((item.state, card, item.rule, item.role), []).append(item)
    made = []
    for members in groups.values():
        worst = max(members, key=lambda item: (item.counts, LEVELS.index(item.level), item.harm, item.netlist))
        made.append(_one_of(worst, members))
    return numbered(sorted(made, key=order))


def _one_of(worst: Item, members: Sequence[Item]) -> Item:
    """The worst of several items with the instances and boards that say the same, and what made it in each."""
    boards = tuple(dict.fromkeys(item.netlist for item in members))
    here = [item for item in members if item.netlist == worst.netlist]
    causes = [worst.cause, *(item.cause for item in members if len(item.cause.changes) == 1 and not item.cause.more)]
    changes = tuple(dict.fromkeys(change for cause in causes for change in cause.changes))
    cause = worst.cause
    if cause.kind == "one" and len(changes) > 1:
        anchors = tuple(dict.fromkeys(anchor for each in causes for anchor in each.anchors))
        proven = all(each.proven for each in causes)
        cause = Cause("each", changes[:MOST_CHANGES], anchors, max(0, len(changes) - MOST_CHANGES), 0, proven)
    return worst._replace(
        boards=len(boards),
        on=tuple(sorted(boards))[:MOST_NAMED],
        instances=len(here),
        which=tuple(dict.fromkeys(name for item in here for name in item.which))[:MOST_NAMED],
        cause=cause,
        counts=any(item.counts for item in members),
    )


def numbered(items: Iterable[Item]) -> tuple[Item, ...]:
    """Items of which the names are equal told apart by a number."""
    seen: dict[object, int] = {}
    found = []
    for item in items:
        key = (item.rule, item.role.casefold(), item.identity)
        number = seen[key] = seen.get(key, -1) + 1
        found.append(
            item._replace(identity=item.identity._replace(ordinal=number), own=item.own._replace(ordinal=number))
            if number
            else item
        )
    return tuple(found)


def order(item: Item) -> tuple[object, ...]:
    """What counts most first: level, class, harm, place."""
    accepted = bool(item.after.accepted)
    harm = item.harm if math.isfinite(item.harm) else math.inf
    place = (item.where.file, item.where.line, item.rule, item.subject, item.role, item.netlist)
    return (accepted, -LEVELS.index(item.level), CLASSES.index(item.state), -harm, *place)
