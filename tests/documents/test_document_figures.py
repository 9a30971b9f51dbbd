"""What the documents say is what the analyses compute, and what handbooks give: figures checked from outside."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from spec_of_documents import NAMES, SPEC, document, reviewed, rows, table

from doorlint.circuit.releases import SwitchedCoil, slowest_release
from doorlint.documents import DOCUMENTS, build
from doorlint.documents.battery import opening_standby
from doorlint.documents.tables import BLANK, Open
from doorlint.events import EVENTS
from doorlint.outcome import Cited, Kind, Level, Measure, Outcome, Place


def awg_ohm_per_m(gauge: int) -> float:
    """Solid copper at 20 degC: diameter by the formula of ASTM B258, resistivity of the IACS (1/58 ohm mm2/m)."""
    diameter = 0.127 * 92 ** ((36 - gauge) / 39)
    return float((1 / 58) / (math.pi / 4 * diameter**2))


def test_the_sample_is_read_without_fault() -> None:
    assert [outcome.message for outcome in reviewed().outcomes] == []


def test_volts_at_the_lock_by_ohms_law() -> None:
    found = {(row["opening"], row["item"]): row for row in rows(table("commissioning", "locks"))}
    magnet = found["B2", "lock"]
    loop = 2 * 30 * awg_ohm_per_m(18)
    # one new contact in series: some milliohms, below the tolerance here
    expected = 24 * 96 / (96 + loop)
    assert float(str(magnet["expected at new contacts, 20 degC (V)"])) == pytest.approx(expected, abs=0.02)
    warm = loop * (1 + 0.00393 * 20)
    least = 24 * 0.98 * 96 / (96 + warm)
    # the contact in series, aged to some tenths of an ohm, takes a little more
    assert least - 0.08 < float(str(magnet["least expected on mains (V)"])) < least
    at_end = 21 * 96 / (96 + warm)
    assert at_end - 0.08 < float(str(magnet["least expected at the end of the battery (V)"])) < at_end
    assert magnet["takes at least (V)"] == Decimal("21.6")
    assert magnet["voltage enough as computed"] == "NO: see the review"
    assert magnet["holding force (N)"] == Decimal(5300)
    assert found["A1", "lock"]["voltage enough as computed"] == "yes"
    assert found["A1", "lock"]["holding force (N)"] == "none"


def test_release_by_the_closed_form() -> None:
    # I(t) of an R-L circuit into a constant voltage: (I0 + V/R) exp(-t R/L) - V/R, solved for the drop-out current
    resistance, inductance, clamp, drop_out = 96.0, 1.0, 0.7, 0.025
    start = 27.3 / resistance  # the float voltage is the highest that the coil sees
    seconds = inductance / resistance * math.log((start + clamp / resistance) / (drop_out + clamp / resistance))
    locks = {row["opening"]: row for row in rows(table("commissioning", "locks"))}
    assert float(str(locks["B2"]["expected to let go after (s)"])) == pytest.approx(seconds, rel=2e-3)
    coils = {row["item"]: row for row in rows(table("suppression", "coils"))}
    assert coils["B2/lock"]["lets go after (s)"] == locks["B2"]["expected to let go after (s)"]
    energy_mj = 0.5 * inductance * start**2 * 1000
    assert float(str(coils["B2/lock"]["energy in the coil (mJ)"])) == pytest.approx(energy_mj, rel=2e-3)
    assert coils["B2/lock"]["takes the current"] == "diode at lock"


def test_a_coil_without_suppressor_lets_go_with_an_arc() -> None:
    bare = SPEC.replace("        suppression: diode}", "        suppression: none}")
    coils = {row["item"]: row for row in rows(table("suppression", "coils", bare))}
    assert coils["B2/lock"]["lets go after (s)"] == "at once, with an arc in the switch"
    assert coils["B2/lock"]["fitted"] == "none, as the spec says"


def test_loop_resistance_when_warm() -> None:
    found = {row["to"]: row for row in rows(table("cables", "runs"))}
    loop = 2 * 30 * awg_ohm_per_m(18) * (1 + 0.00393 * 20)
    assert float(str(found["B2/lock"]["loop resistance when warm (ohm)"])) == pytest.approx(loop, abs=0.005)
    assert found["B2/lock"]["warm conductor (degC)"] == Decimal(40)
    assert found["A1/rc"]["carries"] == "PoE"
    assert found["A1/rc.door_position"]["cable"] == Open(("cable",))
    metres = {row["cable"]: row["length (m)"] for row in rows(table("cables", "lengths"))}
    assert metres == {"two": Decimal(40), "net": Decimal(40)}


def test_ports_by_the_class_table() -> None:
    # IEEE 802.3: class 4 has 30 W at the port and 25.5 W at the device
    (port,) = rows(table("ports", "ports"))
    assert port["gets class"] == 4
    assert port["set aside at the port (W)"] == Decimal(30)
    assert port["available at the device (W)"] == Decimal("25.5")
    drawn = 4 + 12 * 0.3 / 0.8  # own power, and the strike behind a converter of 80 %
    assert port["drawn steady (W)"] == Decimal(str(drawn))
    assert port["port number"] is BLANK
    (source,) = rows(table("ports", "sources"))
    assert (source["in use"], source["free"], source["left (W)"]) == (1, 7, Decimal(90))


def test_battery_is_that_of_the_analysis() -> None:
    result = reviewed()
    assert result.context is not None and result.spec is not None
    found = {row["source"]: row for row in rows(table("battery", "batteries"))}
    supplies, psu = result.context.supplies, result.spec.power["psu"]
    need = supplies.need(psu, Fraction(4 * 3600))
    assert need.most is not None
    assert float(str(found["psu"]["capacity needed (Ah)"])) == pytest.approx(float(need.most) / 3600, abs=0.005)
    # never less than the charge given, over what is left at the end of its life (IEEE 485: ageing)
    assert float(str(found["psu"]["capacity needed (Ah)"])) > 0.25 * 4 / 0.8
    assert found["psu"]["enough"] == "yes"
    assert found["sw"]["goes on without mains (h)"] == Decimal(2)
    times = {row["opening"]: row["goes on without mains (h)"] for row in rows(table("battery", "openings"))}
    assert times["A1"] == Decimal(2)
    standby = opening_standby(result.spec.openings["B2"], result.context)
    assert standby is not None and standby.weakest == ("psu",)


def test_power_adds_up() -> None:
    (source,) = [row for row in rows(table("power", "sources")) if row["source"] == "psu"]
    loads = [row for row in rows(table("power", "loads")) if row["source"] == "psu"]
    assert source["steady load (A)"] == sum(Decimal(str(row["steady (A)"])) for row in loads) == Decimal("0.25")
    assert source["share used (%)"] == Decimal(5)


def test_fire_alarm_contact() -> None:
    (row,) = rows(table("fire-alarm", "contacts"))
    assert row["releases"] == "B2/lock"
    assert row["terminal used"] == "nc"
    assert row["at rest or dead"] == "closed"  # the break contact of a change-over contact
    assert row["steady current (A)"] == row["peak current (A)"] == Decimal("0.25")
    assert (row["rated (A)"], row["rated for coils (A)"]) == (Decimal(2), Decimal(1))
    assert row["circuit voltage"] == "24 V +-2 %"
    assert (row["reset"], row["supervised"]) == ("manual", "yes")


def test_fire_alarm_lists_openings_that_do_nothing() -> None:
    assert [row["opening"] for row in rows(table("fire-alarm", "openings"))] == ["A1", "B2"]


def test_every_opening_in_every_event() -> None:
    result = reviewed()
    assert result.context is not None and result.spec is not None
    for name in ("sequence", "commissioning"):
        listed = rows(table(name, "events"))
        assert len(listed) == 2 * len(EVENTS)
        for opening in result.spec.openings.values():
            matrix = result.context.matrix(opening)
            for event in EVENTS:
                (row,) = [r for r in listed if (r["opening"], r["event"]) == (opening.id, event.title)]
                expected = matrix.row(event)
                if expected.lock is not None:
                    assert row["lock"] == expected.lock.value
                else:
                    assert row["lock"] == Open(expected.missing)
                if expected.egress is not None:
                    assert row["egress"] == expected.egress.value


def test_hardware_counts() -> None:
    found = {row["product"]: row["quantity"] for row in rows(table("hardware", "products"))}
    assert found == {"contact": 1, "diode": 2, "fire": 1, "lever": 1, "magnet": 1, "rc": 1, "strike": 1}
    items = rows(table("hardware", "items"))
    assert sorted((row["opening"], row["item"]) for row in items) == [
        ("A1", "dps"), ("A1", "lever"), ("A1", "lock"), ("A1", "rc"), ("B2", "fire"), ("B2", "lock"),
    ]  # fmt: skip


def test_delays_of_the_egress_side() -> None:
    (row,) = rows(table("commissioning", "egress"))
    assert (row["delay (s)"], row["initiation (s)"], row["force (N)"]) == (Decimal(15), Decimal(2), Decimal(60))


@pytest.mark.parametrize(
    ("gone", "name", "key", "where", "column", "field"),
    [
        (", length: 30 m", "cables", "runs", ("to", "B2/lock"), "length (m)", "length"),
        (", length: 30 m", "cables", "runs", ("to", "B2/lock"), "loop resistance when warm (ohm)", "length"),
        (", length: 30 m", "commissioning", "locks", ("opening", "B2"), "least expected on mains (V)", "length"),
        (", length: 30 m", "commissioning", "locks", ("opening", "B2"), "voltage enough as computed", "length"),
        (", inductance: 1 H", "commissioning", "locks", ("opening", "B2"), "expected to let go after (s)",
         "inductance"),
        (" holding_force: 5300 N,", "commissioning", "locks", ("opening", "B2"), "holding force (N)", "holding_force"),
        (", end_voltage: 21 V", "commissioning", "locks", ("opening", "B2"),
         "least expected at the end of the battery (V)", "end_voltage"),
        (" capacity: 7 Ah,", "battery", "batteries", ("source", "psu"), "enough", "capacity"),
        (" required_backup: 4 h\n   ", "battery", "batteries", ("source", "psu"), "standby asked for (h)",
         "required_backup"),
        (", budget: 120 W", "ports", "sources", ("source", "sw"), "left (W)", "budget"),
        ("efficiency: 80 %\n    ", "ports", "ports", ("device", "A1/rc"), "drawn steady (W)", "efficiency"),
        (", reset: manual", "fire-alarm", "contacts", ("device", "B2/fire"), "reset", "reset"),
        (", current: 2 A", "fire-alarm", "contacts", ("device", "B2/fire"), "rated (A)", "current"),
    ],
)  # fmt: skip
def test_what_is_missing_is_open(
    gone: str, name: str, key: str, where: tuple[str, str], column: str, field: str
) -> None:
    assert SPEC.count(gone) == 1
    (before,) = [row for row in rows(table(name, key)) if row[where[0]] == where[1]]
    assert not isinstance(before[column], Open)
    (row,) = [row for row in rows(table(name, key, SPEC.replace(gone, ""))) if row[where[0]] == where[1]]
    assert row[column] == Open((field,))


def test_a_lock_that_is_not_fed_is_listed_as_open() -> None:
    unfed = SPEC.replace("fed_from: psu, cable: two, length: 30 m, ", "")
    (row,) = [row for row in rows(table("commissioning", "locks", unfed)) if row["opening"] == "B2"]
    assert row["fed by"] == row["least expected on mains (V)"] == Open(("fed_from",))
    assert any(r["to"] == "B2/lock" and r["from"] == Open(("fed_from",)) for r in rows(table("cables", "runs", unfed)))


@pytest.mark.parametrize("name", NAMES)
def test_heading(name: str) -> None:
    heading = dict(document(name).heading.lines)
    assert (heading["project"], heading["revision"], heading["date"]) == ("Invented Works", "B", "2026-01-15")
    assert document(name).cautions
    undated = build(name, reviewed(SPEC.replace("project: {name: Invented Works, revision: B}", "project: {}")))
    heading = dict(undated.heading.lines)
    assert heading["project"] == "open: project.name"
    assert heading["revision"] == "open: project.revision"
    assert heading["date"].startswith("open")


def judged(rule: str, kind: Kind, subject: str, **more: object) -> Outcome:
    place = Place("spec.yaml", "")
    return Outcome(rule, kind, Level.ERROR, subject, "said", place, basis=(Cited("A code", "2021", "1"),), **more)  # type: ignore[arg-type]


def test_forces_and_times_are_those_of_the_review() -> None:
    newton = {"what": "force,", "relation": "at most", "measured": Measure(Fraction(50), "force")}
    outcomes = (
        judged("t/force", Kind.FAIL, "B2", limit=Measure(Fraction(40), "force"), **newton, waived="because"),
        judged("t/force", Kind.OPEN, "A1/lock", missing=("width",)),
        judged("t/other", Kind.OPEN, "A1/lock", missing=("mass",)),
        judged("t/force", Kind.FAIL, "psu", limit=Measure(Fraction(40), "force"), **newton),
        judged("t/time", Kind.PASS, "B2/lock", what="release", relation="at most",
               measured=Measure(Fraction(1, 4), "time"), limit=Measure(Fraction(1, 2), "time")),
        judged("t/rating", Kind.PASS, "B2", what="rating", relation="at least",
               measured=Measure(Fraction(5400), "time"), limit=Measure(Fraction(5400), "time")),
    )  # fmt: skip
    tables = {one.key: one for one in build("commissioning", replace(reviewed(), outcomes=outcomes)).tables}
    first, second = rows(tables["forces"])
    assert (first["opening"], first["expected (N)"], first["verdict"]) == ("A1", Open(("width",)), "open")
    assert (second["expected (N)"], second["must be"], second["limit (N)"]) == (Decimal(50), "at most", Decimal(40))
    assert (second["verdict"], second["what"], second["measured"]) == ("fail (waived)", "force", BLANK)
    assert second["ground"] == "A code (2021), 1"
    (time,) = rows(tables["times"])
    assert (time["subject"], time["expected (s)"], time["limit (s)"]) == ("B2/lock", Decimal("0.25"), Decimal("0.5"))
    assert rows(tables["torques"]) == []


def test_failures_stand_beside_the_lock() -> None:
    outcomes = (
        judged("t/one", Kind.FAIL, "B2/lock"),
        judged("t/two", Kind.FAIL, "B2/lock/coil", waived="because"),
        judged("t/three", Kind.PASS, "B2/lock"),
        judged("t/four", Kind.FAIL, "A1/locker"),
    )
    found = {one.key: one for one in build("commissioning", replace(reviewed(), outcomes=outcomes)).tables}
    locks = {row["opening"]: row["failures in the review"] for row in rows(found["locks"])}
    assert locks == {"A1": "none", "B2": "t/one, t/two (waived)"}


def test_sequence_in_words_is_that_of_the_report() -> None:
    from doorlint.report.sequence import prose

    result = reviewed()
    assert result.context is not None and result.spec is not None
    listed = [row["sequence"] for row in rows(table("sequence", "words"))]
    assert listed == [line for one in result.spec.openings.values() for line in prose(one, result.context)]


def test_questions_are_those_of_the_review() -> None:
    from doorlint.questions import questions
    from doorlint.reviewing import review_text

    result = review_text(SPEC.replace(", inductance: 1 H", ""))
    asked = questions(result)
    assert asked
    (found,) = build("questions", result).tables
    assert [row["question"] for row in rows(found)] == [one.text for one in asked]
    assert all(row["to"] == Open(("furnished_by",)) or row["to"] for row in rows(found))


def test_titles_are_told_apart() -> None:
    assert len({sort.title for sort in DOCUMENTS.values()}) == len(DOCUMENTS)


def test_slowest_release_is_the_analysis() -> None:
    result = reviewed()
    assert result.context is not None
    for coil in result.context.subjects[SwitchedCoil]:
        release = slowest_release(coil)
        assert release is not None
        (row,) = [r for r in rows(table("suppression", "coils")) if r["item"] == coil.identity]
        assert float(str(row["lets go after (s)"])) == pytest.approx(release.electrical_s, rel=5e-3)
