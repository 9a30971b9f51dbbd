"""What each opening does in each event, computed from its wiring: `matrix`, and for critical openings `pairs`."""

from __future__ import annotations

from .matrix import matrix, pairs, singles
from .states import EVENTS, Egress, Event, Fault, FaultRow, Ingress, Latch, Lock, Matrix, Row, Truth

__all__ = [
    "EVENTS",
    "Egress",
    "Event",
    "Fault",
    "FaultRow",
    "Ingress",
    "Latch",
    "Lock",
    "Matrix",
    "Row",
    "Truth",
    "matrix",
    "pairs",
    "singles",
]
