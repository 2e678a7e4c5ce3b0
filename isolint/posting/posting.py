"""One run: list, decide, write, list again until nothing is left to write, the summary last.

A run that is killed anywhere, or two at once, leave what the next one puts right: what is decided depends on what
stands, never on what was meant. The head is read before each write, the body before each edit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial

from isolint.posting import texts
from isolint.posting.client import Declined, NotDone, Unsure
from isolint.posting.deciding import Plan, PostingOrder, decide, summaries, wanted
from isolint.posting.forge import Comment, Forge, Fresh
from isolint.posting.markers import (
    MOST_LEDGER,
    SUMMARY_KEY,
    Known,
    Signer,
    normal,
    read_ledger,
    write_ledger,
)
from isolint.review.review_markdown import LIMIT, summary
from isolint.review.review_words import label
from isolint.review.values import Review

_ROUNDS = 6
_REVISIONS = re.compile(r"base `[0-9a-f]*`, head `[0-9a-f]*`")
_PART = "\u200b"


class Moved(Exception):
    """The request is closed, or its head is another commit now; what is to be said then is said by another run."""


@dataclass(slots=True)
class Outcome:
    """What was done: how many writes of how many that were wanted, and what there is to tell."""

    writes: int = 0
    wanted: int = 0
    notes: list[str] = field(default_factory=list)
    stopped: str = ""


def post(
    forge: Forge, review: Review, signer: Signer, untrusted: bool = False, failed: bool = False, once: bool = False
) -> Outcome:
    """Bring the comments of a request up to date; raise `NotDone` where that is not possible.

    failed: the run that should have made a review did not; only the summary says so. once: nothing is listed again,
    since nothing was sent.
    """
    done = Outcome()
    run = _Posting(forge, review, signer, untrusted, review.head, done, once)
    try:
        if failed:
            run.tell_failure()
        else:
            run.bring_up_to_date()
    except Moved as reason:
        done.stopped = str(reason)
    except (Declined, Unsure) as error:
        raise NotDone(f"posted {done.writes} of {max(done.wanted, done.writes + 1)}: {error.text}") from None
    except NotDone as error:
        if done.writes:
            raise NotDone(f"posted {done.writes} of {max(done.wanted, done.writes + 1)}: {error.text}") from None
        raise
    return done


@dataclass(slots=True)
class _Posting:
    forge: Forge
    review: Review
    signer: Signer
    untrusted: bool
    head: str
    done: Outcome
    once: bool = False
    refused: set[str] = field(default_factory=set)

    def bring_up_to_date(self) -> None:
        """Comments on lines first, then the summary."""
        self._same_head()
        files = self.forge.files()
        account = self.forge.me()
        for _ in range(_ROUNDS):
            comments = self.forge.comments()
            asked = self._asked(account)
            own = summaries(comments, asked)
            ledger = read_ledger(own[0].comment.body) if own and not own[0].edited else {}
            plan = decide(self.review, files, comments, ledger, asked)
            if not plan.is_empty and self.once:
                self._write(plan)
            if plan.is_empty or self.once:
                self._summarise(plan, (own and [each.comment for each in own]) or [])
                return
            self.done.wanted = self.done.writes + len(plan.edits) + len(plan.creates) + len(plan.resolves)
            self._write(plan)
        raise NotDone("others write at the same time; nothing is settled", cure="run it again")

    def tell_failure(self) -> None:
        """Say in the summary that the last run made no review; what it said before stands below."""
        self._same_head()
        asked = self._asked(self.forge.me())
        own = [each.comment for each in summaries(self.forge.comments(), asked)]
        text = "**incomplete: the last run failed.**"
        kept: Mapping[str, Known] = {}
        if own:
            below = normal(own[0].body).partition("\n")[2]
            body, _, last = below.rpartition("\n")
            kept = read_ledger(own[0].body)
            below = body if kept or last.startswith("<!-- isolint-ledger/1") else below
            if not below.startswith(text):
                below = f"{text} Below is the state of an earlier one.\n\n{below}"
        else:
            below = f"{text} It is not known what the change did."
        self._put_summary(self.signer.marked("summary", SUMMARY_KEY, "live", f"{below}\n{write_ledger(kept)}"), own)

    # -- inner ------------------------------------------------------------------------------------------------

    def _asked(self, account: str) -> PostingOrder:
        return PostingOrder(self.signer, self.forge.form, account, self.head, self.untrusted, frozenset(self.refused))

    def _same_head(self) -> None:
        now = self.forge.request()
        if not now.open:
            raise Moved("the request is closed")
        if now.head != self.head:
            raise Moved(f"the head moved to {now.head[:12]}, this is the review of {self.head[:12]}")

    def _write(self, plan: Plan) -> None:
        """Write what was decided; what changed in between is left for the next round."""
        for comment, body in plan.edits:
            self._same_head()
            now = self.forge.body(comment)
            if now is None or normal(now) != normal(comment.body):
                continue
            self._once(partial(self.forge.edit, comment, body))
        if plan.creates:
            self._same_head()
            self._create(plan.creates)
        for comment, resolved in plan.resolves:
            self._same_head()
            self._once(partial(self.forge.resolve, comment, resolved))
        for comment in plan.deletes:
            self._same_head()
            self._once(partial(self.forge.delete, comment))

    def _once(self, write: Callable[[], None]) -> None:
        """One write; what is not known to be done, or collides with another, is decided anew in the next round."""
        try:
            write()
            self.done.writes += 1
        except Unsure as error:
            self.done.notes.append(error.text)
        except Declined as error:
            if error.status not in (404, 409, 410):
                raise

    def _create(self, fresh: list[Fresh]) -> None:
        try:
            refused = self.forge.create(fresh, self.head)
        except Unsure as error:
            self.done.notes.append(error.text)
            return
        except Declined as error:
            if error.status == 409:
                return
            if error.status in (401, 403, 404):
                # Comments on lines are not allowed; the summary tells all.
                self.done.notes.append(error.text)
                self.refused.update(each.key for each in fresh)
                return
            raise
        self.refused.update(each.key for each in refused)
        self.done.writes += len(fresh) - len(refused)

    def _summarise(self, plan: Plan, own: list[Comment]) -> None:
        review = self.review
        if not own and not review.items and not review.errors and not review.policy and not plan.ledger:
            return
        more = [*self._lead(), *self._dismissed(plan)]
        ledger = write_ledger(plan.ledger)
        body = summary(review, more, LIMIT - MOST_LEDGER - 400).rstrip("\n")
        body = body.replace("<!--", f"<{_PART}!--").replace("-->", f"--{_PART}>")
        self._put_summary(self.signer.marked("summary", SUMMARY_KEY, "live", f"{body}\n\n{ledger}"), own)

    def _lead(self) -> Iterator[str]:
        if self.untrusted:
            yield ""
            yield "As the request's own run reports, by a workflow that its author may have changed."

    def _dismissed(self, plan: Plan) -> Iterator[str]:
        if not plan.dismissed:
            return
        live = wanted(self.review).live
        yield ""
        yield "Dismissed by somebody on its line, and still there:"
        yield ""
        for key, worse in sorted(plan.dismissed.items()):
            item = live[key]
            since = ", worse since" if worse else ""
            yield f"- {texts.code(f'{item.rule} {item.subject}')} ({label(item)}{since})"

    def _put_summary(self, text: str, own: list[Comment]) -> None:
        """Write the one summary where it says something else; doubles of it go."""
        for double in own[1:]:
            self._same_head()
            self._once(partial(self.forge.delete, double))
        if not own:
            self._same_head()
            self._create_summary(text)
            return
        first = own[0]
        if self.signer.holds(first.body) and _told(first.body) == _told(text):
            return
        self._same_head()
        self._once(partial(self.forge.edit, first, text))

    def _create_summary(self, text: str) -> None:
        self.done.wanted = max(self.done.wanted, self.done.writes + 1)
        for attempt in range(3):
            try:
                self.forge.create_summary(text)
                self.done.writes += 1
                break
            except Unsure:
                asked = self._asked(self.forge.me())
                if summaries(self.forge.comments(), asked):
                    break
                if attempt == 2:
                    raise
        # Another run may have made one at the same moment.
        own = [each.comment for each in summaries(self.forge.comments(), self._asked(self.forge.me()))]
        for double in own[1:]:
            self._once(partial(self.forge.delete, double))


def _told(text: str) -> str:
    """What a summary tells, without its mark and without the revisions: a push that changes nothing is no news."""
    return _REVISIONS.sub("", normal(text).partition("\n")[2])
