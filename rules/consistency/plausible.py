"""Ranges within which figures of door hardware lie, from `plausible.yaml`. No rule stands here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files

import yaml

from doorlint.context import Context
from doorlint.outcome import Change, Place, Repair, Verdict, failed, ok
from doorlint.quantity import Band, Quantity, QuantityError, parse_quantity, within
from doorlint.spec.fields import Part


@cache
def ranges(group: str) -> Mapping[str, str]:
    """The ranges of a group, `product`, `source` or `opening`: path of the figure -> the range as text."""
    text = files(__package__ or "").joinpath("plausible.yaml").read_text("utf-8")
    found: Mapping[str, str] = yaml.safe_load(text)[group]
    return found


@cache
def _figures(group: str, prefix: str) -> tuple[tuple[str, str, str], ...]:
    """The figures of one part of a group: path, field and range as text."""
    paths = ((path, *path.rpartition(".")[::2], band) for path, band in ranges(group).items())
    return tuple((path, field, band) for path, head, field, band in paths if head == prefix)


def judge(
    group: str, name: str, place: Place, parts: Iterator[tuple[str, Part]], context: Context
) -> Iterator[Verdict]:
    """A failure for each figure of the parts outside its range; one pass where there is none.

    parts: the first words of the path (empty for the part itself) and the part that holds the figures.
    """
    seen, wrong = 0, False
    for prefix, part in parts:
        for path, field, band in _figures(group, prefix):
            usual = context.lies_in(part, field, band)
            seen += usual is not None
            if usual is False:
                wrong = True
                yield _outside(name, path, getattr(part, field), band, part.at(field))
    if not wrong:
        yield ok(f"{seen} figures of {name} lie in their usual ranges", place)


def _outside(name: str, path: str, value: Quantity | Band, band: str, at: Place) -> Verdict:
    text = f"{path.replace('_', ' ')} {value.text} of {name} is outside {band}, where such figures lie"
    repairs = tuple(_other_units(value, band, at))
    return failed(text, at, repairs=repairs)


def _other_units(value: Quantity | Band, band: str, at: Place) -> Iterator[Repair]:
    """The same number in another unit of its kind, where that lies in the range."""
    if isinstance(value, Band):
        return
    number = value.text.rpartition(" ")[0]
    for unit in (
        "mA",
        "A",
        "mV",
        "V",
        "mW",
        "W",
        "mH",
        "H",
        "ms",
        "s",
        "min",
        "h",
        "mm",
        "m",
        "in",
        "ft",
        "N",
        "kN",
        "lbf",
    ):
        text = f"{number} {unit}"
        try:
            meant = parse_quantity(text, value.dimension)
        except QuantityError:
            continue
        if within(meant, band) and text != value.text:
            yield Repair(f"write {text}, if that is what the data sheet says", (Change(at, text),))
