"""Enclosure codes: reading, three-valued comparison, NEMA one way, IK."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from doorlint.circuit import ingress
from doorlint.circuit.ingress import IngressCode, IngressError, covers, parse_ip, satisfies

codes = st.builds(
    IngressCode,
    st.none() | st.integers(0, 6),
    st.frozensets(st.integers(0, 9), max_size=3),
    st.none() | st.sampled_from("ABCD"),
    st.sets(st.sampled_from("HMSW")).map(lambda letters: "".join(sorted(letters))),
)


@pytest.mark.parametrize(
    ("text", "first", "second"),
    [
        ("IP65", 6, {5}),
        ("ip 65", 6, {5}),
        ("IPX5", None, {5}),
        ("IP5X", 5, set()),
        ("IPXX", None, set()),
        ("IP66/IP67", 6, {6, 7}),
        ("IP66/67", 6, {6, 7}),
        ("IP66 / IP68 / IP69", 6, {6, 8, 9}),
        ("IP66/IPX9", 6, {6, 9}),
        ("IP00", 0, {0}),
    ],
)
def test_reading(text: str, first: int | None, second: set[int]) -> None:
    code = parse_ip(text)
    assert (code.first, code.second) == (first, frozenset(second))
    assert not code.road_vehicle


def test_reading_letters_and_the_road_vehicle_mark() -> None:
    assert parse_ip("IP23CS") == IngressCode(2, frozenset({3}), "C", "S")
    assert parse_ip("IPXXB") == IngressCode(None, frozenset(), "B")
    assert parse_ip("IP54W").supplementary == "W"
    for text in ("IP69K", "IP6K9K"):
        code = parse_ip(text)
        assert (code.first, code.second, code.road_vehicle) == (6, frozenset({9}), True)
    assert satisfies(parse_ip("IP69K"), 6, 9) is True


@given(codes)
@settings(max_examples=150, deadline=None)
def test_a_written_code_reads_back(code: IngressCode) -> None:
    assert parse_ip(str(code)) == code


@given(st.sampled_from(["IP69K", "IP6K9K", "IP5K4K", "IP66K", "IP4K9K", "IP69K/IP67"]))
def test_a_written_road_vehicle_code_reads_back(text: str) -> None:
    try:
        code = parse_ip(text)
    except IngressError:
        assert text == "IP4K9K"
        return
    assert parse_ip(str(code)) == code


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("65", "begin with IP"),
        ("", "begin with IP"),
        ("IP", "no IP code"),
        ("IP6", "no IP code"),
        ("IP656", "no IP code"),
        ("IP6-5", "no IP code"),
        ("IP65Z", "no IP code"),
        ("IP66/", "no IP code"),
        ("IP75", "first digit 7"),
        ("IP5K5K", "K where"),
        ("IP23SH", "out of order"),
        ("IP23SS", "out of order"),
        ("IP66/IP57", "contradict"),
        ("IP66C/IP67", "contradict"),
    ],
)
def test_what_cannot_be_read_is_an_error_that_shows_the_way(text: str, says: str) -> None:
    with pytest.raises(IngressError, match=says) as caught:
        parse_ip(text)
    error = caught.value
    assert isinstance(error, ValueError)
    assert error.message and error.expected
    # The example of an error must itself be readable.
    assert parse_ip(error.example.split(",")[0]) is not None
    assert error.expected in str(error) and error.example in str(error)


@given(st.text(max_size=12))
@example("IP6５")
@example("IP٦5")
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        code = parse_ip(text)
    except IngressError:
        return
    assert code.first is None or 0 <= code.first <= 6


@pytest.mark.parametrize(("first", "second"), [(7, None), (-1, None), (None, 10), (None, -1)])
def test_impossible_digits_are_refused(first: int | None, second: int | None) -> None:
    with pytest.raises(IngressError, match="digit"):
        satisfies(parse_ip("IP65"), first, second)


@given(codes)
@settings(max_examples=100, deadline=None)
def test_no_requirement_is_always_met_and_every_code_covers_itself(code: IngressCode) -> None:
    assert satisfies(code, None, None) is True
    assert satisfies(code, 0, 0) is True
    assert covers(code, code) is True


@given(codes, st.integers(1, 6), st.integers(1, 9))
@settings(max_examples=200, deadline=None)
def test_another_mark_never_takes_anything_away(code: IngressCode, required: int, more: int) -> None:
    richer = IngressCode(code.first, code.second | {more})
    before, after = satisfies(code, None, required), satisfies(richer, None, required)
    if before is True:
        assert after is True


@given(codes, st.integers(0, 6), st.integers(0, 6))
@settings(max_examples=100, deadline=None)
def test_solids_are_cumulative(code: IngressCode, lower: int, higher: int) -> None:
    low, high = min(lower, higher), max(lower, higher)
    if satisfies(code, high, None) is True:
        assert satisfies(code, low, None) is True


def test_covers_a_dual_requirement() -> None:
    assert covers(parse_ip("IP66/IP67"), parse_ip("IP65/IP67")) is True
    assert covers(parse_ip("IP66"), parse_ip("IP66/IP67")) is False
    assert covers(parse_ip("IP6X"), parse_ip("IP66/IP67")) is None


def test_false_goes_before_unknown() -> None:
    assert satisfies(parse_ip("IP4X"), 5, 4) is False
    assert satisfies(parse_ip("IPX3"), 5, 4) is False
    assert satisfies(parse_ip("IPX5"), 5, 4) is None


@pytest.mark.parametrize(
    ("text", "bare"), [("NEMA 4X", "4X"), ("type 3r", "3R"), ("6p", "6P"), ("12", "12"), ("NEMA Type 4", "4")]
)
def test_nema_types_are_read(text: str, bare: str) -> None:
    assert ingress.nema_type(text) == bare


@pytest.mark.parametrize("text", ["NEMA 14", "IP65", "", "4Y"])
def test_other_nema_types_are_refused(text: str) -> None:
    with pytest.raises(IngressError, match="no enclosure type") as caught:
        ingress.nema_type(text)
    assert ingress.nema_type(caught.value.example) == "4X"


def test_hazardous_location_types_imply_no_ip_code() -> None:
    assert [ingress.nema_minimum_ip(text) for text in ("7", "8", "9", "10")] == [None] * 4


def test_ik_codes() -> None:
    assert ingress.parse_ik("ik 08") == 8
    assert ingress.ik_energy_j(0) is None
    energies = [ingress.ik_energy_j(number) or 0.0 for number in range(12)]
    assert energies == sorted(set(energies))
    assert ingress.ik_satisfies(8, 8) is True
    assert ingress.ik_satisfies(7, 8) is False
    assert ingress.ik_satisfies(10, 8) is True


@pytest.mark.parametrize("text", ["IK8", "IK12", "IK", "08", "IK10+", ""])
def test_other_ik_codes_are_refused(text: str) -> None:
    with pytest.raises(IngressError, match="no IK code") as caught:
        ingress.parse_ik(text)
    assert ingress.parse_ik(caught.value.example) == 8


def test_ik_numbers_out_of_range_are_refused() -> None:
    with pytest.raises(IngressError, match="no IK12"):
        ingress.ik_satisfies(8, 12)
