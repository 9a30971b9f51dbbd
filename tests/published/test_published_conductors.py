"""Conductor resistance against handbook tables. Each row names the publication it was taken from."""

from __future__ import annotations

import math

import pytest

from doorlint.circuit.conductors import (
    ALUMINIUM,
    CATEGORY_CONDUCTOR_AWG,
    CHANNEL_PAIR_LOOP_LIMIT_OHM,
    COPPER,
    COPPER_CLAD_ALUMINIUM,
    CORD_CONDUCTOR_LIMIT_OHM_PER_M,
    HORIZONTAL_CONDUCTOR_LIMIT_OHM_PER_M,
    Conductor,
    awg_area_mm2,
    awg_diameter_mm,
    awg_number,
    pair_loop_ohm,
    pairset_loop_ohm,
    resistance_ohm_per_m,
    resistivity_ohm_m,
    temperature_factor,
)

KFT = 304.8  # metres in a thousand feet

# ASTM B258, the two gauges that define the series (exact), and the step ratio (as reproduced in public
# texts).
B258 = "ASTM B258, defining points"


@pytest.mark.parametrize(("gauge", "inch"), [("36", 0.005), ("4/0", 0.460)])
def test_defining_gauges(gauge: str, inch: float) -> None:
    assert awg_diameter_mm(awg_number(gauge)) == pytest.approx(inch * 25.4, rel=1e-12), B258


def test_ratio_between_gauges() -> None:
    assert awg_diameter_mm(17) / awg_diameter_mm(18) == pytest.approx(1.1229322, rel=1e-7), B258


# Solid wire areas as printed in NFPA 70 (NEC), Chapter 9, Table 8, metric column: mm2.
@pytest.mark.parametrize(
    ("gauge", "area_mm2", "printed_to"),
    [(18, 0.823, 0.0005), (16, 1.31, 0.005), (14, 2.08, 0.005), (12, 3.31, 0.005), (10, 5.261, 0.0005)],
)
def test_nec_table_8_areas(gauge: int, area_mm2: float, printed_to: float) -> None:
    assert awg_area_mm2(gauge) == pytest.approx(area_mm2, abs=1.01 * printed_to)


# Solid copper at 20 degC, ohm per 1000 ft: American Wire Gauges table, HyperPhysics, Georgia State
# University, which names Floyd, Electric Circuits Fundamentals, 2nd edition.
@pytest.mark.parametrize(
    ("gauge", "ohm_per_kft"),
    [
        (10, 0.9989),
        (11, 1.260),
        (12, 1.588),
        (13, 2.003),
        (14, 2.525),
        (15, 3.184),
        (16, 4.016),
        (17, 5.064),
        (18, 6.385),
        (19, 8.051),
        (20, 10.15),
        (21, 12.80),
        (22, 16.14),
        (23, 20.36),
        (24, 25.67),
    ],
)
def test_solid_copper_at_20_degc(gauge: int, ohm_per_kft: float) -> None:
    assert resistance_ohm_per_m(Conductor(awg=gauge), 20.0) * KFT == pytest.approx(ohm_per_kft, rel=5e-4)


# NFPA 70 (NEC), Chapter 9, Table 8: uncoated copper at 75 degC, ohm per 1000 ft (solid, seven strands).
NEC_KFT = [(18, 7.77, 7.95), (16, 4.89, 4.99), (14, 3.07, 3.14), (12, 1.93, 1.98), (10, 1.21, 1.24)]


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NEC_KFT)
def test_nec_table_8_solid(gauge: int, solid: float, stranded: float) -> None:
    assert resistance_ohm_per_m(Conductor(awg=gauge), 75.0) * KFT == pytest.approx(solid, rel=0.005)
    assert stranded > solid


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NEC_KFT)
def test_nec_table_8_stranded(gauge: int, solid: float, stranded: float) -> None:
    wire = Conductor(awg=gauge, construction="stranded")
    assert resistance_ohm_per_m(wire, 75.0) * KFT == pytest.approx(stranded, rel=0.005)
    assert resistance_ohm_per_m(wire, 75.0) * KFT > solid


