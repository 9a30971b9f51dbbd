"""What the adopted codes demand, by edition: values from `rules/values/`, never a default.

One file holds one value through all documents and editions that are known: `rules/values/<topic>/<name>.yaml`, and
`<topic>/<name>` is its name here. Each figure carries its own ground. What the files do not know is `Gap`, which
the rulebook turns into an *open* outcome; what two adopted codes tell differently and no one figure settles is a
`Conflict`, which goes to the authority. Local amendments lie over the base edition and never change it.

The figures are paraphrased from published codes and help a check by computation. They do not replace the adopted
text, which is often amended locally, nor the authority having jurisdiction.
"""

from __future__ import annotations

from .asking import (
    Edition,
    Gap,
    adopted,
    governing,
    judge,
    lookup,
    permission,
    published,
    section,
    settings,
    triggering,
)
from .setting import Answer, Conflict, Setting, Value
from .values import (
    FAMILIES,
    Document,
    ValuesError,
    check_amendments,
    coverage,
    documents,
    names,
    read_edition,
)

__all__ = [
    "FAMILIES",
    "Answer",
    "Conflict",
    "Document",
    "Edition",
    "Gap",
    "Setting",
    "Value",
    "ValuesError",
    "adopted",
    "check_amendments",
    "coverage",
    "documents",
    "governing",
    "judge",
    "lookup",
    "names",
    "permission",
    "published",
    "read_edition",
    "section",
    "settings",
    "triggering",
]
