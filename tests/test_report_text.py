"""The text report: message lines, marks under the exact text, groups, figures, counts, cautions."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.document import Document, parse
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
)
from doorlint.report import text
from doorlint.reviewing import Result
from doorlint.rulebook import Rule, Rulebook

SPEC = """\
project: {name: Invented}
products:
  strike:
    coil: {voltage: 12 V, current: 900 mA}
openings:
  114A:
    set: HW-04
"""
CURRENT = Place("door.yaml", "/products/strike/coil/current")


class Module:
    """A rule that is only counted."""

    RULE = Rule(
        "relay/current-over-rating",
        title="Lock draws more than its output is rated for",
        level=Level.ERROR,
        over=None,
        basis=(Practice("a contact carries what it is rated for"),),
    )

    @staticmethod
    def check(_subject: object, _given: object) -> object:
        raise AssertionError("the report runs no rule")


def outcome(kind: Kind = Kind.FAIL, **more: object) -> Outcome:
    base = Outcome(
        rule="relay/current-over-rating",
        kind=kind,
        level=Level.ERROR,
        subject="114A/lock",
        message="load current 900 mA is above the limit 750 mA by 150 mA",
        place=CURRENT,
    )
    return replace(base, **more)  # type: ignore[arg-type]


def result(*outcomes: Outcome, source: str = SPEC, broken: bool = False, root: str = "door.yaml") -> Result:
    return Result(
        root, outcomes, {"door.yaml": parse(source, "door.yaml")}, Rulebook((Module(),)), broken=broken  # type: ignore[arg-type]
    )


def lines(*outcomes: Outcome, source: str = SPEC, shown: frozenset[str] = text.SHOWN) -> list[str]:
    return text.render([result(*outcomes, source=source)], shown=shown).splitlines()


def test_message_line_source_and_mark() -> None:
    assert lines(outcome())[:4] == [
        "door.yaml:4:36: error: 114A/lock: load current 900 mA is above the limit 750 mA by 150 mA "
        "[relay/current-over-rating]",
        "        coil: {voltage: 12 V, current: 900 mA}",
        "                                       ======",
        "",
    ]


@pytest.mark.parametrize(
    ("kind", "level", "word"),
    [
        (Kind.FAIL, Level.ERROR, "error"),
        (Kind.FAIL, Level.WARNING, "warning"),
        (Kind.FAIL, Level.NOTE, "note"),
        (Kind.OPEN, Level.ERROR, "open"),
        (Kind.REVIEW, Level.ERROR, "review"),
        (Kind.PASS, Level.ERROR, "pass"),
        (Kind.NOT_APPLICABLE, Level.ERROR, "notApplicable"),
    ],
)
def test_each_kind_has_its_word(kind: Kind, level: Level, word: str) -> None:
    first = lines(outcome(kind, level=level), shown=frozenset(k.value for k in Kind))[0]
    assert first.startswith(f"door.yaml:4:36: {word}: 114A/lock: ")


def test_passes_are_listed_only_when_asked_for() -> None:
    assert not any(":4:36:" in line for line in lines(outcome(Kind.PASS), outcome(Kind.NOT_APPLICABLE)))
    asked = lines(outcome(Kind.PASS), outcome(Kind.OPEN), shown=frozenset({"pass"}))
    assert [line.split(": ")[1] for line in asked if ":4:36:" in line] == ["pass"]


def test_waived_failure_is_counted_and_listed_only_when_asked_for() -> None:
    waived = outcome(waived="accepted until the refit")
    assert not any("4:36" in line for line in lines(waived))
    assert any("fail 1 (0 errors, 0 warnings, 0 notes, 1 waived)" in line for line in lines(waived))
    shown = lines(waived, shown=frozenset({"waived"}))
    assert shown[0].startswith("door.yaml:4:36: waived: 114A/lock: ")
    assert "    waived: accepted until the refit" in shown


def test_related_figures_and_cures() -> None:
    good = Repair("feed the lock from a 1 A output", (Change(CURRENT, "700 mA"),), verified=True)
    found = outcome(
        what="load current",
        measured=Measure(Fraction(9, 10), "current"),
        limit=Measure(Fraction(3, 4), "current"),
        relation="at most",
        margin=Measure(Fraction(-3, 20), "current"),
        related=(Related(Place("door.yaml", "/openings/114A/set"), "the set used here"),),
        repairs=(
            good,
            replace(good, title="never tried", verified=False),
            replace(good, title="fit a fail-secure lock", life_safety=True),
        ),
    )
    assert lines(found)[3:7] == [
        "    door.yaml:7:10: the set used here",
        "    load current 900 mA; allowed at most 750 mA; margin -150 mA",
        "    cure: feed the lock from a 1 A output",
        "    cure: fit a fail-secure lock (touches life safety: decide with the authority)",
    ]


def test_figure_that_is_not_finite_is_said_in_words() -> None:
    found = outcome(measured=Measure(float("inf"), "current"), limit=Measure(float("nan"), "current"))
    assert "    measured not a finite number; allowed not a finite number" in lines(found)


def test_figure_of_a_dimension_from_elsewhere() -> None:
    assert text.figure(Measure(Fraction(5, 2), "luminance")) == "2.5 (luminance)"


def test_same_finding_of_many_openings_is_one_entry() -> None:
    many = [outcome(subject=f"{n}/lock") for n in range(100, 138)]
    out = lines(*many)
    assert sum("4:36" in line for line in out) == 1
    assert out[0].startswith("door.yaml:4:36: error: 100/lock: ")
    names = ", ".join(str(n) for n in range(101, 113))
    assert out[3] == f"    and 37 more openings: {names} and 25 others"
    assert any(line.startswith("Total: fail 38 (38 errors") for line in out)


def test_group_of_different_items_names_the_subjects() -> None:
    out = lines(outcome(), outcome(subject="114A/strike"))
    assert out[3] == "    and 1 more subject: 114A/strike"


def test_group_shows_only_what_holds_for_all() -> None:
    own = outcome(measured=Measure(Fraction(1), "current"), related=(Related(CURRENT, "only here"),))
    out = lines(own, outcome(subject="114B/lock", measured=Measure(Fraction(2), "current")))
    assert not any("only here" in line or "measured" in line for line in out)


def test_other_messages_are_not_grouped() -> None:
    assert sum("4:36" in line for line in lines(outcome(), outcome(message="another fault"))) == 2


def test_place_in_a_file_that_could_not_be_read() -> None:
    out = lines(outcome(place=Place("gone.yaml", ""), subject="gone.yaml", message="does not exist"))
    assert out[:2] == ["gone.yaml:1:1: error: does not exist [relay/current-over-rating]", ""]


def test_place_that_is_not_there_is_said() -> None:
    out = lines(outcome(place=Place("door.yaml", "/no/such")))
    assert out[0].startswith("door.yaml:1:1: error: ")
    assert out[1] == "    the place /no/such is not in this file"


def test_place_over_several_lines_is_marked_to_the_end_of_its_first() -> None:
    out = lines(outcome(place=Place("door.yaml", "/products")))
    assert out[1:3] == ["      strike:", "      =======  to line 4"]


def test_empty_place_gets_one_mark() -> None:
    out = lines(outcome(place=Place("door.yaml", "/a")), source="a:\nb: 1\n")
    assert out[0].startswith("door.yaml:1:3: ")
    assert out[1:3] == ["    a:", "      ="]


def test_tabs_and_wide_characters_keep_the_mark_under_its_text() -> None:
    out = lines(outcome(place=Place("door.yaml", "/名/b")), source="名: {a:\t\t1, b: 值值}\n")
    assert out[0].startswith("door.yaml:1:15: ")  # code points, not columns of the screen
    assert out[1:3] == ["    名: {a:     1, b: 值值}", "    " + " " * 18 + "===="]


def test_combining_characters_take_no_column() -> None:
    out = lines(outcome(place=Place("door.yaml", "/e\u0301/b")), source="e\u0301: {b: 12 V}\n")
    assert out[2] == "    " + " " * 7 + "===="


def test_control_and_direction_characters_are_escaped() -> None:
    hostile = outcome(message="\x1b[2Jgone\u202e\n", subject="1\u2066/x", place=Place("door.yaml", "/b"))
    out = text.render([result(hostile, source='b: "x\u202ey"\n')])
    assert "1<U+2066>/x: <U+001B>[2Jgone<U+202E><U+000A> [" in out
    assert '    b: "x<U+202E>y"\n       ' + "=" * 12 + "\n" in out
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069]", out)


def test_long_line_is_cut_around_the_place() -> None:
    source = "a: [" + "x" * 5000 + ", 12 V, " + "y" * 5000 + "]\n"
    out = lines(outcome(place=Place("door.yaml", "/a/1")), source=source)
    assert len(out[1]) <= 100
    assert out[1].startswith("    ... x")
    assert out[1].endswith("y ...")
    start = out[2].index("=")
    assert out[1][start : start + 4] == "12 V"
    assert out[2].count("=") == 4


def test_place_longer_than_the_line_shown() -> None:
    out = lines(outcome(place=Place("door.yaml", "/a")), source="a: " + "x" * 5_000_000 + "\n")
    assert len(out[1]) <= 100
    assert out[1].endswith("xxx ...")
    assert 60 < out[2].count("=") <= 92


def test_totals_count_all_five_kinds_and_the_levels() -> None:
    out = lines(
        outcome(), outcome(level=Level.WARNING, message="b"), outcome(level=Level.NOTE, message="c"),
        outcome(waived="x"), outcome(Kind.OPEN), outcome(Kind.REVIEW), outcome(Kind.PASS),
        outcome(Kind.PASS), outcome(Kind.NOT_APPLICABLE),
    )  # fmt: skip
    assert out[-3] == (
        "Total: fail 4 (1 error, 1 warning, 1 note, 1 waived), open 1, review 1, pass 2, not applicable 1."
    )
    row = next(line for line in out if line.startswith("relay/current-over-rating"))
    assert row.split() == ["relay/current-over-rating", "4", "1", "1", "2", "1"]


def test_rules_without_failure_are_summed_up() -> None:
    assert "1 rule: 1 with passes only, 0 with nothing to judge" in lines(outcome(Kind.PASS))
    assert "1 rule: 0 with passes only, 1 with nothing to judge" in lines()
    other = lines(outcome(rule="document/syntax"))
    assert "1 further rule: 0 with passes only, 1 with nothing to judge" in other


def test_cautions_end_every_report() -> None:
    for out in (lines(), lines(outcome())):
        assert tuple(out[-2:]) == text.CAUTIONS
    assert "authority having jurisdiction" in text.CAUTIONS[0]
    assert "data given" in text.CAUTIONS[1]


def test_incomplete_review_is_said() -> None:
    assert "incomplete" in text.render([result(broken=True)])
    assert "incomplete" not in text.render([result()])


def test_several_specs_are_headed_and_totalled_together() -> None:
    out = text.render([result(outcome(), root="a.yaml"), result(outcome(), root="b.yaml")]).splitlines()
    assert [line for line in out if line.startswith("Spec ")] == ["Spec a.yaml", "Spec b.yaml"]
    assert sum(line.startswith("Total: fail 2 ") for line in out) == 1


def _width(line: str) -> int:
    """Columns of a terminal, by Unicode Standard Annex 11 (East Asian Width) and general category."""
    return sum(
        0 if unicodedata.category(c) in ("Mn", "Me", "Cf") else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in line
    )


@settings(max_examples=150, deadline=None)
@given(
    st.text(st.sampled_from("ab \t名值e\u0301\u202e\x07\U0001f600"), max_size=150),
    st.integers(0, 150),
    st.integers(0, 150),
    st.integers(20, 110),
)
def test_mark_stands_under_its_text(line: str, start: int, size: int, width: int) -> None:
    """For any line, place and width: the mark is within the width, and as wide as what stands above it."""
    start = min(start, len(line))
    end = min(start + size, len(line))
    document = Document("door.yaml", line, None, ())
    found = text.Where(document, start, end, 1, start + 1, 1, end + 1)
    shown = text.marked(found, width)
    if not line.strip():
        assert shown == ()
        return
    source, mark = shown
    assert _width(source) <= width
    assert re.fullmatch(r" *=+", mark)
    if not source.endswith("...") and not source.startswith("..."):
        before = "".join(cell for cell, _ in text._cells(line)[:start])
        covered = "".join(cell for cell, _ in text._cells(line)[start:end])
        assert len(mark) - len(mark.lstrip()) == _width(before)
        assert mark.count("=") == max(1, _width(covered))
