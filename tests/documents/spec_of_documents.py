"""A small made-up spec that the tests of the documents stand on, and its review with no rules: the analyses alone."""

from __future__ import annotations

from doorlint.documents import DOCUMENTS, build
from doorlint.documents.tables import Cell, Document, Table
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook

SPEC = """\
doorlint: 1
project: {name: Invented Works, revision: B}
products:
  magnet: {kind: electromagnetic_lock, fail: safe, holding_force: 5300 N,
    coil: {supply: dc, voltage: 24 V +-10 %, current: 250 mA, peak: 250 mA, inductance: 1 H, resistance: 96 ohm,
      drop_out_current: 25 mA, built_in_suppression: none}}
  strike: {kind: electric_strike, fail: secure,
    coil: {supply: dc, voltage: 12 V +-15 %, current: 300 mA, peak: 300 mA, resistance: 40 ohm, inductance: 80 mH,
      built_in_suppression: none}}
  lever: {kind: mechanical_lock, function: storeroom, egress_side: free, latch: true, key_override: true}
  rc:
    kind: reader_controller
    efficiency: 80 %
    inputs: {poe: {poe_class: 4, power: 4 W}}
    outputs: {lock: {supply: dc, switch: relay, voltage: 12 V +-5 %, current: 1 A, rest: open,
      built_in_suppression: none}}
  fire: {kind: fire_alarm_relay,
    contacts: {relay: {form: spdt, switch: relay, current: 2 A, inductive_current: 1 A, highest_voltage: 30 V}}}
  diode: {kind: suppressor, suppressor: {type: diode, clamp: 700 mV}}
  contact: {kind: door_position_switch}
power:
  mains: {kind: mains, supply: ac, voltage: 120 V}
  psu:
    kind: power_supply
    fed_from: mains
    supply: dc
    voltage: 24 V +-2 %
    current: 5 A
    peak: 6 A
    required_backup: 4 h
    battery: {chemistry: lead_acid, voltage: 24 V, capacity: 7 Ah, end_voltage: 21 V, float_voltage: 27.3 V,
      charge_current: 500 mA, temperature: 15..25 degC, ageing: 80 %}
  sw: {kind: poe_switch, standard: 802.3at, port_class: 4, ports: 8, budget: 120 W, allocation: by_class, backup: 2 h,
    fed_from: mains, input_power: 150 W}
cables:
  two: {kind: multiconductor, conductor: 18 AWG, conductors: 2, material: copper, strand: solid, jacket: [CL3P]}
  net: {kind: category, category: 6, conductor: 23 AWG, conductors: 8, material: copper, strand: solid, jacket: [CMP]}
hardware_sets:
  HW-1:
    items:
      rc: {product: rc, side: unsecured, fed_from: sw, cable: net}
      lock: {product: strike, side: boundary, fed_from: rc.lock, cable: two, suppression: diode}
      lever: {product: lever, side: boundary}
      dps: {product: contact, side: boundary, signals: rc.door_position}
openings:
  A1:
    set: HW-1
    title: Store
    from: store
    to: corridor
    fire_rating: none
    egress: {side: from, by: lever}
    leaf: {count: 1}
    items: {rc: {length: 40 m}, lock: {length: 10 m}}
  B2:
    from: hall
    to: yard
    fire_rating: 60 min
    egress: {side: from, by: sensor, delay: 15 s, initiation: 2 s, force: 60 N}
    leaf: {count: 1}
    items:
      lock: {product: magnet, side: secured, fed_from: psu, cable: two, length: 30 m, released_by: fire.relay.nc,
        suppression: diode}
      fire: {product: fire, side: remote, reset: manual, supervised: true}
"""


def reviewed(text: str = SPEC) -> Result:
    """The spec reviewed without rules: what the documents need is in the analyses."""
    result = review_text(text, rulebook=Rulebook())
    assert result.context is not None
    return result


def document(name: str, text: str = SPEC) -> Document:
    """One document of the spec."""
    return build(name, reviewed(text), "2026-01-15")


def table(name: str, key: str, text: str = SPEC) -> Table:
    """One table of a document."""
    return next(one for one in document(name, text).tables if one.key == key)


def rows(found: Table) -> list[dict[str, Cell]]:
    """The rows of a table by column head."""
    return [dict(zip([column.head for column in found.columns], row, strict=True)) for row in found.rows]


NAMES = tuple(DOCUMENTS)
