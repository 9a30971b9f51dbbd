"""The day on which a review is made: waivers end by it, and the HTML report shows it."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime


def today() -> date:
    """Today's date in UTC, so that the place of the machine changes no report.

    Where the environment gives `SOURCE_DATE_EPOCH` (seconds since 1970, the convention of reproducible-builds.org), the
    day of that moment. A value that is no such number is passed over.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH", "")
    try:
        return datetime.fromtimestamp(int(given), UTC).date()
    except (ValueError, OverflowError, OSError):
        return datetime.now(UTC).date()
