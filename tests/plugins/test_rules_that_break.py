"""A rule of another package that breaks: its own finding with the package's name, and all else as without it."""

from __future__ import annotations

import math
import threading
import time
import types
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from doorlint import foreign, judging
from doorlint.outcome import (
    Change,
    Kind,
    Level,
    Measure,
    Outcome,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    failed,
    ok,
)
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rule, Rulebook, collect, hookimpl
from doorlint.spec import Item
from doorlint.spec.fields import Undecided

SPEC = """\
doorlint: 1
project: {name: Invented, codes: {ibc: "2021"}}
products:
  strike: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 500 mA}}
  reader:
    kind: controller
    inputs: {dc: {voltage: 12 V, current: 1 A}}
    outputs: {lock: {supply: dc, voltage: 12 V, current: 500 mA}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 2 A}
openings:
  D1: {items: {lock: {product: strike, fed_from: psu, length: 45 m}}}
  D2: {items: {lock: {product: strike, fed_from: psu, length: 12 m}}}
  D3: {items: {rc: {product: reader, fed_from: psu}, lock: {product: strike, fed_from: rc.lock}}}
"""
PACKAGE = "invented_office"
TOPICS = ("supply", "output", "power", "suppression", "consistency")
OURS = tuple(module for module in collect().modules if module.RULE.id.split("/")[0] in TOPICS)
PATIENCE = 0.5


def rule(check: Any, rule_id: str = "office/broken", over: Any = Item, **more: Any) -> Any:
    made = types.ModuleType(f"{PACKAGE}.of_a_test")
    made.RULE = Rule(  # type: ignore[attr-defined]
        rule_id,
        title="Something was found",
        level=Level.ERROR,
        over=over,
        basis=(Practice("a rule for a test rests on nothing but the test"),),
        **more,
    )
    made.check = check  # type: ignore[attr-defined]
    return made


def passes(subject: Any, context: Any) -> Iterator[Verdict]:
    yield ok("in order", subject.place)


def book(*checks: Any, patience: float = PATIENCE) -> Rulebook:
    """The built-in rules with some of a package, as `collect` gives them."""
    plugin = types.ModuleType(PACKAGE)
    plugin.doorlint_rules = hookimpl(lambda: list(checks))  # type: ignore[attr-defined]
    offered = collect([plugin], group="no-such-group", patience=patience)
    modules = sorted([*OURS, *offered.modules], key=lambda module: module.RULE.id)
    return replace(offered, modules=tuple(modules))


def review(*checks: Any, text: str = SPEC) -> Result:
    return review_text(text, "case.yaml", rulebook=book(*checks))


ALONE = review_text(SPEC, "case.yaml", rulebook=Rulebook(OURS))


def of(result: Result, *rules: str) -> list[Outcome]:
    return [outcome for outcome in result.outcomes if outcome.rule in rules]


def check_is_told(result: Result, *expected: str) -> Outcome:
    """The one finding about the rule, after a look at all that should be as if it were not there."""
    (told,) = of(result, "rulebook/rule-broke")
    assert (told.kind, told.level, told.subject) == (Kind.FAIL, Level.ERROR, "office/broken")
    assert told.message.startswith(f"rule office/broken of package '{PACKAGE}' broke on D1/")
    assert told.message.isprintable()
    assert len(told.message) < 600
    for text in expected:
        assert text in told.message
    assert result.broken
    assert result.status(Level.ERROR) == 2
    rest = [o for o in result.outcomes if o.rule not in ("rulebook/rule-broke", "office/broken", "office/sound")]
    assert rest == list(ALONE.outcomes)
    sound = of(result, "office/sound")
    assert [o.kind for o in sound] == [Kind.PASS] * len(sound)
    assert {o.subject for o in sound} == ({"D1/lock", "D2/lock", "D3/lock", "D3/rc"} if sound else set())
    return told


def broken(check: Any, *expected: str, **more: Any) -> Outcome:
    result = review(rule(check, **more), rule(passes, "office/sound"))
    assert of(result, "office/sound")
    return check_is_told(result, *expected)


# -- raises ------------------------------------------------------------------------------------------


class Odd(BaseException):
    """What nobody expects to be raised."""


