"""The current through a dry contact against its rating, resistive or inductive."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.contacts import CATEGORIES
from doorlint.circuit.demand import is_inductive, total_steady
from doorlint.circuit.feeds import Feed, LoadedContact
from doorlint.circuit.substitutes import contact_repairs
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import UNKNOWN, Contact, Undecided, known

_DERATED = Practice("80 percent with a suppressor and 50 percent without; common practice, no source")
SUPPRESSED = Parameter(
    "contact_share_suppressed",
    "share of a contact's resistive rating that a coil with a suppressor may take",
    "ratio",
    Fraction(8, 10),
    "lower",
    _DERATED,
)
UNSUPPRESSED = Parameter(
    "contact_share_unsuppressed",
    "share of a contact's resistive rating that a coil without suppressor may take",
    "ratio",
    Fraction(5, 10),
    "lower",
    _DERATED,
)
INDUCTIVE_CATEGORIES = tuple(name for name, found in CATEGORIES.items() if found.inductive)

RULE = Rule(
    "contact/current-over-rating",
    title="The contact carries more current than it may switch",
    level=Level.ERROR,
    over=LoadedContact,
    basis=(
        Cited(
            "IEC 60947-5-1",
            "2016",
            "utilisation categories",
            "DC-13: control of electromagnets on direct current",
            from_memory=True,
        ),
        Practice(
            "where only a resistive rating is known, a coil may take 80 percent of it with a suppressor and 50 percent "
            "without",
            physics="the energy stored in a coil burns in the opening contact",
        ),
    ),
    evidence=("steady current", "rating that counts", "margin"),
    why="A contact rated for resistive load welds on a coil: a fail-safe lock then stays locked.",
    cure="Put an interposing relay in between, fit a suppressor at the coil, or use a contact with a DC-13 rating.",
    parameters=(SUPPRESSED, UNSUPPRESSED),
    limits="Steady current; peaks and inrush are a rule of their own.",
    incomplete=uncounted.through,
)


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    total, step = total_steady(loaded.feeds, context.wiring)
    contact = loaded.contact
    limit, field, rating = limit_of(contact, loaded.feeds, context)
    whole = limit if field != "current" else known(contact, "current", Quantity).value
    if contact.category is UNKNOWN and limit < total <= whole:  # of one for coils the whole rated current counts
        known(contact, "category", str)
    related = tuple(Related(feed.load.at("current"), f"current of {feed.item.name}") for feed in loaded.feeds[:3])
    names = " and ".join(feed.item.name for feed in loaded.feeds[:3])
    more = f" and {len(loaded.feeds) - 3} more" if len(loaded.feeds) > 3 else ""
    yield at_most(
        f"steady current of {names}{more}",
        Measure(total, "current"),
        Measure(limit, "current"),
        loaded.contact.at(field),
        limit_name=f"rating of {loaded.use.name} that counts,",
        related=related,
        working=(step, rating),
        repairs=contact_repairs(loaded, context.spec) if total > limit else (),
    )


def limit_of(contact: Contact, feeds: tuple[Feed, ...], context: Context) -> tuple[Fraction, str, Step]:
    """The current that counts, A; the field it comes from; the working.

    With a coil among the loads the inductive rating counts, else a share of the resistive one.
    """
    if not any(is_inductive(feed) for feed in feeds):
        rated = known(contact, "current", Quantity).value
        return rated, "current", _step("rated current", rated, rated, contact, "current")
    if contact.inductive_current is not None:
        rated = known(contact, "inductive_current", Quantity).value
        return rated, "inductive_current", _step("inductive rating", rated, rated, contact, "inductive_current")
    rated = known(contact, "current", Quantity).value
    if contact.category in INDUCTIVE_CATEGORIES:
        return rated, "current", _step(f"rated current, {contact.category}", rated, rated, contact, "current")
    suppressed = [_suppressed(feed) for feed in feeds if is_inductive(feed)]
    share = (SUPPRESSED if all(suppressed) else UNSUPPRESSED).value(context.spec.practice)
    words = "coils suppressed" if all(suppressed) else "a coil without suppressor"
    formula = f"{float(share):.3g} x rated current ({words})"
    return rated * share, "current", _step(formula, rated * share, rated, contact, "current")


def _step(formula: str, result: Fraction, rated: Fraction, contact: Contact, field: str) -> Step:
    term = Term("rated current", str(Measure(rated, "current")), contact.at(field))
    return Step("rating that counts", formula, Measure(result, "current"), (term,))


def _suppressed(feed: Feed) -> bool:
    """Whether a coil has any suppressor. Raises Undecided where the spec is silent."""
    item, coil = feed.item, feed.coil
    assert coil is not None
    if item.suppression or (isinstance(coil.built_in_suppression, str) and coil.built_in_suppression != "none"):
        return True
    if item.no_suppression and coil.built_in_suppression == "none":
        return False
    name = "suppression" if not item.no_suppression else "built_in_suppression"
    place = item.at("suppression") if name == "suppression" else coil.at(name)
    raise Undecided(name, place, stated=item.suppression_unknown)
