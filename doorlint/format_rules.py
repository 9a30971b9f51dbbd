"""The findings that doorlint makes itself, before and around the rules: what could not be read, what does not
resolve, and what broke. They are declared like rules, so that `rules` and `basis` show them too."""

from __future__ import annotations

from .outcome import Cited, Kind, Level, Outcome, Place, Practice, Related
from .rulebook import Rule

_YAML = Cited("YAML", "1.2.2", "chapter 3", "Processes and models")
_SCHEMA = Cited("JSON Schema", "draft 2020-12", "Validation", "the format is schemas/spec.schema.json")
_UNITS = Practice("a number without a unit is read differently by everybody; a door spec states units")
_REFERENCES = Practice("an id that does not resolve is hardware that nobody orders, or power that nobody lays")
_HOUSE = Practice(
    "a house standard adds to what is asked; what codes and life safety ask is for the authority having jurisdiction"
)
_OWN = Practice("what broke in the review itself must never read as a clean door")


def _rule(rule_id: str, title: str, basis: Cited | Practice, why: str, cure: str, level: Level = Level.ERROR) -> Rule:
    return Rule(rule_id, title=title, level=level, over=None, basis=(basis,), why=why, cure=cure)


FORMAT_RULES: dict[str, Rule] = {
    rule.id: rule
    for rule in (
        _rule(
            "document/syntax",
            "The file is not readable YAML",
            _YAML,
            "Only what stands before the fault could be read, so doors may be missing from the review.",
            "Mend the file at the place shown.",
        ),
        _rule(
            "document/duplicate-key",
            "A key stands twice in one mapping",
            _YAML,
            "Most readers drop one of the two without a word; here the first counts.",
            "Rename or remove one of them.",
        ),
        _rule(
            "document/over-limit",
            "The file is larger or deeper than doorlint reads",
            _OWN,
            "Limits protect against files that expand without end; what lies beyond them was not reviewed.",
            "Split the file, or write out the aliases.",
        ),
        _rule(
            "document/unreadable",
            "The file cannot be read",
            _OWN,
            "What stands in it was not reviewed.",
            "See that the file is there, is a text file in UTF-8, and may be read.",
        ),
        _rule(
            "document/unusual-yaml",
            "The file uses YAML that a door spec does not need",
            _YAML,
            "Tags, keys that are no text, and several documents in one file have no meaning in a door spec.",
            "Write plain keys and values, one document in a file.",
        ),
        _rule(
            "format/unknown-key",
            "The key is not part of the format",
            _SCHEMA,
            "A misspelt key is a value that nobody reads.",
            "Use the spelling offered, or remove the key.",
        ),
        _rule(
            "format/missing-key",
            "A key that the format requires is missing",
            _SCHEMA,
            "Without it the entry cannot be read at all.",
            "Add the key.",
        ),
        _rule(
            "format/wrong-type",
            "The value is of the wrong type",
            _SCHEMA,
            "The value cannot be read.",
            "Write it as shown.",
        ),
        _rule(
            "format/word-not-allowed",
            "The word is not one of the format's words",
            _SCHEMA,
            "A word outside the list has no meaning here.",
            "Use one of the words listed, or `unknown`.",
        ),
        _rule(
            "format/does-not-belong",
            "The key does not belong to this kind of device",
            _SCHEMA,
            "The kind or the key is wrong.",
            "Correct the kind, or move the key to the device that it belongs to.",
        ),
        _rule(
            "format/wrong-value",
            "The value is outside what the format allows",
            _SCHEMA,
            "The value cannot be used.",
            "Write it as shown.",
        ),
        _rule(
            "format/not-a-quantity",
            "The value is no quantity of the dimension expected",
            _UNITS,
            "A value that is guessed may be wrong by a factor of ten or a thousand.",
            "Write number and unit, for example 12 V, 450 mA, 62 m, 18 AWG.",
        ),
        _rule(
            "include/missing",
            "An included file is not there",
            _REFERENCES,
            "What it should hold was not reviewed.",
            "Correct the name, or add the file.",
        ),
        _rule(
            "include/outside",
            "An include leads out of the spec's folder",
            _OWN,
            "A spec is reviewed and handed over as one folder.",
            "Keep every part under the folder of the spec's root file.",
        ),
        _rule(
            "include/cycle",
            "Files include each other in a circle",
            _REFERENCES,
            "The circle has no meaning; each file is read once.",
            "Remove one of the includes.",
        ),
        _rule(
            "reference/unknown-id",
            "The id is not defined anywhere in the spec",
            _REFERENCES,
            "The rest of the entry cannot be judged.",
            "Correct the id, or define it.",
        ),
        _rule(
            "reference/defined-twice",
            "The id is defined twice",
            _REFERENCES,
            "Two entries with one name: nobody knows which is meant. Here the first counts.",
            "Rename or remove one of them.",
        ),
        _rule(
            "reference/unclear-output",
            "The feed does not say which output or input is meant",
            _REFERENCES,
            "Voltage and rating differ from output to output.",
            "Name the output (`rc.lock`) or, on the item fed, the `input`.",
        ),
        _rule(
            "wiring/feed-loop",
            "Devices feed each other in a circle",
            Practice("power cannot come from its own load", physics="conservation of energy"),
            "No power enters the circle.",
            "Let one of them be fed from a supply.",
        ),
        _rule(
            "wiring/two-feeds",
            "One input is fed twice",
            Practice("two sources on one input fight or back-feed", physics="Kirchhoff's voltage law"),
            "Two sources in parallel without a means to share push current into each other.",
            "Keep one feed for each input.",
        ),
        _rule(
            "rulebook/rule-broke",
            "A rule broke and could not judge",
            _OWN,
            "What the rule would have found is not known.",
            "Report it to the author of the rule with the text shown.",
        ),
        _rule(
            "rulebook/package-broke",
            "A package of rules could not be used",
            _OWN,
            "Its rules were not applied.",
            "Repair or remove the package.",
        ),
        _rule(
            "house/unknown-rule",
            "The house standards name a rule that does not exist",
            _HOUSE,
            "What they ask of it is asked of nothing.",
            "Correct the id, or remove the entry.",
        ),
        _rule(
            "house/unknown-parameter",
            "The house standards name a parameter that does not exist",
            _HOUSE,
            "The figure is read by no rule.",
            "Correct the name, or remove the entry.",
        ),
        _rule(
            "house/not-settable",
            "The house standards set a finding that cannot be set",
            _HOUSE,
            "A file that cannot be read, or an id that does not resolve, leaves doors unjudged, whatever the office "
            "thinks.",
            "Remove the entry.",
        ),
        _rule(
            "house/no-reason",
            "The house standards soften a rule without a reason",
            _HOUSE,
            "Nobody can tell later whether the decision still holds; the setting is not taken.",
            "Write the reason beside the setting, or remove it.",
        ),
        _rule(
            "house/loosened",
            "The house standards ask for less than may be asked",
            _HOUSE,
            "What touches life safety, what a standard fixes and what another house standard asks stays as strict as "
            "it is; the setting is not taken.",
            "Remove the setting; waive a single finding at its opening with the reason.",
        ),
        _rule(
            "waiver/not-usable",
            "A waiver covers nothing or may not be used",
            Practice("a waiver that is expired, unreasoned or aimed at nothing hides that a decision is due"),
            "The finding that it should cover counts, or there is none.",
            "Renew the waiver with reason and date, or remove it.",
            Level.WARNING,
        ),
    )
}


def finding(rule_id: str, message: str, place: Place, subject: str, related: tuple[Related, ...] = ()) -> Outcome:
    """A failure of one of the built-in findings."""
    rule = FORMAT_RULES[rule_id]
    return Outcome(
        rule=rule_id,
        kind=Kind.FAIL,
        level=rule.level,
        subject=subject,
        message=message,
        place=place,
        related=related,
        basis=rule.basis,
    )