# The same table, coated copper, ohm per 1000 ft (solid, seven strands).
NEC_COATED_KFT = [(18, 8.08, 8.45), (16, 5.08, 5.29), (14, 3.19, 3.26), (12, 2.01, 2.05), (10, 1.26, 1.29)]


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NEC_COATED_KFT)
def test_nec_table_8_coated_solid(gauge: int, solid: float, stranded: float) -> None:
    wire = Conductor(awg=gauge, coating="tinned")
    assert resistance_ohm_per_m(wire, 75.0) * KFT == pytest.approx(solid, rel=0.005)
    assert stranded > solid


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NEC_COATED_KFT)
def test_nec_table_8_coated_stranded(gauge: int, solid: float, stranded: float) -> None:
    wire = Conductor(awg=gauge, construction="stranded", coating="tinned")
    # 12 AWG is printed 2.05: the coated stranded column is the least regular of the table.
    assert resistance_ohm_per_m(wire, 75.0) * KFT == pytest.approx(stranded, rel=0.008)
    assert resistance_ohm_per_m(wire, 75.0) * KFT > solid


# The same table, metric column, uncoated copper at 75 degC, ohm per km; the 10 AWG row from memory.
NEC_KM = [(18, 25.5, 26.1), (16, 16.0, 16.4), (14, 10.1, 10.3), (12, 6.34, 6.50), (10, 3.984, 4.070)]


@pytest.mark.parametrize(("gauge", "solid", "stranded"), NEC_KM)
def test_nec_table_8_metric_column(gauge: int, solid: float, stranded: float) -> None:
    assert resistance_ohm_per_m(Conductor(awg=gauge), 75.0) * 1000 == pytest.approx(solid, rel=0.005)
    wire = Conductor(awg=gauge, construction="stranded")
    assert resistance_ohm_per_m(wire, 75.0) * 1000 == pytest.approx(stranded, rel=0.005)


# IEC 60228, 3rd edition (2004), Tables 1, 2 and 3: largest resistance at 20 degC, ohm per km, plain copper:
# area in mm2, class 1 (solid), class 2 (stranded), class 5 (flexible).
@pytest.mark.parametrize(
    ("area_mm2", "class_1", "class_2", "class_5"),
    [
        (0.5, 36.0, 36.0, 39.0),
        (0.75, 24.5, 24.5, 26.0),
        (1.0, 18.1, 18.1, 19.5),
        (1.5, 12.1, 12.1, 13.3),
        (2.5, 7.41, 7.41, 7.98),
        (4.0, 4.61, 4.61, 4.95),
        (6.0, 3.08, 3.08, 3.30),  # from memory
        (10.0, 1.83, 1.83, 1.91),  # from memory
    ],
)
def test_iec_60228_plain(area_mm2: float, class_1: float, class_2: float, class_5: float) -> None:
    solid, stranded, flexible = (
        resistance_ohm_per_m(Conductor(area_mm2=area_mm2, construction=each), 20.0) * 1000
        for each in ("solid", "stranded", "flexible")
    )
    assert (solid, stranded, flexible) == pytest.approx((class_1, class_2, class_5), rel=1e-12)
    # The table is a maximum over the nominal area: it can never promise less than the metal itself.
    assert solid > COPPER.resistivity_ohm_m_20c / (area_mm2 * 1e-6) * 1000


# The same tables, metal-coated copper: class 1 and 2, class 5.
@pytest.mark.parametrize(
    ("area_mm2", "class_1_2", "class_5"),
    [
        (0.5, 36.7, 40.1),
        (0.75, 24.8, 26.7),
        (1.0, 18.2, 20.0),
        (1.5, 12.2, 13.7),
        (2.5, 7.56, 8.21),
        (4.0, 4.70, 5.09),
    ],
)
def test_iec_60228_coated(area_mm2: float, class_1_2: float, class_5: float) -> None:
    for construction, printed in (("solid", class_1_2), ("stranded", class_1_2), ("flexible", class_5)):
        wire = Conductor(area_mm2=area_mm2, construction=construction, coating="tinned")  # type: ignore[arg-type]
        assert resistance_ohm_per_m(wire, 20.0) * 1000 == pytest.approx(printed, rel=1e-12)


