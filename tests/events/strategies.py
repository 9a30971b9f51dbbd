"""Generated openings that are sound by construction, as specs of plain data (JSON is YAML), and unsound ones.

Every sound opening is one that a careful designer could have drawn: people get out without help of software, what is
outside holds no switch of the lock, faults are monitored, and standby power is stated.
"""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st

PANEL = {
    "kind": "door_controller",
    "inputs": {"poe": {"poe_class": 4}, "dc": {"voltage": "24 V", "current": "200 mA"}},
    "outputs": {
        "reader": {"supply": "dc", "voltage": "12 V", "switch": "none"},
        "lock": {"supply": "dc", "voltage": "24 V", "switch": "relay", "rest": "open"},
    },
    "contacts": {"lock": {"form": "spdt"}},
    "offline": "local_list",
    "on_hang": "holds",
}
PRODUCTS: dict[str, Any] = {
    "panel": PANEL,
    "module": {
        "kind": "relay_module",
        "inputs": {"dc": {"voltage": "24 V", "current": "50 mA"}},
        "contacts": {"lock": {"form": "spdt"}},
        "authenticated_link": True,
        "on_hang": "holds",
    },
    "station": {
        "kind": "reader_controller",
        "inputs": {"poe": {"poe_class": 3}},
        "offline": "local_list",
        "on_hang": "holds",
        "authenticated_link": True,
        "monitors": ["tamper"],
    },
    "reader": {"kind": "reader", "inputs": {"dc": {"voltage": "12 V", "current": "100 mA"}}, "monitors": ["tamper"]},
    "sensor": {
        "kind": "request_to_exit_sensor",
        "inputs": {"dc": {"voltage": "24 V", "current": "50 mA"}},
        "contacts": {"relay": {"form": "spdt"}},
    },
    "bar": {"kind": "touch_bar", "contacts": {"press": {"form": "nc"}}},
    "button": {"kind": "exit_button", "contacts": {"press": {"form": "nc"}}},
    "key": {"kind": "key_switch", "contacts": {"turn": {"form": "nc"}}},
    "fire": {"kind": "fire_alarm_relay", "contacts": {"relay": {"form": "spdt"}}},
    "relay": {
        "kind": "relay",
        "coil": {"voltage": "24 V", "current": "30 mA"},
        "contacts": {"lock": {"form": "spdt"}},
    },
    "position": {"kind": "door_position_switch", "contacts": {"closed": {"form": "nc"}}},
    "mechanical": {"kind": "mechanical_lock", "function": "storeroom", "latch": True},
    "cylinder": {"kind": "cylinder"},
}
COIL = {"coil": {"voltage": "24 V", "current": "300 mA"}}
LOCKS: dict[str, dict[str, Any]] = {
    "magnet": {"kind": "electromagnetic_lock", "fail": "safe", "monitors": ["bond"], **COIL},
    "strike": {"kind": "electric_strike", "fail": "secure", "monitors": ["latch"], **COIL},
    "mortise": {"kind": "electrified_mortise_lock", "egress_side": "free", "monitors": ["bolt"], **COIL},
    "trim": {"kind": "electrified_exit_trim", "monitors": ["latch"], **COIL},
    "retraction": {"kind": "latch_retraction_exit_device", "fail": "secure", "monitors": ["latch"], **COIL},
    "delayed": {"kind": "delayed_egress_device", "fail": "safe", "latch": True, "monitors": ["latch"], **COIL},
}
FAIL_CHOICES = {"mortise": ("safe", "secure"), "trim": ("safe", "secure")}
LATCHING = ("strike", "mortise", "trim", "retraction", "delayed")


@dataclass(frozen=True)
class Drawn:
    """A generated opening: its spec, and the choices that the tests ask about."""

    spec: dict[str, Any]
    lock: str
    fail: str
    terminal: str
    rated: bool
    release: str

    @property
    def text(self) -> str:
        """The spec as text."""
        return json.dumps(self.spec)


