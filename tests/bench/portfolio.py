"""A portfolio of invented openings, of any size and always the same for a seed.

Every opening follows one of 40 hardware sets that are drawn from the clean example: its doors become typical doors,
each in a few variants (another cable, another unlock time). An opening names its set, its rooms, what the door is,
which outputs feed it and how long its cables are, rounded up to 5 m as schedules have them. Equipment closets hold
the supplies and PoE switches, each with as many as its openings need.

    python -m tests.bench.portfolio FOLDER --openings 1000 --sets 40 --files 20 --seed 0
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

EXAMPLE = Path(__file__).parents[2] / "examples" / "gull_point_ferry_terminal_clean"
NOTE = "# An invented portfolio, generated for measurements: no value is the data of any product.\n"
ROOMS = ("office", "store", "plant room", "lobby", "workshop", "archive", "meeting room", "laboratory")
WIDEST = 96
"""Openings that one equipment closet serves at most."""

UNLOCK = ("5 s", "6 s", "7 s", "8 s")
Tree = dict[str, Any]


@dataclass
class Closet:
    """The sources of one equipment closet, with the outputs and ports that are taken."""

    name: str
    models: Tree
    power: Tree = field(default_factory=dict)
    taken: dict[str, int] = field(default_factory=dict)

    def output(self, model: str) -> str:
        """The next free output of a source made after `model`; another source where all are taken."""
        outputs = list(self.models[model].get("outputs", {}))
        places = outputs or [""] * int(self.models[model].get("ports", 1))
        count = self.taken.get(model, 0)
        self.taken[model] = count + 1
        number, output = divmod(count, len(places))
        name = f"{self.name}-{model}-{number + 1}"
        if name not in self.power:
            made = dict(self.models[model])
            made["fed_from"] = self._behind(made["fed_from"]) if "fed_from" in made else None
            self.power[name] = {key: value for key, value in made.items() if value is not None}
        return f"{name}.{places[output]}" if outputs else name

    def _behind(self, model: str) -> str:
        name = f"{self.name}-{model}"
        if name not in self.power:
            made = dict(self.models[model])
            if "fed_from" in made:
                made["fed_from"] = self._behind(made["fed_from"])
            self.power[name] = made
        return name


@dataclass(frozen=True)
class Door:
    """A typical door: its set, what its openings state, and which of its items are fed from the closet or measured."""

    set_id: str
    set: Tree
    opening: Tree
    fed: tuple[tuple[str, str], ...]
    measured: tuple[tuple[str, int], ...]


def read(folder: Path) -> Tree:
    """All sections of a spec's files in one mapping, every scalar as text."""
    found: Tree = {}
    for path in sorted(folder.rglob("*.yaml")):
        for section, entries in yaml.load(path.read_text("utf-8"), Loader=yaml.CBaseLoader).items():
            if isinstance(entries, dict):
                found.setdefault(section, {}).update(entries)
    return found


def doors(example: Tree, sets: int) -> Iterator[Door]:
    """`sets` typical doors: those of the example, then their variants."""
    openings = [entry for entry in example["openings"].values() if "interlocked_with" not in entry]
    for number in range(sets):
        variant, index = divmod(number, len(openings))
        yield _door(f"T-{number + 1:02}", openings[index], example, variant)


def _door(set_id: str, entry: Tree, example: Tree, variant: int) -> Door:
    shared = example["hardware_sets"].get(entry.get("set"), {})
    items: Tree = {name: dict(item) for name, item in shared.get("items", {}).items()}
    for name, item in entry.get("items", {}).items():
        items[name] = {**items.get(name, {}), **item}
    fed, measured = [], []
    for name, item in items.items():
        source = item.get("fed_from", "")
        model = source.partition(".")[0] if isinstance(source, str) else ""
        if model in example["power"]:
            fed.append((name, model))
            del item["fed_from"]
        if "length" in item and model in example["power"]:
            measured.append((name, int(item.pop("length").split()[0])))
        if "unlock_time" in item:
            item["unlock_time"] = UNLOCK[variant % len(UNLOCK)]
        if variant % 2 and item.get("cable") == "16/2":
            item["cable"] = "14/2"
    stated = {key: value for key, value in entry.items() if key not in ("set", "items", "title", "from", "to")}
    made = {"title": f"Typical door {set_id}", "items": items}
    if "applies_to" in shared:
        made["applies_to"] = shared["applies_to"]
    return Door(set_id, made, stated, tuple(fed), tuple(measured))


