"""The HTML report as text: what stands in it, that hostile text stays text, and that it stays small. How it looks and
works in a browser is tested in `browser/`."""

from __future__ import annotations

import base64
import hashlib
import re
import sys
import tomllib
from collections import Counter
from dataclasses import replace
from datetime import date
from fractions import Fraction
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import report_samples
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint import cli
from doorlint.outcome import Kind, Level, Measure, Outcome, Place, Step, Term
from doorlint.report import diagram, html, html_view
from doorlint.report.html_data import KINDS, Limits
from doorlint.report.text import CAUTIONS, plain, where
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook

DAY = date(2027, 6, 30)
VOID = {"meta", "br", "input"}
BLOCKS = {"td", "th", "p", "li", "dt", "dd", "caption", "div", "option", "label", "button"}


class Page(HTMLParser):
    """What a reader of HTML finds: elements with their attributes and text, in order."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.inside: list[int] = []
        self.feed(text)
        self.close()
        assert not self.inside, "elements that are not closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self.texts.append("")
        if tag not in VOID:
            self.inside.append(len(self.elements) - 1)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self.texts.append("")

    def handle_endtag(self, tag: str) -> None:
        index = self.inside.pop()
        assert self.elements[index][0] == tag, f"</{tag}> closes <{self.elements[index][0]}>"
        if tag in BLOCKS:
            self.handle_data(" ")

    def handle_data(self, data: str) -> None:
        for index in self.inside:
            self.texts[index] += data

    def all(self, tag: str, **wanted: str) -> list[tuple[dict[str, str | None], str]]:
        """The elements of one kind whose attributes have these values: attributes and text, spaces folded."""
        return [
            (attributes, " ".join(text.split()))
            for (name, attributes), text in zip(self.elements, self.texts, strict=True)
            if name == tag and all(attributes.get(key.strip("_")) == value for key, value in wanted.items())
        ]

    @property
    def text(self) -> str:
        return " ".join(self.texts[0].split())


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return report_samples.reviewed(report_samples.write(tmp_path_factory.mktemp("sample")))


@pytest.fixture(scope="module")
def page(sample: Result) -> Page:
    return Page(html.render([sample], on=DAY))


def with_outcomes(result: Result, *outcomes: Outcome) -> Result:
    return replace(result, outcomes=outcomes)


def numeric(measured: Fraction | float, limit: Fraction | float, dimension: str = "current", **more: Any) -> Outcome:
    margin = Measure(limit - measured, "temperature_difference" if dimension == "temperature" else dimension)
    kind = Kind.PASS if margin.value >= 0 else Kind.FAIL
    return Outcome(
        "coil/current-high", kind, Level.ERROR, more.pop("subject", "114A/lock"), "message", Place("project.yaml", ""),
        what="figure", measured=Measure(measured, dimension), limit=Measure(limit, dimension), relation="at most",
        margin=margin, **more,
    )  # fmt: skip


# --- what stands in it ---


def test_the_counts_are_those_of_the_review(sample: Result, page: Page) -> None:
    counted = Counter("waived" if o.kind is Kind.FAIL and o.waived else o.kind.value for o in sample.outcomes)
    rows = [text for _, text in page.all("tr")]
    for kind in KINDS:
        word = "not applicable" if kind == "notApplicable" else kind
        assert any(row.startswith(f"{word} {counted[kind]} ") for row in rows), word
    assert counted["waived"] == 1
    assert all(counted[kind] for kind in ("fail", "open", "review", "pass", "notApplicable"))


def test_every_outcome_that_is_no_pass_is_listed_with_its_source(sample: Result, page: Page) -> None:
    blocks = page.all("div", class_="finding")
    for outcome in sample.outcomes:
        if outcome.kind in (Kind.PASS, Kind.NOT_APPLICABLE):
            continue
        found = where(sample, outcome.place)
        assert found is not None
        assert any(
            plain(outcome.message) in text and outcome.rule in text and f":{found.line}:{found.column}" in text
            for _, text in blocks
        ), outcome
    assert any("Cure, tried on a copy: a coil of 700 mA" in text for _, text in blocks)
    assert not any("a coil of 800 mA" in text for _, text in blocks), "a cure that does not cure is not offered"
    assert any("Waived because: measured at the [bench](1) {x}" in text for _, text in blocks)


def test_the_marked_text_is_what_the_place_covers(page: Page) -> None:
    assert "[marked: 900 mA]" in [text for _, text in page.all("mark")]


def test_the_cautions_stand_at_the_top_and_at_the_bottom(page: Page) -> None:
    boxes = [text for _, text in page.all("div", class_="caution")]
    assert len(boxes) == 2
    assert all(caution in box for box in boxes for caution in CAUTIONS)
    assert page.all("header")[0][1].endswith(CAUTIONS[-1])
    assert CAUTIONS[-1] in page.all("footer")[0][1]


def test_an_incomplete_review_says_so(sample: Result, page: Page) -> None:
    words = "This review is incomplete"
    assert words in Page(html.render([replace(sample, broken=True)])).text
    assert words not in page.text


def test_a_spec_that_cannot_be_read_gives_a_report_all_the_same() -> None:
    result = review_text("doorlint: 1\nproject: {name: [", "door.yaml", rulebook=Rulebook())
    found = Page(html.render([replace(result, spec=None, context=None)]))
    check_structure(found)
    assert "This review is incomplete" in found.text
    assert "Where" in found.text
    assert "door.yaml:" in found.text


def test_questions_are_asked_of_the_party_that_furnishes(page: Page) -> None:
    rows = [text for _, text in page.all("tr")]
    assert any("hardware supplier" in row and "inductance" in row for row in rows)


def test_the_day_is_the_only_thing_that_differs(sample: Result) -> None:
    first, second = (html.render([sample], on=day) for day in (DAY, date(2028, 1, 1)))
    assert first != second
    assert first.replace("2027-06-30", "2028-01-01") == second


# --- that it is well formed and needs nothing ---


def check_structure(found: Page) -> None:
    ids = [attributes["id"] for _, attributes in found.elements if "id" in attributes]
    assert len(ids) == len(set(ids)), Counter(ids).most_common(1)
    for name, attributes in found.elements:
        for key in ("href", "src", "action", "data", "background"):
            target = attributes.get(key)
            assert target is None or (name == "a" and target.startswith("#")), (name, target)
        if (target := attributes.get("href")) is not None:
            assert target[1:] in ids, target
        for key in ("aria-labelledby", "aria-describedby"):
            assert set((attributes.get(key) or "").split()) <= set(ids), attributes
        assert not [key for key in attributes if key.startswith("on") or key == "style"], attributes
        if name == "th":
            assert attributes.get("scope") in ("col", "row", "rowgroup")
    levels = [int(name[1]) for name, _ in found.elements if re.fullmatch("h[1-6]", name)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert len(found.all("caption")) == len(found.all("table"))
    assert all(text for _, text in found.all("caption"))
    for tag in ("header", "main", "footer", "nav"):
        assert len(found.all(tag)) == 1
    assert len(found.all("svg")) == len(found.all("desc"))


def test_structure(page: Page) -> None:
    check_structure(page)


def test_structure_of_two_specs_in_one_report(sample: Result) -> None:
    found = Page(html.render([sample, sample]))
    check_structure(found)
    assert len(found.all("form")) == 1


def test_nothing_is_loaded_and_only_own_style_and_script_may_run(page: Page) -> None:
    ((_, style),) = page.all("style")
    policy = next(a["content"] or "" for a, _ in page.all("meta") if a.get("http-equiv") == "Content-Security-Policy")
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert directives["default-src"] == "'none'"
    assert directives["base-uri"] == directives["form-action"] == "'none'"
    for tag in ("style", "script"):
        raw = [text for (name, _), text in zip(page.elements, page.texts, strict=True) if name == tag]
        assert len(raw) == 1
        digest = base64.b64encode(hashlib.sha256(raw[0].encode()).digest()).decode()
        assert directives[f"{tag}-src"] == f"'sha256-{digest}'"
    assert "url(" not in style
    assert "@import" not in style


def test_the_hash_is_that_of_the_standard() -> None:
    # The worked example of hash sources in Content Security Policy (W3C, Level 2 and 3), from memory.
    assert html._hash("alert('Hello, world.');") == "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"


# --- hostile text stays text ---

HOSTILE = (
    "</title></style></script><script>window.hit = 1</script><img src=x onerror=alert(1)>",
    "\" onmouseover=\"alert(1)' &lt;b&gt; &amp; &#x202e; ]]> <!-- {{ 7 * 7 }} {% raw %}",
    "a\u202eb\u2066c\x07d\x00e\x1b[31mf\u2028g\ufeffh",
    "W" * 5000,
)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_in_every_field_of_an_outcome(text: str, sample: Result) -> None:
    first = sample.outcomes[0]
    step = Step(text, text, text, (Term(text, text, first.place),), text)
    hostile = replace(
        first, message=text, what=text, missing=(text,), waived=text, relation=text, working=(step,),
        subject=first.subject + "/" + text, kind=Kind.FAIL, measured=Measure(Fraction(1), "current"),
    )  # fmt: skip
    found = Page(html.render([with_outcomes(sample, hostile)], on=DAY))
    check_structure(found)
    assert len(found.all("script")) == 1
    assert not found.all("img")
    assert " ".join(plain(text).split()) in found.text


@settings(max_examples=15, deadline=None)
@given(text=st.text(st.characters(), min_size=1, max_size=60))
def test_no_text_changes_the_elements_of_the_page(text: str, sample: Result) -> None:
    def rendered(message: str) -> str:
        return html.render([with_outcomes(sample, replace(sample.outcomes[0], message=message))], on=DAY)

    made = rendered(text)
    assert [name for name, _ in Page(made).elements] == [name for name, _ in Page(rendered("x")).elements]
    assert not [c for c in made if (ord(c) < 32 and c != "\n") or c in "\u202a\u202e\u2066\u2069\u2028"]
    made.encode()


SPEC = """\
doorlint: 1
project: {{name: {title}}}
products:
  strike: {{kind: electric_strike, title: {title}, fail: secure, coil: {{supply: dc, voltage: 12 V, current: 1 A}}}}
