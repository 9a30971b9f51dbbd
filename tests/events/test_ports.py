"""A PoE switch has many ports: what happens to one device's port leaves the others alone."""

from __future__ import annotations

import doorlint
from doorlint.rulebook import Rulebook

# A reader outside and a splitter inside, each on a port of its own; the splitter holds a fail-safe magnet.
SPEC = """\
doorlint: 1
project: {name: Invented}
products:
  reader: {kind: reader_controller, offline: local_list, on_hang: rest, inputs: {poe: {poe_class: 2, power: 4 W}}}
  splitter: {kind: poe_splitter, inputs: {poe: {poe_class: 4}}, outputs: {out: {supply: dc, voltage: 24 V}}}
  magnet: {kind: electromagnetic_lock, fail: safe, coil: {supply: dc, voltage: 24 V, current: 300 mA}}
power:
  sw: {kind: poe_switch, standard: 802.3at, backup: 4 h}
openings:
  "1":
    unsecured_side: to
    items:
      rc: {product: reader, side: unsecured, fed_from: sw}
      splitter: {product: splitter, side: secured, fed_from: sw}
      lock: {product: magnet, side: boundary, fed_from: splitter.out}
"""


def test_a_short_on_the_outside_port_does_not_take_the_switch_down() -> None:
    result = doorlint.review_text(SPEC, rulebook=Rulebook())
    assert result.context is not None and result.spec is not None
    found = result.context.exposed(result.spec.openings["1"])
    outside = [e for e in found if getattr(e.conductor.item, "name", "") == "rc"]
    assert outside
    assert not any("sw is shorted" in reason for e in outside for reason in e.because)
    assert not any(e.unlocks for e in outside if e.conductor.what == "supply")