def portfolio(openings: int = 1000, sets: int = 40, files: int = 20, seed: int = 0) -> dict[str, Tree]:
    """The files of the portfolio by name, as trees of mappings, lists and texts."""
    chance = random.Random(seed)
    example = read(EXAMPLE)
    typical = list(doors(example, sets))
    models = example["power"]
    made: dict[str, Tree] = {}
    per_file = -(-openings // files)
    number = 0
    for index in range(files):
        count = min(per_file, openings - number)
        if count <= 0:
            break
        power: Tree = {}
        entries: Tree = {}
        for start in range(0, count, WIDEST):
            closet = Closet(f"c{index + 1:03}{chr(97 + start // WIDEST % 26)}{start // WIDEST // 26 or ''}", models)
            for _ in range(min(WIDEST, count - start)):
                number += 1
                door = typical[chance.randrange(len(typical))]
                entries[f"D{number:05}"] = _opening(door, number, closet, chance)
            power.update(closet.power)
        made[f"openings/area-{index + 1:03}.yaml"] = {"doorlint": "1", "power": power, "openings": entries}
    project = dict(example["project"])
    project.update(name="Invented portfolio", note="Generated for measurements.", door_licences=str(openings))
    project["fire_alarm_relays"] = str(openings)
    include = ["common/*.yaml", "openings/*.yaml"]
    made["project.yaml"] = {"doorlint": "1", "project": project, "include": include}
    made["common/cables.yaml"] = {"doorlint": "1", "cables": example["cables"]}
    made["common/products.yaml"] = {"doorlint": "1", "products": example["products"]}
    made["common/sets.yaml"] = {"doorlint": "1", "hardware_sets": {door.set_id: door.set for door in typical}}
    return made


def _opening(door: Door, number: int, closet: Closet, chance: random.Random) -> Tree:
    room = ROOMS[chance.randrange(len(ROOMS))]
    items: Tree = {name: {"fed_from": closet.output(model)} for name, model in door.fed}
    for name, length in door.measured:
        steps = max(1, length // 5 + chance.randrange(-2, 1))
        items.setdefault(name, {})["length"] = f"{5 * steps} m"
    made = {"title": f"{room.capitalize()} {number}", "set": door.set_id, "from": f"{room} {number}", "to": "corridor"}
    return {**made, **door.opening, "items": items}


def in_one_file(files: dict[str, Tree]) -> Tree:
    """A portfolio as one spec without includes."""
    whole: Tree = {}
    for tree in files.values():
        for section, entries in tree.items():
            if section == "include":
                continue
            if isinstance(entries, dict):
                whole.setdefault(section, {}).update(entries)
            else:
                whole[section] = entries
    return whole


class _Dumper(yaml.CSafeDumper):
    """Writes texts as they were read: plain where the example had them plain."""

    def ignore_aliases(self, _data: object) -> bool:
        return True


_PLAIN_WORDS = frozenset({"true", "false"})


def _text(dumper: yaml.CSafeDumper, value: str) -> yaml.Node:
    if value in _PLAIN_WORDS:
        return dumper.represent_bool(value == "true")
    if value.isdecimal() and str(int(value)) == value:
        return dumper.represent_int(int(value))
    return dumper.represent_str(value)


_Dumper.add_representer(str, _text)


def dump(tree: Tree) -> str:
    """One file of the portfolio as YAML."""
    return NOTE + str(yaml.dump(tree, Dumper=_Dumper, sort_keys=False, default_flow_style=None, width=200))


def write(folder: Path, *, openings: int = 1000, sets: int = 40, files: int = 20, seed: int = 0) -> Path:
    """Write the portfolio into `folder`; the path of its root file."""
    for name, tree in portfolio(openings, sets, files, seed).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dump(tree), "utf-8")
    return folder / "project.yaml"


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--openings", type=int, default=1000)
    parser.add_argument("--sets", type=int, default=40)
    parser.add_argument("--files", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--one-file", type=Path, help="where to write the same as one spec without includes")
    given = parser.parse_args()
    if given.one_file is not None:
        whole = in_one_file(portfolio(given.openings, given.sets, given.files, given.seed))
        given.one_file.write_text(dump(whole), "utf-8")
    print(write(given.folder, openings=given.openings, sets=given.sets, files=given.files, seed=given.seed))


if __name__ == "__main__":
    main()