power:
  psu: {{kind: power_supply, supply: dc, voltage: 12 V}}
openings:
  {title}:
    title: {title}
    from: {title}
    note: {title}
    items: {{{title}: {{product: strike, fed_from: psu, cable: {title}, length: 3 m, note: {title}}}}}
"""


IN_SPEC = ("</title><script>alert(1)</script>", r"\u202e<b>&amp;\"", "<svg/onload=alert(1)>" * 9)


@pytest.mark.parametrize("text", IN_SPEC)
def test_hostile_text_in_the_spec(text: str) -> None:
    title = f'"{text}"'
    result = review_text(SPEC.format(title=title), "door.yaml", rulebook=Rulebook(report_samples.RULES))
    made = html.render([result], on=DAY)
    found = Page(made)
    check_structure(found)
    assert len(found.all("script")) == 1
    assert "\u202e" not in made
    if result.spec is not None and result.spec.openings:
        assert found.all("svg")


# --- margins ---


def test_margins_thinnest_first(sample: Result) -> None:
    outcomes = (
        numeric(Fraction(1), Fraction(4)),
        numeric(Fraction(5), Fraction(4)),
        numeric(Fraction(39, 10), Fraction(4)),
        numeric(Fraction(310), Fraction(313), "temperature"),
        numeric(Fraction(330), Fraction(313), "temperature"),
        numeric(Fraction(0), Fraction(0)),
        numeric(float("nan"), 1.0),
    )
    made = html_view.view(with_outcomes(sample, *outcomes))
    shares = [row.share for row in made.margins]
    assert shares == [None, None, -0.25, 0.025, 0.75, None, None], "failures without a share come first"
    assert made.margins[2].share_text == "-25 %"
    assert made.margins[0].share_text == "not defined"
    assert [row.word for row in made.margins[:3]] == ["fail, error"] * 3


@given(
    measured=st.fractions(min_value=-1000, max_value=1000), limit=st.fractions(min_value=-1000, max_value=1000)
)
def test_the_share_has_the_sign_of_the_margin(measured: Fraction, limit: Fraction) -> None:
    share = html_view.share_of(numeric(measured, limit))
    if limit == 0:
        assert share is None
    else:
        assert share is not None
        assert (share > 0) == (measured < limit)
        assert (share < 0) == (measured > limit)


# --- the source line ---


@settings(deadline=None)
@given(
    line=st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Zl", "Zp")), min_size=1, max_size=400),
    ends=st.tuples(st.integers(0, 400), st.integers(0, 400)),
)
def test_an_excerpt_is_a_piece_of_its_line(line: str, ends: tuple[int, int]) -> None:
    from doorlint.document import parse

    start, end = sorted(min(one, len(line)) for one in ends)
    document = parse(line, "line.yaml")
    result = Result("line.yaml", (), {"line.yaml": document})
    found = where(result, Place("line.yaml", "", span=(start, end)))
    assert found is not None
    made = html_view.excerpt(found, "line.yaml:1")
    piece = made.before.removeprefix("… ") + made.marked.removesuffix("…") + made.after.removesuffix(" …")
    assert piece in line
    assert len(piece) <= 2 * 110
    assert line[start:end].startswith(made.marked.removesuffix("…"))


# --- the wiring diagram ---

WIRED = """\
doorlint: 1
project: {name: Invented}
products:
  lock: {kind: electromagnetic_lock, fail: safe, coil: {supply: dc, voltage: 24 V, current: 500 mA}}
  rc: {kind: reader_controller, inputs: {poe: {poe_class: 3}, dc: {voltage: 12 V, current: 300 mA}},
       outputs: {aux: {supply: dc, voltage: 12 V}}, contacts: {relay: {form: spdt}}}
  fire: {kind: fire_alarm_relay, contacts: {contact: {form: nc}}}
  reader: {kind: reader, inputs: {dc: {voltage: 12 V, current: 100 mA}}}
  dps: {kind: door_position_switch}
  closer: {kind: closer}