@st.composite
def sound_openings(draw: st.DrawFn) -> Drawn:
    """A sound opening."""
    kind = draw(st.sampled_from(sorted(LOCKS)))
    sheet = dict(LOCKS[kind])
    fail = draw(st.sampled_from(FAIL_CHOICES[kind])) if kind in FAIL_CHOICES else str(sheet["fail"])
    sheet["fail"] = fail
    rated = kind in LATCHING and draw(st.booleans())
    products = {**copy.deepcopy(PRODUCTS), "lock": sheet}
    items: dict[str, Any] = {"position": {"product": "position", "side": "boundary"}}
    power = _power(draw)
    lock: dict[str, Any] = {"product": "lock", "side": "boundary", "fed_from": "supply", "supervised": True}
    lock["unlock_time"] = "5 s"
    terminal = _switching(draw, items, lock, fail)
    release = _releases(draw, items, lock, kind, fail, rated)
    items["lock"] = lock
    if kind == "strike":
        items["latch"] = {"product": "mechanical", "side": "boundary"}
    if draw(st.booleans()):
        items["cylinder"] = {"product": "cylinder", "side": "unsecured"}
    elif kind != "magnet":
        products["lock"]["key_override"] = False
        products["mechanical"]["key_override"] = False
    opening: dict[str, Any] = {
        "from": "inside",
        "to": "outside",
        "unsecured_side": "to",
        "fire_rating": "90 min" if rated else "none",
        "security": "medium",
        "critical": draw(st.booleans()),
        "egress": {"side": "from"},
        "items": items,
    }
    if kind == "delayed":
        opening["egress"].update({"delay": "15 s", "rearm": "manual"})
    used = {str(item["product"]) for item in items.values()}
    kept = {name: product for name, product in products.items() if name in used}
    spec = {
        "doorlint": 1,
        "project": {"name": "Generated"},
        "products": kept,
        "power": power,
        "openings": {"d": opening},
    }
    return Drawn(spec, kind, fail, terminal, rated, release)


def _power(draw: st.DrawFn) -> dict[str, Any]:
    reports = {"mains_failure_reported": True, "low_battery_reported": True, "location": "secured"}
    supply: dict[str, Any] = {"kind": "power_supply", "supply": "dc", "voltage": "24 V", "fed_from": "mains", **reports}
    sources: dict[str, Any] = {
        "mains": {"kind": "mains", "supply": "ac", "voltage": "120 V"},
        "ups": {"kind": "ups", "fed_from": "mains", "backup": "4 h", **reports},
        "switch": {"kind": "poe_switch", "fed_from": "ups", "port_class": 4},
    }
    standby = draw(st.sampled_from(("own", "ups", "none")))
    if standby == "own":
        supply["backup"] = "4 h"
    elif standby == "ups":
        supply["fed_from"] = "ups"
    return {**sources, "supply": supply}


def _switching(draw: st.DrawFn, items: dict[str, Any], lock: dict[str, Any], fail: str) -> str:
    """Who switches the lock, and by which terminal; empty where a powered output does."""
    how = draw(st.sampled_from(("contact", "output", "module", "relay")))
    by_poe = draw(st.booleans())
    terminal = "nc" if fail == "safe" else "no"
    if how == "module":
        items["station"] = {"product": "station", "side": "unsecured", "fed_from": "switch"}
        items["module"] = {"product": "module", "side": "secured", "fed_from": "supply"}
        lock["switched_by"] = f"module.lock.{terminal}"
        return terminal
    feed = {"fed_from": "switch", "input": "poe"} if by_poe else {"fed_from": "supply", "input": "dc"}
    items["panel"] = {"product": "panel", "side": draw(st.sampled_from(("secured", "remote"))), **feed}
    items["reader"] = {"product": "reader", "side": "unsecured", "fed_from": "panel.reader", "signals": "panel.reader"}
    items["position"]["signals"] = "panel.door_position"
    if how == "contact":
        if fail == "safe":
            terminal = draw(st.sampled_from(("nc", "no")))  # normally open holds only while the controller is alive
        lock["switched_by"] = f"panel.lock.{terminal}"
    elif how == "relay":
        items["relay"] = {"product": "relay", "side": "secured", "fed_from": "panel.lock"}
        lock["switched_by"] = f"relay.lock.{terminal}"
    else:
        lock["fed_from"] = "panel.lock"
        terminal = ""
    return terminal


