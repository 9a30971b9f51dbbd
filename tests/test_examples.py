"""The invented example: the clean twin has nothing to find, and each mistake of the other is found at its text."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

import doorlint
from doorlint import Kind, Outcome, Place, Result, Rulebook
from doorlint.spec.files import Overlay

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
SEEDED = EXAMPLES / "gull_point_ferry_terminal"
CLEAN = EXAMPLES / "gull_point_ferry_terminal_clean"
MARK = "# seeded:"


@dataclass(frozen=True)
class Mistake:
    """One seeded mistake: the first `right` after `after` in `file` of the clean twin becomes `wrong`.

    It must give a finding of `rule` for `subject` that covers exactly `text`.
    """

    rule: str
    subject: str
    text: str
    file: str
    after: str
    right: str
    wrong: str
    because: str

    @property
    def item(self) -> str:
        """The device that the mistake is about: `opening/item`."""
        return self.subject.partition(".")[0]


# rule, subject, exact covered text; then file, what it stands after, right and wrong text, and the comment
MISTAKES = (
    Mistake(
        "supply/voltage-mismatch", "O05/panel", "psu-24.14",
        "openings/operations.yaml", "  O05:", "fed_from: psu-12.11", "fed_from: psu-24.14",
        "the controller takes 12 V only",
    ),
    Mistake(
        "supply/voltage-mismatch", "O06/lock", "rc.lock",
        "openings/operations.yaml", "  O06:", "fed_from: psu-24.13", "fed_from: rc.lock",
        "a 24 V lock on a 12 V output",
    ),
    Mistake(
        "supply/current-kind-mismatch", "L06/lock", "tr-24.1",
        "openings/landside.yaml", "  L06:", "fed_from: psu-24.5", "fed_from: tr-24.1",
        "a strike for DC on a transformer",
    ),
    Mistake(
        "output/current-over-rating", "O03/rc.lock", "400 mA",
        "products/controllers.yaml", "  rc-office:", "current: 700 mA", "current: 400 mA",
        "the strike of the staff office draws more",
    ),
    Mistake(
        "output/peak-over-rating", "Q03/panel.lock", "1 A",
        "products/controllers.yaml", "  panel-quay:", "peak: 1.5 A", "peak: 1 A",
        "the bolt of the boat store peaks higher",
    ),
    Mistake(
        "output/shared-limit-exceeded", "L04/unit", "500 mA",
        "products/controllers.yaml", "  door-unit:", "output_limit: 850 mA", "output_limit: 500 mA",
        "strike, reader and sounder of the staff entrance draw more together",
    ),
    Mistake(
        "contact/current-over-rating", "O02/relay_module.relay", "400 mA",
        "products/controllers.yaml", "  relay-module-small:", "        current: 2 A", "        current: 400 mA",
        "a coil may take only a share of a resistive rating",
    ),
    Mistake(
        "release/fail-safe-held-by-poe-alone", "O07/lock", "rc.lock",
        "openings/operations.yaml", "  O07:", "fed_from: psu-12.13", "fed_from: rc.lock",
        "a fail-safe lock held by the reader-controller's PoE alone",
    ),
    Mistake(
        "release/fail-safe-held-by-poe-alone", "Q04/lock", "splitter.out",
        "openings/quayside.yaml", "product: magnet-24-marine", "fed_from: psu-24.11", "fed_from: splitter.out",
        "a magnet held through a splitter by PoE alone",
    ),
    Mistake(
        "exposure/ingress-below-need", "Q01/reader", "reader-indoor",
        "openings/quayside.yaml", "  Q01:", "product: reader-outdoor", "product: reader-indoor",
        "an indoor reader in the open",
    ),
    Mistake(
        "exposure/ingress-below-need", "Q02/reader", "reader-immersed",
        "openings/quayside.yaml", "  Q02:", "product: reader-hosed", "product: reader-immersed",
        "proof against immersion says nothing of jets",
    ),
    Mistake(
        "suppression/missing", "O01/lock", "none",
        "openings/operations.yaml", "  O01:", "suppression: diode-1a", "suppression: none",
        "nothing takes the energy of the coil",
    ),
    Mistake(
        "suppression/polarised-on-ac", "L05/lock", "diode-1a",
        "openings/landside.yaml", "  L05:", "suppression: mov-45", "suppression: diode-1a",
        "a diode on AC",
    ),
    Mistake(
        "suppression/stand-off-below-supply", "L03/lock", "tvs-bi-24",
        "openings/landside.yaml", "  L03:", "suppression: tvs-bi-33", "suppression: tvs-bi-24",
        "24 V stand-off on a 24 V supply",
    ),
    Mistake(
        "suppression/doubled", "L02/lock", "tvs-bi-33",
        "openings/landside.yaml", "  L02:", "suppression: none", "suppression: tvs-bi-33",
        "the magnet has a varistor inside already",
    ),
    Mistake(
        "suppression/away-from-coil", "O04A/lock", "at_panel",
        "openings/operations.yaml", "  O04A:", "location: at_lock", "location: at_panel",
        "the only diode sits at the panel",
    ),
    Mistake(
        "suppression/reversed", "O04B/lock", "to_negative",
        "openings/operations.yaml", "  O04B:", "cathode: to_positive", "cathode: to_negative",
        "the diode is the wrong way round",
    ),
)  # fmt: skip


@cache
def texts(folder: Path) -> dict[str, str]:
    """The files of a twin by name below its folder."""
    return {path.relative_to(folder).as_posix(): path.read_text("utf-8") for path in sorted(folder.rglob("*.yaml"))}


@cache
def rulebook() -> Rulebook:
    return doorlint.collect()


@cache
def reviewed(folder: Path) -> Result:
    return doorlint.review(folder, rulebook=rulebook())


def with_mistake(text: str, mistake: Mistake) -> str:
    """The text with one mistake put in, its line marked."""
    start = text.index(mistake.right + "\n", text.index(mistake.after))
    end = start + len(mistake.right)
    return f"{text[:start]}{mistake.wrong}  {MARK} {mistake.because}{text[end:]}"


def failures(result: Result) -> list[Outcome]:
    """What failed or could not be decided."""
    return [outcome for outcome in result.outcomes if outcome.kind in (Kind.FAIL, Kind.OPEN)]


def covered(result: Result, place: Place) -> str:
    return result.documents[place.file].source(result.region(place))


def line_of(result: Result, place: Place) -> str:
    """The whole first line that a place stands on."""
    text = result.documents[place.file].text
    start = result.region(place).start
    end = text.find("\n", start)
    return text[text.rfind("\n", 0, start) + 1 : end if end >= 0 else len(text)]


def is_its_own(result: Result, outcome: Outcome, mistake: Mistake) -> bool:
    """Whether this is the finding that the table asks for, at exactly the text that it names."""
    return (
        outcome.kind is Kind.FAIL
        and (outcome.rule, outcome.subject) == (mistake.rule, mistake.subject)
        and covered(result, outcome.place) == mistake.text
        and mistake.because in line_of(result, outcome.place)
    )


def follows_from(result: Result, outcome: Outcome, mistake: Mistake) -> bool:
    """Whether another rule's outcome is of the same mistake: it stands on the seeded line, points at it, or is
    about the same device. A mistake may break several requirements; it may not disturb other devices."""
    places = (outcome.place, *(related.place for related in outcome.related))
    if any(mistake.because in line_of(result, place) for place in places):
        return True
    return outcome.subject == mistake.item or outcome.subject.startswith((f"{mistake.item}.", f"{mistake.item}:"))


def test_example_has_the_breadth_it_promises() -> None:
    spec = reviewed(CLEAN).spec
    assert spec is not None
    assert len(spec.openings) >= 14
    assert len([name for name in texts(CLEAN) if name.startswith("openings/")]) >= 3
    locks = {item.sheet.kind for opening in spec.openings.values() for item in opening.items.values() if item.sheet}
    assert {
        "electric_strike", "electromagnetic_lock", "electrified_mortise_lock", "electrified_cylindrical_lock",
        "electrified_exit_trim", "latch_retraction_exit_device", "electric_bolt", "gate_lock", "motor_lock",
        "hold_open_magnet", "poe_splitter", "relay_module", "intercom",
    } <= locks  # fmt: skip


@pytest.mark.parametrize("folder", [SEEDED, CLEAN], ids=lambda folder: folder.name)
def test_every_file_says_that_it_is_invented(folder: Path) -> None:
    for name, text in texts(folder).items():
        head = " ".join(line.lstrip("# ") for line in text.splitlines()[:2])
        assert text.startswith("#"), name
        assert "invented" in head, name
        assert "no value is the data of any product" in head, name


def test_clean_twin_has_nothing_to_find_and_nothing_open() -> None:
    result = reviewed(CLEAN)
    assert not result.broken
    assert [f"{o.subject}: {o.message} [{o.rule}]" for o in failures(result)] == []


def test_every_seeded_rule_passes_somewhere_in_the_clean_twin() -> None:
    """A rule that never looked would find nothing either."""
    counts = reviewed(CLEAN).counts()
    for rule in {mistake.rule for mistake in MISTAKES}:
        assert counts[rule][Kind.PASS] > 0, rule


def test_twins_differ_by_the_mistakes_alone() -> None:
    expected = dict(texts(CLEAN))
    for mistake in MISTAKES:
        expected[mistake.file] = with_mistake(expected[mistake.file], mistake)
    assert texts(SEEDED) == expected
    assert sum(text.count(MARK) for text in texts(SEEDED).values()) == len(MISTAKES)
    assert not any(MARK in text for text in texts(CLEAN).values())


def test_mistakes_stand_each_in_an_opening_of_its_own() -> None:
    openings = [mistake.subject.partition("/")[0] for mistake in MISTAKES]
    assert len(set(openings)) == len(MISTAKES)


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: f"{m.subject}-{m.rule}")
def test_seeded_twin_gives_each_mistake_at_its_text(mistake: Mistake) -> None:
    result = reviewed(SEEDED)
    assert len([o for o in result.outcomes if is_its_own(result, o, mistake)]) == 1


def test_seeded_twin_gives_nothing_else() -> None:
    result = reviewed(SEEDED)
    assert not result.broken
    strange = [
        f"{o.subject}: {o.message} [{o.rule}]"
        for o in failures(result)
        if not any(is_its_own(result, o, m) or follows_from(result, o, m) for m in MISTAKES)
    ]
    assert strange == []


def test_every_marked_line_has_a_finding() -> None:
    result = reviewed(SEEDED)
    marked = {line for text in texts(SEEDED).values() for line in text.splitlines() if MARK in line}
    assert marked == {line for o in result.findings() if MARK in (line := line_of(result, o.place))}


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: f"{m.subject}-{m.rule}")
def test_each_mistake_alone_gives_its_own_finding_alone(mistake: Mistake) -> None:
    wrong = with_mistake(texts(CLEAN)[mistake.file], mistake)
    overlay = Overlay({(CLEAN / mistake.file).resolve(): wrong})
    result = doorlint.review(CLEAN, rulebook=rulebook(), overlay=overlay)
    assert not result.broken
    own = [o for o in failures(result) if is_its_own(result, o, mistake)]
    others = [o for o in failures(result) if o not in own]
    assert len(own) == 1
    assert [f"{o.subject}: {o.message} [{o.rule}]" for o in others if not follows_from(result, o, mistake)] == []
    assert mistake.rule not in {o.rule for o in others}


def test_a_mistake_leaves_all_other_outcomes_as_they_were() -> None:
    """The outcomes of the clean twin and of the twin with one mistake differ only around that mistake."""
    mistake = MISTAKES[0]
    overlay = Overlay({(CLEAN / mistake.file).resolve(): with_mistake(texts(CLEAN)[mistake.file], mistake)})
    result = doorlint.review(CLEAN, rulebook=rulebook(), overlay=overlay)
    opening = mistake.subject.partition("/")[0]

    def elsewhere(one: Result) -> set[tuple[str, str, Kind]]:
        sources = {"psu-12", "psu-24"}
        return {
            (o.rule, o.subject, o.kind)
            for o in one.outcomes
            if not o.subject.startswith(f"{opening}/") and o.subject.partition(".")[0] not in sources
        }

    assert elsewhere(result) == elsewhere(reviewed(CLEAN))