power:
  mains: {kind: mains}
  psu: {kind: power_supply, fed_from: mains, supply: dc, voltage: 24 V,
        outputs: {"1": {switch: none}, "2": {switch: none}}}
  sw: {kind: poe_switch, fed_from: mains}
openings:
  A:
    items:
      rc: {product: rc, side: secured, fed_from: [sw, psu.2], cable: cat6, length: 62 m}
      reader: {product: reader, side: unsecured, fed_from: rc.aux, cable: 18/4, length: 4 m}
      fire: {product: fire, side: remote}
      lock: {product: lock, side: boundary, fed_from: psu.1, cable: 18/2, length: 9 m,
             released_by: fire.contact, switched_by: rc.relay.nc, suppression: none}
      spare: {product: reader, side: unknown}
      dps: {product: dps, signals: rc.door_position}
      closer: {product: closer}
"""


@pytest.fixture(scope="module")
def drawn() -> diagram.Diagram:
    result = review_text(WIRED, "door.yaml", rulebook=Rulebook())
    assert result.spec is not None
    assert result.context is not None
    return diagram.draw(result.spec.openings["A"], result.spec, result.context.wiring)


def test_the_feeds_in_words(drawn: diagram.Diagram) -> None:
    told = "\n".join(drawn.sentences)
    assert "from sw (PoE switch, fed from mains), 62 m of cat6, to rc (reader controller, PoE class 3," in told
    assert "from rc.aux, 4 m of 18/4, to reader" in told
    assert "released by fire.contact (normally closed), switched by rc.relay (normally closed), to lock" in told
    assert "fail safe" in told
    assert "no suppression" in told
    assert "spare (reader, side open): what feeds it is open" in told
    assert drawn.signals == ("dps (door position switch, side open) signals to rc, door position",)
    assert [one.split(" ")[0] for one in drawn.loose] == ["fire", "closer"]
    assert len(drawn.sentences) == 5, "the controller has two feeds"


def test_contacts_stand_in_series_from_the_source_on(drawn: diagram.Diagram) -> None:
    assert [(symbol.label, symbol.form) for symbol in drawn.symbols] == [("fire.contact", "nc"), ("rc.relay", "nc")]
    first, second = drawn.symbols
    assert first.y == second.y
    assert second.x - first.x >= diagram.CONTACT


def test_the_side_and_what_is_open_are_drawn(drawn: diagram.Diagram) -> None:
    by_name = {box.lines[0]: box for box in drawn.boxes if box.style != "again"}
    assert by_name["reader"].unsecured
    assert not by_name["lock"].unsecured
    assert by_name["feed open"].style == "open"
    assert [box.lines[0] for box in drawn.boxes if box.style == "again"] == ["rc"]


def check_drawing(drawing: diagram.Diagram) -> None:
    boxes = drawing.boxes
    for index, box in enumerate(boxes):
        assert box.x >= 0
        assert box.y >= 0
        assert box.x + box.width <= drawing.width
        assert box.y + box.height <= drawing.height
        for other in boxes[index + 1 :]:
            apart = (
                box.x + box.width <= other.x or other.x + other.width <= box.x
                or box.y + box.height <= other.y or other.y + other.height <= box.y
            )  # fmt: skip
            assert apart, (box, other)
    for line in drawing.lines:
        points = [tuple(map(int, point.split(","))) for point in line.points.split()]
        assert any(points[0] == (box.x + box.width, box.y + box.height // 2) for box in boxes)
        assert any(points[-1] == (box.x, box.y + box.height // 2) for box in boxes)
        for (ax, ay), (bx, by) in pairwise(points):
            assert ax == bx or ay == by, "lines are upright or level"
            for box in boxes:  # no line runs through a box
                crosses = (
                    max(ax, bx) > box.x and min(ax, bx) < box.x + box.width
                    and max(ay, by) > box.y and min(ay, by) < box.y + box.height
                )  # fmt: skip
                assert not crosses, (line, box)


def test_the_drawing_is_sound(drawn: diagram.Diagram) -> None:
    check_drawing(drawn)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_any_tree_of_feeds_is_drawn_without_overlap(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 9))
    items = []
    for index in range(count):
        feeds = [f"psu.{index}", *(f"d{before}.out" for before in range(index))]
        fed = data.draw(st.sampled_from(feeds))
        contacts = data.draw(st.lists(st.sampled_from(["relay.contact.no", "relay.contact.nc", "relay"]), max_size=3))
        items.append(f"      d{index}: {{product: device, fed_from: {fed}, switched_by: [{', '.join(contacts)}]}}\n")
    outputs = ", ".join(f'"{index}": {{switch: none}}' for index in range(count))
    text = (
        "doorlint: 1\nproject: {name: Invented}\nproducts:\n"
        "  device: {kind: other, inputs: {dc: {voltage: 12 V}}, outputs: {out: {through: dc}}}\n"
        "  relay: {kind: relay, contacts: {contact: {form: spdt}}}\n"
        f"power:\n  psu: {{kind: power_supply, supply: dc, voltage: 12 V, outputs: {{{outputs}}}}}\n"
        f"openings:\n  A:\n    items:\n      relay: {{product: relay}}\n{''.join(items)}"
    )
    result = review_text(text, "door.yaml", rulebook=Rulebook())
    assert result.spec is not None
    assert result.context is not None
    drawing = diagram.draw(result.spec.openings["A"], result.spec, result.context.wiring)
    check_drawing(drawing)
    assert len(drawing.sentences) == count
    assert len(drawing.lines) == count


@given(text=st.text(max_size=80), letters=st.integers(1, 40))
def test_a_text_that_is_cut_fits_and_says_so(text: str, letters: int) -> None:
    cut = diagram.fit(text, letters)
    safe = plain(text)
    assert sum(map(diagram._width, cut)) <= letters
    assert cut == safe or (cut.endswith("…") and safe.startswith(cut[:-1]))


# --- the event matrix and the calculations ---


def test_cells_that_are_not_known_say_open(page: Page) -> None:
    matrices = [text for _, text in page.all("table") if text.startswith("Event matrix")]
    assert len(matrices) == 2
    assert any(text == "open" for _, text in page.all("span", class_="opencell"))
    assert any("open cells wait for:" in text for text in matrices)


def test_a_step_is_calculated_once_on_a_sheet(sample: Result) -> None:
    term = Term("R", "1 ohm", Place(sample.root, "/project"))
    step = Step("loop resistance", "2 x R", Measure(Fraction(2), "resistance"), (term,))
    outcomes = [numeric(Fraction(1), Fraction(limit), working=(step,)) for limit in (4, 5)]
    (sheet,) = [one for one in html_view.view(with_outcomes(sample, *outcomes)).sheets if one.calculations]
    first, second = sheet.calculations
    assert (first.lines[0].seen, second.lines[0].seen) == ("", first.number)
    assert first.lines[0].terms == (("R", "1 ohm", "project.yaml:3"),)
    assert second.lines[0].result == "2 ohm"


# --- a large spec ---

MANY = """\
doorlint: 1
project: {name: Invented campus}
products:
  good: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 500 mA, inductance: 10 mH}}
  bad: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 900 mA, inductance: 10 mH}}
