"""Which of several adopted codes decides, what a verdict says, and what the reading of value files refuses."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import permutations
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint import codes
from doorlint.codes import asking, values
from doorlint.codes.setting import Setting, strictest
from doorlint.codes.values import ValueFile
from doorlint.outcome import Cited, Kind, Place
from doorlint.quantity import Band, Quantity, parse_band, parse_quantity
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Project

AT = Place("door.yaml", "/openings/1/egress")
PROJECT = Place("door.yaml", "/project")


def _project(amendments: Any = None, **adopts: str) -> Project:
    return Project(place=PROJECT, codes=adopts, amendments=amendments)


def _setting(value: codes.Value | None, strictness: str, use: str = "limit", kind: str = "count") -> Setting:
    return Setting(
        "case/case", "Case", kind, value, strictness, use, "X-2000", "X-2000", Cited("Case", "2000", "1"), PROJECT
    )


# -- which of several decides -----------------------------------------------------------------------


def test_a_permission_under_a_condition_is_stricter_than_one_without() -> None:
    """The order is that of the words: permitted, conditional, not permitted. NFPA 101 (2015) leaves delayed egress in
    group M to its occupancy chapters, the IBC permits it (from memory)."""
    both = _project(building="IBC-2015", life_safety="NFPA-101-2015")
    name = "delayed_egress/permission"
    each = [codes.lookup(both, family, name, group="M").value for family in ("building", "life_safety")]
    assert each == ["permitted", "conditional"]
    assert codes.permission(both, name, group="M").edition == "NFPA-101-2015"


def test_the_verdict_of_two_codes_that_are_met_is_shown_against_the_stricter() -> None:
    """NFPA 101 (2021) 7.2.1.6.1 sets 15 lbf, the IBC no figure (see `delayed_egress/force`)."""
    both = _project(building="IBC-2021", life_safety="NFPA-101-2021")
    verdict = codes.judge(both, "delayed_egress/force", "force", parse_quantity("10 lbf", "force"), AT)
    assert verdict.kind is Kind.PASS
    assert verdict.message == "force 10 lbf: at most 15 lbf is required (NFPA-101-2021)"


def _told_as(monkeypatch: pytest.MonkeyPatch, **found: Setting) -> Project:
    """A project whose adopted codes say these things, by family."""
    given = {family: replace(each, edition=family, layer=family) for family, each in found.items()}
    monkeypatch.setattr(asking, "settings", lambda *_, **__: (tuple(given.values()), ()))
    return _project(**dict.fromkeys(found, "X-2000"))


def test_where_one_code_is_met_and_one_asks_for_approval_the_authority_decides(monkeypatch: pytest.MonkeyPatch) -> None:
    approval = replace(_setting(2, "at_most"), with_approval=5, basis=Cited("Other", "2000", "2"))
    project = _told_as(monkeypatch, building=_setting(4, "at_most"), life_safety=approval)
    verdict = codes.judge(project, "case/case", "has", 3, AT)
    assert verdict.kind is Kind.REVIEW
    assert verdict.message == "has 3: at most 2 is required; at most 5 only where the authority approves (life_safety)"
    assert verdict.basis == (Cited("Other", "2000", "2"),)


def test_of_codes_that_cannot_be_ranked_the_first_is_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    project = _told_as(
        monkeypatch, building=_setting(2, "at_least", "trigger"), life_safety=_setting(9, "at_most", "trigger")
    )
    met = codes.triggering(project, "case/case", 5)
    assert met is not None and met.edition == "building"
    assert codes.judge(project, "case/case", "locks", 5, AT).message == "locks 5: at least 2 is required (building)"


def test_of_two_triggers_that_are_met_the_one_that_asks_first_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    project = _told_as(
        monkeypatch, building=_setting(100, "at_least", "trigger"), life_safety=_setting(50, "at_least", "trigger")
    )
    met = codes.triggering(project, "case/case", 120)
    assert met is not None and met.edition == "life_safety"


def test_a_code_that_is_not_known_hides_none_after_it() -> None:
    project = _project(building="unknown", life_safety="NFPA-101-2021")
    found, gaps = codes.settings(project, "delayed_egress/delay")
    assert [each.edition for each in found] == ["NFPA-101-2021"]
    assert [gap.name for gap in gaps] == ["codes.building"]


WORDS = ("lenient", "middle", "strict")


def _ranked(word: codes.Value) -> Setting:
    return replace(_setting(word, "exactly", kind="word"), order=WORDS)


def test_words_are_ranked_by_their_order_and_others_not_at_all() -> None:
    for one, other in permutations(WORDS, 2):
        best = strictest((_ranked(one), _ranked(other)))
        assert best is not None and best.value == max(one, other, key=WORDS.index)
    assert strictest((_ranked("strict"), _ranked("unheard of"))) is None
    assert strictest((_ranked("unheard of"), _ranked("strict"))) is None


def test_the_longer_list_of_what_has_to_be_there_is_the_stricter() -> None:
    one, two = _setting(("a",), "all_of"), _setting(("a", "b"), "all_of")
    assert strictest((one, two)) is strictest((two, one)) is two
    turned = _setting(("b", "a"), "all_of")
    assert strictest((two, turned)) is two


def test_no_limit_is_the_most_lenient_wherever_it_stands() -> None:
    limit, none = _setting(5, "at_most"), _setting(None, "at_most")
    assert strictest((limit, none)) is strictest((none, limit)) is limit


NUMERIC = st.sampled_from((("at_least", "more_than"), ("at_most", "less_than")))


@given(NUMERIC, st.data(), st.sampled_from(("limit", "trigger")), st.integers(-1, 5))
@settings(max_examples=200, deadline=None)
def test_the_stricter_of_two_does_not_hang_on_their_order(
    pair: tuple[str, str], data: st.DataObject, use: str, measured: int
) -> None:
    one, other = (_setting(data.draw(st.integers(0, 3)), data.draw(st.sampled_from(pair)), use) for _ in range(2))
    first, second = strictest((one, other)), strictest((other, one))
    assert first is not None and second is not None
    assert (first.value, first.strictness) == (second.value, second.strictness)
    if use == "limit":
        both = one.admits(measured) is other.admits(measured) is codes.Answer.YES
        assert (first.admits(measured) is codes.Answer.YES) == both
    else:
        assert first.triggers(measured) == (one.triggers(measured) or other.triggers(measured))


# -- what is admitted, and what the verdict says ----------------------------------------------------


def test_what_is_allowed_may_be_there_or_not() -> None:
    allowed = _setting(True, "allowed", kind="flag")
    assert (allowed.admits(True), allowed.admits(False)) == (codes.Answer.YES, codes.Answer.YES)


def test_a_count_is_compared_with_a_count_alone() -> None:
    limit = _setting(2, "at_most")
    for other in ("1", True):
        with pytest.raises(TypeError, match="is no number"):
            limit.admits(other)


@pytest.mark.parametrize(
    ("setting", "measured", "message"),
    [
        (_setting(True, "demanded", kind="flag"), False, "it no: it is demanded (X-2000)"),
        (_setting(False, "allowed", kind="flag"), True, "it yes: it is not allowed (X-2000)"),
        (_setting(True, "allowed", kind="flag"), True, "it yes: it is allowed (X-2000)"),
        (_setting("manual", "exactly", kind="word"), "automatic", "it automatic: manual is required (X-2000)"),
        (_setting(("a", "b"), "all_of", kind="list"), ("a",), "it a: all of a, b is required (X-2000)"),
        (_setting(2, "at_most"), 3, "it 3: at most 2 is required (X-2000)"),
        (_setting(None, "at_most"), 3, "it 3: no limit is set (X-2000)"),
        (
            _setting(Quantity(Fraction(15), "time", "15 s"), "at_most", kind="quantity"),
            Quantity(Fraction(16), "time", ""),
            "it 16 s: at most 15 s is required (X-2000)",
        ),
        (
            _setting(Quantity(Fraction(15), "time", "15 s"), "at_most", kind="quantity"),
            Band(Fraction(10), Fraction(20), None, "time", ""),
            "it 10 s to 20 s: at most 15 s is required (X-2000)",
        ),
    ],
    ids=lambda part: part if isinstance(part, str) else "",
)
def test_the_verdict_is_told_in_words(setting: Setting, measured: codes.Value, message: str) -> None:
    assert setting.verdict("it", measured, AT).message == message


def test_a_band_has_no_one_margin() -> None:
    delay = codes.published("delayed_egress/delay", "IBC-2021")
    verdict = delay.verdict("delay", parse_band("14..31 s", "time"), AT)
    assert verdict.kind is Kind.FAIL
    assert verdict.margin is None


def test_a_figure_is_from_memory_only_where_its_file_says_so() -> None:
    assert codes.published("delayed_egress/delay", "IBC-2018").basis.from_memory is False
    assert codes.published("delayed_egress/delay", "NFPA-101-2024").basis.from_memory is True


def test_what_no_project_adopts_has_no_place() -> None:
    assert codes.published("exit_device/lever_force", "EN-179-2008").place == Place("", "")


# -- amendments -------------------------------------------------------------------------------------


def test_the_amendment_that_is_not_known_is_pointed_at() -> None:
    for amendments, pointer in (
        (("ATLANTIS-2020",), "/project/amendments"),
        (("CALIFORNIA-2022", "ATLANTIS-2020"), "/project/amendments/1"),
        (("none", "ATLANTIS-2020"), "/project/amendments/1"),
        (("NEW YORK CITY 2022", "ATLANTIS-2020"), "/project/amendments/1"),
    ):
        base = "IBC-2015" if "NEW YORK CITY 2022" in amendments else "IBC-2021"
        with pytest.raises(Undecided, match="ATLANTIS-2020") as gap:
            codes.lookup(_project(amendments, building=base), "building", "delayed_egress/delay")
        assert gap.value.place.pointer == pointer


def test_amendments_after_one_of_another_document_count() -> None:
    with pytest.raises(Undecided, match="ATLANTIS-2020"):
        codes.lookup(
            _project(("CALIFORNIA-2022", "ATLANTIS-2020"), life_safety="NFPA-101-2021"),
            "life_safety",
            "delayed_egress/force",
        )


def test_an_amendment_of_a_value_that_there_is_not_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    change = {"name": "delayed_egress/nothing", "value": "15 s", "section": "Case"}
    data = {"title": "Case", "jurisdiction": "Here", "base": "IBC-2021", "changes": [change], "id": "HERE-2022"}
    monkeypatch.setattr(values, "amendment_files", lambda: {"HERE-2022": data})
    with pytest.raises(KeyError, match="delayed_egress/nothing"):
        codes.check_amendments()


# -- the value files --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["delayed_egress/nothing", "delayed_egress", "amendments/california-2022", "", "/"])
def test_a_name_without_a_file_is_named(name: str) -> None:
    with pytest.raises(KeyError) as error:
        values.value_file(name)
    assert error.value.args == (name,)


def test_each_family_asks_its_own_values() -> None:
    """Every value of a document that a project adopts hangs on the key under which it is adopted."""
    families = {family for name in codes.names() for family in values.value_file(name).families}
    assert families == {document.family for document in values.documents().values()} - {"product", "law"}


def _loads(monkeypatch: pytest.MonkeyPatch, **data: Any) -> None:
    """The value files, of which one that there is now reads like this."""
    values.documents()
    read = values.load
    given = {"title": "Case", "kind": "count", "series": [], **data}
    monkeypatch.setattr(values, "load", lambda path: given if path.name == "delay.yaml" else read(path))
    monkeypatch.setattr(values, "value_file", values.value_file.__wrapped__)


def test_an_edition_that_has_a_figure_is_no_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    _loads(
        monkeypatch,
        series=[{"edition": "IBC-2021", "value": 1}, {"edition": "IBC-2018", "value": 1}],
        gaps=[{"edition": "IBC-2018", "reason": "nobody looked"}],
    )
    with pytest.raises(codes.ValuesError, match="IBC-2018 stands in the series and among the gaps"):
        values.value_file("delayed_egress/delay")


def test_an_edition_stands_once_in_the_series(monkeypatch: pytest.MonkeyPatch) -> None:
    _loads(monkeypatch, series=2 * [{"edition": "IBC-2021", "value": 1}])
    with pytest.raises(codes.ValuesError, match="IBC-2021 stands twice"):
        values.value_file("delayed_egress/delay")


def test_coverage_tells_each_edition_of_each_document_once(monkeypatch: pytest.MonkeyPatch) -> None:
    section = {"section": "Case"}
    series: dict[str, dict[str, Any]] = {
        "IBC-2021": {"value": "15 s", **section},
        "IBC-2018": {"groups": {"A": {"value": 50}, "otherwise": 100}, **section},
        "IBC-2009": {"value": ["a", "b"], **section},  # an edition beyond those that the document lists
        "ADA-2010": {"value": True, **section},
        "NFPA-80-2010": {"clause": "1.2", **section},
    }
    gaps = {"IBC-2024": "nobody looked", "IBC-2006": "too old", "EN-13637-2015": "not bought"}
    file = ValueFile("a/b", "", "flag", "", "", "", (), MappingProxyType(series), MappingProxyType(gaps), ())
    monkeypatch.setattr(values, "names", lambda: ("a/b",))
    monkeypatch.setattr(values, "value_file", lambda _: file)
    assert list(codes.coverage()) == [
        ("a/b", "IBC-2015", "", ""),
        ("a/b", "IBC-2018", "A: 50; otherwise: 100", ""),
        ("a/b", "IBC-2021", "15 s", ""),
        ("a/b", "IBC-2024", "", "nobody looked"),
        ("a/b", "IBC-2009", "a, b", ""),
        ("a/b", "IBC-2006", "", "too old"),
        ("a/b", "ADA-2010", "yes", ""),
        ("a/b", "NFPA-80-2010", "1.2", ""),
        *(("a/b", f"NFPA-80-{year}", "", "") for year in (2013, 2016, 2019, 2022)),
        ("a/b", "EN-13637-2015", "", "not bought"),
    ]