class Unspeakable(Exception):  # noqa: N818 - for a test
    """An error that cannot even be told."""

    def __str__(self) -> str:
        raise RuntimeError("no words")


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (ZeroDivisionError("no ampere left"), "ZeroDivisionError: no ampere left"),
        (Odd("out of the ordinary"), "Odd: out of the ordinary"),
        (GeneratorExit(), "GeneratorExit"),
        (SystemExit(0), "SystemExit: 0"),
        (MemoryError(), "MemoryError"),
        (StopIteration(), "StopIteration"),
        (Unspeakable(), "Unspeakable: its text cannot be told"),
        (ValueError("one\ntwo\r\x1b[31m\u202e three"), "ValueError: one two "),
        (ValueError("half \ud800"), r"half \ud800"),
        (ValueError("x" * 100_000), "xxx..."),
        (Undecided("length", "here", stated=False), "place is a str"),  # type: ignore[arg-type]
    ],
    ids=lambda value: type(value).__name__,
)
def test_whatever_is_raised(error: BaseException, told: str) -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        yield from ()
        raise error

    broken(check, told)


def test_where_it_broke_is_told_in_the_rule_and_in_what_it_called() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        yield ok(str(Measure(Fraction(1), "no such dimension")))

    line = check.__code__.co_firstlineno + 1
    broken(check, f"(line {line} of {__file__.rpartition('/')[2]}, at line ", "quantity.py)")


def test_leaving_by_the_scope_or_by_what_is_incomplete() -> None:
    def leaves(*_: Any) -> Any:
        raise SystemExit(0)

    broken(passes, "SystemExit: 0", applies=leaves, scope="doors that break")
    broken(passes, "SystemExit: 0", incomplete=leaves)


# -- never ends --------------------------------------------------------------------------------------