power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}
openings:
"""


@pytest.fixture(scope="module")
def many() -> Result:
    openings = "".join(
        f'  "{n:04}": {{items: {{lock: {{product: {product}, fed_from: psu, length: 9 m}}}}}}\n'
        for n in range(600)
        for product in ["bad" if n % 10 == 9 else "good"]
    )
    return review_text(MANY + openings, "door.yaml", rulebook=Rulebook(report_samples.RULES[:1]))


def test_a_large_spec_is_shortened_and_says_so(many: Result) -> None:
    limits = Limits(sheets=20, findings=10, margins=30, names=5)
    made = html.render([many], limits=limits, on=DAY)
    found = Page(made)
    check_structure(found)
    assert "This report is shortened." in found.text
    assert "20 of those" in found.text
    assert "40 more with such outcomes" in found.text
    assert "570 figures with wider margins are not listed here" in found.text
    assert len(found.all("article", class_="sheet")) == 20
    rows = [a for a, _ in found.all("tr") if a.get("data-g") == "openings"]
    assert len(rows) == 600, "every opening is in the schedule"
    assert len(made) / 600 < 2000


def test_openings_with_sheets_are_those_with_findings(many: Result) -> None:
    made = html_view.view(many, limits=Limits(sheets=100))
    assert [sheet.name for sheet in made.sheets] == [f"{n:04}" for n in range(9, 600, 10)]
    assert made.sheets_left == 0
    assert html_view.view(many, limits=Limits(sheets=600)).only_findings is False


# --- the command ---


def test_the_templates_are_packaged() -> None:
    root = Path(__file__).parent.parent
    tools = tomllib.loads((root / "pyproject.toml").read_text())["tool"]
    patterns = tools["setuptools"]["package-data"]["doorlint.report"]
    report = root / "doorlint" / "report"
    packaged = {path for pattern in patterns for path in report.glob(pattern)}
    assert {path for path in (report / "templates").iterdir() if path.is_file()} == packaged


def test_the_command_writes_it(tmp_path: Path) -> None:
    report_samples.write(tmp_path)
    target = tmp_path / "report.html"
    assert cli.run(["review", "--format", "html", "--output", str(target), str(tmp_path / "project.yaml")]) == 1
    check_structure(Page(target.read_text(encoding="utf-8")))


def test_without_the_template_library_one_line_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    report_samples.write(tmp_path)
    monkeypatch.setitem(sys.modules, "jinja2", None)
    monkeypatch.delitem(sys.modules, "doorlint.report.html")
    monkeypatch.delattr("doorlint.report.html", raising=False)
    assert cli.run(["review", "--format", "html", str(tmp_path / "project.yaml")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "doorlint[html]" in told.err
