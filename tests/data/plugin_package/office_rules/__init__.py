"""The rules of an invented consultant's office."""

from doorlint import hookimpl

from . import magnet_far_from_supply


@hookimpl
def doorlint_rules() -> list[object]:
    """The rules that this package offers."""
    return [magnet_far_from_supply]
