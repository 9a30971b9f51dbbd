"""Which comes first: the lock that lets go, the machine that drives the leaf, the person who walks up. Times in s."""

from __future__ import annotations

from fractions import Fraction
from typing import Final

OPERATOR_MARGIN_S: Final = Fraction(2, 10)
"""Time between the release of the lock and the start of the drive, s. Common practice, no source."""
SLOW_WALK_M_PER_S: Final = Fraction(5, 10)
"""Speed of a person with a walking aid, m/s. Common practice, no source."""
TURN_S: Final = Fraction(1)
"""Time to turn to the door and take hold of the lever, s. Common practice, no source."""
PULL_S: Final = Fraction(1)
"""Time to draw the leaf out of the frame, s. Common practice, no source."""


def earliest_start_s(release_s: Fraction | float, margin_s: Fraction = OPERATOR_MARGIN_S) -> Fraction | float:
    """When an operator may begin to drive, s after the signal that also unlocks."""
    return release_s + margin_s if isinstance(release_s, Fraction) else release_s + float(margin_s)


def unlock_time_needed_s(distance_m: Fraction) -> Fraction:
    """How long a lock has to stay unlocked for somebody who presents a credential `distance_m` from the door, s."""
    return distance_m / SLOW_WALK_M_PER_S + TURN_S + PULL_S