# UL 1581 maxima at 20 degC as used by a public cable data set, ohm per km (solid, stranded): nominal must
# stay below.
@pytest.mark.parametrize(
    ("gauge", "solid", "stranded"),
    [
        (24, 85.9, 87.6),
        (22, 54.3, 55.4),
        (20, 33.9, 34.6),
        (18, 21.4, 21.8),
        (16, 13.5, 13.7),
        (14, 8.45, 8.62),
        (12, 5.31, 5.43),
        (10, 3.343, 3.409),
    ],
)
def test_nominal_is_a_little_under_the_ul_1581_maximum(gauge: int, solid: float, stranded: float) -> None:
    nominal = resistance_ohm_per_m(Conductor(awg=gauge), 20.0) * 1000
    assert 0.97 * solid < nominal < solid
    nominal = resistance_ohm_per_m(Conductor(awg=gauge, construction="stranded"), 20.0) * 1000
    assert 0.97 * stranded < nominal < stranded


# Temperature of copper.
@pytest.mark.parametrize(
    ("temperature_c", "factor", "source"),
    [
        (20.0, 1.0, "reference temperature, IEC 60028"),
        (75.0, 309.5 / 254.5, "FAA AC 43.13-1B, paragraph 11-66: (234.5 + T) / 254.5"),
        (105.0, 339.5 / 254.5, "FAA AC 43.13-1B, paragraph 11-66"),
        (0.0, 234.5 / 254.5, "FAA AC 43.13-1B, paragraph 11-66"),
        (-20.0, 214.5 / 254.5, "FAA AC 43.13-1B, paragraph 11-66"),
    ],
)
def test_copper_temperature_factor(temperature_c: float, factor: float, source: str) -> None:
    assert temperature_factor(temperature_c) == pytest.approx(factor, rel=3e-4), source


def test_coefficient_at_75_degc_is_the_same_physics() -> None:
    # NEC Chapter 9, Table 8, note on temperature: R2 = R1 (1 + 0.00323 (T2 - 75)).
    for temperature_c in (40.0, 60.0, 90.0):
        published = 1 + 0.00323 * (temperature_c - 75)
        assert temperature_factor(temperature_c, reference_c=75.0) == pytest.approx(published, rel=3e-4)


def test_iacs_resistivity() -> None:
    # IEC 60028: 1/58 ohm mm2 per m at 20 degC for annealed copper.
    assert resistivity_ohm_m(COPPER) == pytest.approx(1 / 58 * 1e-6, rel=3e-5)


def test_aluminium_resistivity() -> None:
    # Industrial Power Engineering and Applications Handbook, Table 30.1 and parameter table (citing IEC
    # 60105 and 60028): aluminium of 60 to 61 % IACS, 2.873e-8 ohm m, 4.03e-3 per kelvin at 20 degC.
    assert resistivity_ohm_m(ALUMINIUM) == pytest.approx(2.873e-8, rel=0.02)
    assert ALUMINIUM.resistivity_ohm_m_20c / COPPER.resistivity_ohm_m_20c == pytest.approx(1 / 0.61, rel=1e-9)
    assert temperature_factor(45.0, ALUMINIUM.alpha_20c_per_k) == pytest.approx(1 + 25 * 4.03e-3, rel=1e-9)


def test_copper_clad_aluminium_lies_between_the_metals() -> None:
    # Parallel conduction of 10 % copper and 90 % aluminium by volume (rule of mixtures): the standard's
    # largest value (ASTM B566 class 10A, from memory) must be a little above it and below aluminium alone.
    mixture = 1 / (0.1 / COPPER.resistivity_ohm_m_20c + 0.9 / ALUMINIUM.resistivity_ohm_m_20c)
    given = COPPER_CLAD_ALUMINIUM.resistivity_ohm_m_20c
    assert mixture < given < ALUMINIUM.resistivity_ohm_m_20c
    assert given == pytest.approx(mixture, rel=0.04)


