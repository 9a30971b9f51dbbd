"""The peak current that a contact makes against the peak that it stands."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.contacts import CATEGORIES
from doorlint.circuit.demand import own_peak, total_peak
from doorlint.circuit.feeds import LoadedContact
from doorlint.circuit.substitutes import contact_repairs
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Contact, known

RULE = Rule(
    "contact/peak-over-rating",
    title="The contact makes a higher peak than it stands",
    level=Level.ERROR,
    over=LoadedContact,
    basis=(
        Cited(
            "IEC 60947-5-1",
            "2016",
            "utilisation categories",
            "making current as a multiple of the rated operational current",
            from_memory=True,
        ),
        Practice(
            "a contact makes no more than its stated peak; where none is stated, its rated current times the making "
            "multiple of its category counts",
            physics="the arc of a bouncing contact welds it when the current is too high",
        ),
    ),
    evidence=("peak current", "peak that the contact stands", "margin"),
    why="The contact welds in the moment it closes: the lock can no longer be switched.",
    cure="Use a contact for a higher peak, an interposing relay, or a lock that draws less at the start.",
    limits="All loads of a contact are taken to peak together. Capacitors that charge are a rule of their own.",
)


LARGEST_MULTIPLE = max(Fraction(category.make_multiple) for category in CATEGORIES.values())


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    total, step = total_peak(loaded.feeds, context.wiring)
    limit, field, rating = _limit(loaded)
    if field == "current" and loaded.contact.category is UNKNOWN and limit < total <= limit * LARGEST_MULTIPLE:
        known(loaded.contact, "category", str)
    names = " and ".join(feed.item.name for feed in loaded.feeds[:3])
    more = f" and {len(loaded.feeds) - 3} more" if len(loaded.feeds) > 3 else ""
    yield at_most(
        f"peak current of {names}{more}",
        Measure(total, "current"),
        Measure(limit, "current"),
        loaded.contact.at(field),
        limit_name=f"peak that {loaded.use.name} stands,",
        related=tuple(Related(feed.load.at("peak"), f"peak of {feed.item.name}") for feed in loaded.feeds[:3]),
        working=(step, rating),
        repairs=contact_repairs(loaded, context.spec) if total > limit else (),
    )


def _limit(loaded: LoadedContact) -> tuple[Fraction, str, Step]:
    """The peak that counts, A; the field it comes from; the working. A stated peak counts where it lasts."""
    contact = loaded.contact
    if contact.peak is not None and _lasts(loaded):
        peak = known(contact, "peak", Quantity)
        term = Term("stated peak", peak.text, contact.at("peak"))
        return peak.value, "peak", Step("peak that counts", "stated peak", Measure(peak.value, "current"), (term,))
    rated = known(contact, "current", Quantity)
    multiple = _making_multiple(contact)
    value = rated.value * multiple
    term = Term("rated current", rated.text, contact.at("current"))
    formula = f"{float(multiple):g} x rated current"
    return value, "current", Step("peak that counts", formula, Measure(value, "current"), (term,))


def _making_multiple(contact: Contact) -> Fraction:
    found = CATEGORIES.get(contact.category) if isinstance(contact.category, str) else None
    return Fraction(1) if found is None else Fraction(found.make_multiple)


def _lasts(loaded: LoadedContact) -> bool:
    """Whether the contact stands its peak for as long as the longest peak of its loads."""
    durations = [
        known(feed.load, "peak_duration", Quantity).value
        for feed in loaded.feeds
        if own_peak(feed) > known(loaded.contact, "current", Quantity).value
    ]
    return not durations or max(durations) <= known(loaded.contact, "peak_duration", Quantity).value