def loops(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    while True:
        pass


def loops_in_sleep(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    while True:
        time.sleep(0.01)


def loops_and_catches_exceptions(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    while True:
        try:
            sum(range(1000))
        except Exception:
            continue


def loops_and_catches_all(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    number = 0
    while True:
        try:
            number += 1
            if number % 1000 == 0:
                str(number)
        except BaseException:
            continue


def loops_and_goes_on_when_stopped(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    try:
        while True:
            pass
    finally:
        until = time.monotonic() + 0.5
        while time.monotonic() < until:
            pass


def loops_and_calls_it_a_pass(item: Item, context: Any) -> Iterator[Verdict]:
    try:
        while True:
            pass
    except BaseException:
        yield ok("in order", item.place)


def loops_and_raises_another(item: Item, context: Any) -> Iterator[Verdict]:
    yield from ()
    try:
        while True:
            pass
    except BaseException as error:
        raise ValueError("hidden") from error


LOOPS = [
    loops,
    loops_in_sleep,
    loops_and_catches_exceptions,
    loops_and_catches_all,
    loops_and_goes_on_when_stopped,
    loops_and_calls_it_a_pass,
    loops_and_raises_another,
]


@pytest.mark.parametrize("check", LOOPS, ids=lambda check: check.__name__)
def test_a_loop_is_stopped(check: Any) -> None:
    told = broken(check, "took longer than 0.503 s")
    assert "hidden" not in told.message
    if check is not loops_and_calls_it_a_pass:
        assert f"of {__file__.rpartition('/')[2]}" in told.message


def test_a_loop_is_stopped_in_another_thread_too() -> None:
    results: list[Result] = []
    errors: list[BaseException] = []

    def work() -> None:
        try:
            results.append(review(rule(loops), rule(passes, "office/sound")))
            sum(1 for _ in range(200_000))  # nothing is pending that would be raised now
        except BaseException as error:
            errors.append(error)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join(60)
    assert not errors
    (result,) = results
    check_is_told(result)


def test_a_loop_over_the_scope_or_the_project_is_stopped() -> None:
    def endless(*_: Any) -> Any:
        while True:
            pass

    broken(passes, "took longer", applies=endless, scope="doors that are looked for without an end")


def test_verdicts_without_an_end() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        while True:
            yield ok("in order", item.place)

    assert "verdicts" in broken(check).message or "took longer" in broken(check).message


def test_recursion_without_an_end() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        yield from check(item, context)

    broken(check, "RecursionError")


def test_memory_without_an_end(monkeypatch: pytest.MonkeyPatch) -> None:
    if foreign._resident() is None:
        pytest.skip("this system does not tell how much memory a process holds")
    monkeypatch.setattr(judging, "MEMORY", 100 << 20)
    held: list[int] = []

    def check(item: Item, context: Any) -> Iterator[Verdict]:
        yield from ()
        eaten = []
        while True:
            eaten.append(bytearray(b"x") * (1 << 20))
            held[:] = [len(eaten)]
            time.sleep(0.0005)

    result = review_text(SPEC, "case.yaml", rulebook=book(rule(check), rule(passes, "office/sound"), patience=30))
    check_is_told(result, "took more than 100 MiB of memory")
    assert 100 < held[0] < 2000
    now = foreign._resident()
    assert now is not None


def test_what_ends_in_time_is_never_stopped() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        time.sleep(0.02)
        yield ok("in order", item.place)

    result = review(rule(check, "office/sound"))
    assert not of(result, "rulebook/rule-broke")
    assert not result.broken


def test_the_limit_grows_with_the_spec() -> None:
    doors = "".join(f"  E{n}: {{items: {{lock: {{product: strike}}}}}}\n" for n in range(500))
    result = review_text(SPEC + doors, "case.yaml", rulebook=replace(book(rule(loops)), modules=(rule(loops),)))
    (told,) = of(result, "rulebook/rule-broke")
    assert "took longer than 1.003 s" in told.message


def test_the_limit_of_a_box_is_kept_at_any_moment() -> None:
    """Work that ends about when its time does gives what it made or is told of, and leaves nothing behind."""
    box = foreign.Box(0.05)
    ends = {"made": 0, "stopped": 0}
    for number in range(40):
        until = time.monotonic() + 0.045 + 0.0015 * number

        def work(until: float = until) -> str:
            while time.monotonic() < until:
                pass
            return "made"

        try:
            ends[box.run(work)] += 1
        except foreign.TookTooMuch:
            ends["stopped"] += 1
        sum(1 for _ in range(20_000))
    assert sum(ends.values()) == 40
    assert ends["stopped"] > 0


def test_the_watching_thread_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(foreign, "IDLE_S", 0.05)
    box = foreign.Box(5)
    assert box.run(lambda: 3) == 3
    for _ in range(100):
        if box._watcher is None:
            break
        time.sleep(0.05)
    assert box._watcher is None
    assert box.run(lambda: 4) == 4


def test_an_interrupt_by_the_user_is_no_finding() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        yield from ()
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        review(rule(check))


# -- nonsense ----------------------------------------------------------------------------------------

A, LIMIT = Measure(Fraction(1), "current"), Measure(Fraction(2), "current")


def said(**more: Any) -> Callable[[Item], Any]:
    return lambda item: Verdict(**{"kind": Kind.FAIL, "message": "found", "place": item.place, **more})


def compared(measured: Any, limit: Any = LIMIT, relation: str = "at most") -> Callable[[Item], Any]:
    return said(measured=measured, limit=limit, relation=relation)


def repaired(change: Callable[[Item], Any]) -> Callable[[Item], Any]:
    return lambda item: said(repairs=(Repair("cure", (change(item),)),))(item)


NONSENSE: dict[str, tuple[Callable[[Item], Any], str]] = {
    "text": (lambda _: "a failure, I think", "yielded a str, a Verdict is expected"),
    "none": (lambda _: None, "yielded a NoneType"),
    "class": (lambda _: Verdict, "yielded a type"),
    "kind as text": (said(kind="fail"), "kind is a str, a Kind is expected"),
    "no message": (said(message=None), "message is a NoneType"),
    "empty message": (said(message="  "), "message is empty"),
    "bytes": (said(message=b"found"), "message is a bytes"),
    "half a character": (said(message="half \udfff"), "half a character"),
    "place as text": (said(place="/openings/D1"), "place is a str, a Place is expected"),
    "no such place": (lambda item: failed("found", item.place.child("gone")), "not in the spec"),
    "no such file": (said(place=Place("other.yaml", "/openings")), "not in the spec"),
    "pointer as number": (said(place=Place("case.yaml", 3)), "pointer of the place"),  # type: ignore[arg-type]
    "odd part": (said(place=Place("case.yaml", "/openings", "tail")), "key or value"),  # type: ignore[arg-type]
    "span": (said(place=Place("case.yaml", "", "value", (0, 10**9))), "has a span"),
    "related as list": (lambda item: said(related=[Related(item.place, "x")])(item), "related is a list"),
    "related as place": (lambda item: said(related=(item.place,))(item), "related holds a Place"),
    "related to nowhere": (lambda item: said(related=(Related(item.place.child("x"), "x"),))(item), "not in the spec"),
    "figure as number": (compared(3.0), "measured is a float, a Measure is expected"),
    "nan": (compared(Measure(math.nan, "current")), "measured is no finite number"),
    "infinity": (compared(A, Measure(math.inf, "current")), "limit is no finite number"),
    "too large": (compared(Measure(Fraction(10**400), "current")), "measured is no finite number"),
    "flag as figure": (compared(Measure(True, "current")), "measured is a bool"),
    "text as figure": (compared(Measure("3 A", "current")), "measured"),  # type: ignore[arg-type]
    "no dimension": (compared(Measure(Fraction(1), "spirit"), None), "no dimension"),
    "two dimensions": (compared(Measure(Fraction(1), "voltage")), "one dimension is expected"),
    "odd relation": (compared(A, relation="about"), "relation is 'about'"),
    "no relation": (compared(A, relation=""), "relation is empty"),
    "step as text": (said(working=("1 + 1",)), "working holds a str"),
    "step with nan": (said(working=(Step("sum", "a", Measure(math.nan, "current")),)), "no finite number"),
    "term from nowhere": (
        lambda item: said(working=(Step("sum", "a", "1 A", (Term("a", "1 A", item.place.child("x")),)),))(item),
        "not in the spec",
    ),
    "missing as text": (said(kind=Kind.OPEN, missing="length"), "missing is a str, a tuple is expected"),
    "missing numbers": (said(kind=Kind.OPEN, missing=(3,)), "missing holds a int"),
    "basis as text": (said(basis=("because",)), "basis holds a str"),
    "repair as text": (said(repairs=("mend it",)), "repairs holds a str"),
    "repair of nowhere": (repaired(lambda item: Change(item.place.child("gone"), "12 V")), "not in the spec"),
    "repair of no file": (repaired(lambda _: Change(Place("x.yaml", ""), "12 V")), "not in the spec"),
    "repair with a number": (repaired(lambda item: Change(item.place, 12)), "text of a change"),  # type: ignore[arg-type]
}


@pytest.mark.parametrize("name", NONSENSE)
def test_nonsense(name: str) -> None:
    make, told = NONSENSE[name]

    def check(item: Item, context: Any) -> Iterator[Any]:
        yield make(item)

    broken(check, told)


@pytest.mark.parametrize("given", [None, 3, "text", [3], {"a": 1}], ids=repr)
def test_a_check_that_is_no_generator(given: Any) -> None:
    broken(lambda *_: given)


def test_a_check_that_says_nothing() -> None:
    broken(lambda *_: (), "yielded nothing")


def test_a_list_of_verdicts_will_do() -> None:
    result = review(rule(lambda item, _: [ok("in order", item.place)], "office/sound"))
    assert not result.broken
    assert len(of(result, "office/sound")) == 4


# -- changes what it is given ------------------------------------------------------------------------


def _sets(target: Callable[[Any, Any], Any], name: str, value: Any = None) -> Callable[[Any, Any], None]:
    return lambda item, context: setattr(target(item, context), name, value)


CHANGES: dict[str, Callable[[Any, Any], Any]] = {
    "item": _sets(lambda item, _: item, "opening", "D9"),
    "new attribute": _sets(lambda item, _: item, "seen", True),
    "sheet": _sets(lambda item, _: item.sheet, "kind", "reader"),
    "coil": _sets(lambda item, _: item.sheet.coil, "voltage"),
    "quantity": _sets(lambda item, _: item.length, "value", Fraction(1)),
    "place": _sets(lambda item, _: item.place, "file", "x"),
    "context": _sets(lambda _, context: context, "spec"),
    "spec": _sets(lambda _, context: context.spec, "openings", {}),
    "wiring": _sets(lambda _, context: context.wiring, "feeds", ()),
    "voltages": _sets(lambda _, context: context.voltages, "wiring"),
    "supplies": _sets(lambda _, context: context.supplies, "spec"),
    "poe": _sets(lambda _, context: context.poe, "links", ()),
    "door": _sets(lambda item, context: context.door(context.opening(item)), "items", ()),
    "openings": lambda _, context: context.spec.openings.pop("D2"),
    "items": lambda item, context: context.opening(item).items.clear(),
    "products": lambda _, context: context.spec.products.update(strike=None),
    "power": lambda _, context: context.spec.power.__delitem__("psu"),
    "practice": lambda _, context: context.spec.practice.setdefault("coil_drop", 1),
    "codes": lambda _, context: context.spec.project.codes.__setitem__("ibc", "1900"),
    "outputs": lambda _, context: context.spec.products["reader"].outputs.popitem(),
    "no outputs": lambda _, context: context.spec.products["strike"].outputs.update(a=1),
    "places": lambda item, _: item.places.clear(),
    "elsewhere": lambda item, _: item.sheet.elsewhere.update(kind=item.place),
    "subjects": lambda _, context: context.subjects.clear(),
    "listed": lambda _, context: context.subjects[Item].append(None),
    "feeds": lambda _, context: context.wiring.by_item.clear(),
    "ior": lambda _, context: context.spec.sets.__ior__({"new": None}),
}


@pytest.mark.parametrize("name", CHANGES)
def test_nothing_that_a_rule_is_given_can_be_changed(name: str) -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        CHANGES[name](item, context)
        yield ok("in order", item.place)

    result = review(rule(check), rule(passes, "office/sound"))
    (told,) = of(result, "rulebook/rule-broke")
    assert any(error in told.message for error in ("FrozenInstanceError", "TypeError", "AttributeError"))
    check_is_told(result)


# -- like openings -----------------------------------------------------------------------------------


def test_a_rule_may_decide_by_names_where_openings_are_alike() -> None:
    """Like openings are judged as one by our rules, which do not ask for names. Of others nobody knows."""

    def check(item: Item, context: Any) -> Iterator[Verdict]:
        found = item.opening == "D1" and item.name in context.spec.openings["D1"].items
        yield (
            failed("found", item.place) if found else ok(f"{item.opening} has {len(item.opening)} letters", item.place)
        )

    doors = "".join(f"  E{n}0: {{items: {{lock: {{product: strike, fed_from: psu}}}}}}\n" for n in range(20))
    result = review(rule(check, "office/sound"), text=SPEC + doors)
    assert not of(result, "rulebook/rule-broke")
    found = {o.subject: (o.kind, o.message) for o in of(result, "office/sound")}
    assert [subject for subject, (kind, _) in found.items() if kind is Kind.FAIL] == ["D1/lock"]
    assert found["E70/lock"] == (Kind.PASS, "E70 has 3 letters")
    assert len(found) == 24


def test_a_rule_that_breaks_on_a_later_opening_keeps_what_it_found_before() -> None:
    def check(item: Item, context: Any) -> Iterator[Verdict]:
        if item.opening == "D3":
            raise ValueError("not this one")
        yield ok("in order", item.place)

    result = review(rule(check))
    (told,) = of(result, "rulebook/rule-broke")
    assert "broke on D3/rc: ValueError: not this one" in told.message
    assert [o.subject for o in of(result, "office/broken")] == ["D1/lock", "D2/lock"]
    assert result.status() == 2


# -- what is said of it ------------------------------------------------------------------------------


def test_every_report_shows_it_and_none_is_clean() -> None:
    from doorlint.report import html, json_report, junit, sarif, text

    result = review(rule(changes_the_item), rule(passes, "office/sound"))
    for written in (
        text.render([result]),
        json_report.render([result], None),
        sarif.render([result], None),
        junit.render([result], Level.ERROR),
        html.render([result]),
    ):
        assert PACKAGE in written
        assert "office/broken" in written


def changes_the_item(item: Any, context: Any) -> Iterator[Verdict]:
    item.opening = "D9"
    yield ok("in order")


def test_a_rule_over_what_is_no_subject_is_told_with_its_package() -> None:
    result = review(rule(passes, over=int))
    (told,) = of(result, "rulebook/rule-broke")
    assert told.message.startswith(f"rule office/broken of package '{PACKAGE}' is over int, which is no subject")