# Category cable, loop of one pair per 100 m at 20 degC from the gauge formula with solid copper; the usual
# gauges are common practice, no source.
@pytest.mark.parametrize(
    ("category", "gauge", "loop_ohm"), [("5e", 24, 16.843), ("6", 23, 13.357), ("6a", 23, 13.357), ("8", 22, 10.592)]
)
def test_category_pair_loop(category: str, gauge: int, loop_ohm: float) -> None:
    assert CATEGORY_CONDUCTOR_AWG[category] == gauge
    nominal = resistance_ohm_per_m(Conductor(awg=gauge), 20.0)
    assert pair_loop_ohm(nominal, 100.0) == pytest.approx(loop_ohm, abs=6e-4)
    # ANSI/TIA-568, from memory: at most 9.38 ohm per 100 m of one conductor of horizontal cable.
    assert nominal < HORIZONTAL_CONDUCTOR_LIMIT_OHM_PER_M


def test_thin_cords_by_hand() -> None:
    # Closed-form hand calculation: 2 * 100 m of 26 and 28 AWG.
    assert pair_loop_ohm(resistance_ohm_per_m(Conductor(awg=26)), 100.0) == pytest.approx(26.8, abs=0.05)
    assert pair_loop_ohm(resistance_ohm_per_m(Conductor(awg=28)), 100.0) == pytest.approx(42.6, abs=0.05)
    # ANSI/TIA-568, from memory: a cord conductor of at most 14 ohm per 100 m admits 26 AWG and not 28 AWG.
    assert resistance_ohm_per_m(Conductor(awg=26, construction="stranded")) < CORD_CONDUCTOR_LIMIT_OHM_PER_M
    assert resistance_ohm_per_m(Conductor(awg=28, construction="stranded")) > CORD_CONDUCTOR_LIMIT_OHM_PER_M


@pytest.mark.parametrize(
    ("channel_class", "pairset_ohm"),
    [("C", 20.0), ("D", 12.5), ("E", 12.5), ("EA", 12.5)],
)
def test_channel_limit_is_twice_the_powering_limit(channel_class: str, pairset_ohm: float) -> None:
    # IEEE 802.3 Tables 33-1 and 145-1: 20 ohm (Type 1) and 12.5 ohm per pairset (Types 2 to 4), both wires
    # of a pair in parallel; ISO/IEC 11801 (from memory) limits the loop of one pair to 40 and 25 ohm.
    limit = CHANNEL_PAIR_LOOP_LIMIT_OHM[channel_class]
    conductor_ohm_per_m = limit / 200
    assert pair_loop_ohm(conductor_ohm_per_m, 100.0) == pytest.approx(limit)
    assert pairset_loop_ohm(conductor_ohm_per_m, 100.0) == pytest.approx(pairset_ohm)
    assert pairset_loop_ohm(conductor_ohm_per_m, 100.0, pairsets=2) == pytest.approx(pairset_ohm / 2)


def test_college_physics_12_gauge() -> None:
    # College Physics (open textbook, CC BY), Resistance and Resistivity: 20.0 m of 12 gauge copper, 2.053
    # mm, is 0.104 ohm.
    assert awg_diameter_mm(12) == pytest.approx(2.053, abs=6e-4)
    assert 20.0 * resistance_ohm_per_m(Conductor(awg=12)) == pytest.approx(0.104, abs=5e-4)


def test_circular_mils() -> None:
    # Lessons In Electric Circuits, volume I (Kuphaldt), Specific resistance: 116035 circular mils at least,
    # so 2/0 AWG is chosen; 1/0 must be too thin.
    def circular_mils(gauge: str) -> float:
        return (awg_diameter_mm(awg_number(gauge)) / 0.0254) ** 2

    assert circular_mils("1/0") < 116035 < circular_mils("2/0")
    # The same book's conversion: resistivity 10.09 ohm cmil/ft is pure copper; annealed standard copper is
    # 10.371.
    ohm_cmil_per_ft = COPPER.resistivity_ohm_m_20c / (math.pi / 4 * 0.0254e-3**2) * 0.3048
    assert ohm_cmil_per_ft == pytest.approx(10.371, abs=1e-3)