def _releases(draw: st.DrawFn, items: dict[str, Any], lock: dict[str, Any], kind: str, fail: str, rated: bool) -> str:
    """What is in the feed besides; the word for how people are released."""
    reports = "panel.request_to_exit" if "panel" in items else "station.request_to_exit"
    feed: list[str] = []
    fire = kind in ("magnet", "delayed") or rated or draw(st.booleans())
    if fire:
        items["fire"] = {"product": "fire", "side": "remote", "energised_at_rest": True, "reset": "manual"}
        feed.append("fire.relay.no")
    release = "mechanical"
    if kind == "magnet":
        release = draw(st.sampled_from(("sensor", "bar", "staff")))
    if release == "sensor":
        items["sensor"] = {"product": "sensor", "side": "secured", "fed_from": "supply", "energised_at_rest": True}
        items["button"] = {"product": "button", "side": "secured", "hold_time": "30 s"}
        feed += ["sensor.relay.no", "button.press.nc"]
        if draw(st.booleans()):
            items["sensor"]["signals"] = reports
    elif release == "bar":
        items["bar"] = {"product": "bar", "side": "boundary", "signals": reports}
        feed.append("bar.press.nc")
    elif release == "staff":
        items["key"] = {"product": "key", "side": "secured"}
        feed.append("key.turn.nc")
    if feed:
        lock["released_by"] = draw(st.permutations(feed))
    return release


@st.composite
def tangled_openings(draw: st.DrawFn) -> str:
    """An opening whose wiring points anywhere: at itself, in circles, at what is not there, at a terminal too many."""
    products = {**copy.deepcopy(PRODUCTS), **copy.deepcopy(LOCKS)}
    names = draw(st.lists(st.sampled_from(sorted(products)), min_size=1, max_size=6))
    items: dict[str, Any] = {f"{name}{index}": {"product": name} for index, name in enumerate(names)}
    owners = [*items, "supply", "switch", "ghost"]
    ends = (
        "",
        ".lock",
        ".lock.no",
        ".lock.nc",
        ".relay.no",
        ".relay.nc",
        ".press.nc",
        ".turn.no",
        ".nothing",
        ".reader",
    )
    wire = st.builds(lambda owner, end: owner + end, st.sampled_from(owners), st.sampled_from(ends))
    for item in items.values():
        for field in ("fed_from", "switched_by", "released_by"):
            if draw(st.booleans()):
                item[field] = draw(st.lists(wire, min_size=1, max_size=2, unique=True))
        if draw(st.booleans()):
            item["side"] = draw(st.sampled_from(("unsecured", "secured", "boundary", "remote", "unknown")))
        if draw(st.booleans()):
            item["signals"] = draw(st.sampled_from(owners)) + ".request_to_exit"
        if draw(st.booleans()):
            item["energised_at_rest"] = draw(st.sampled_from((True, False, "unknown")))
        if draw(st.booleans()):
            item["shares_cable_with"] = draw(st.sampled_from(owners))
    power = {
        "supply": {"kind": "power_supply", "fed_from": draw(st.sampled_from(("supply", "switch", "gone")))},
        "switch": {"kind": "poe_switch", "fed_from": "supply", "port_class": 4},
    }
    opening = {"critical": True, "items": items, "unsecured_side": draw(st.sampled_from(("to", "both", "unknown")))}
    used = {name: products[name] for name in names}
    return json.dumps(
        {"doorlint": 1, "project": {"name": "Tangled"}, "products": used, "power": power, "openings": {"d": opening}}
    )
