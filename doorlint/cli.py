"""The command `doorlint`. Standard output carries the report alone; notes and errors go to standard error.

Exit status: 0 nothing at or above the failing level, 1 findings, 2 the input could not be read, a rule broke or
the report could not be written, 130 stopped from the keyboard. What a command does not need it does not
import.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import __version__

if TYPE_CHECKING:
    from .report.earlier import Revision
    from .reviewing import Result
    from .rulebook import Rule, Rulebook
    from .spec.model import Spec
    from .store.folder import Store
    from .typical.tasks import Workplace

_BROKEN = 2
_STOPPED = 130
_LISTED = ("fail", "open", "review", "pass", "notApplicable", "waived")


class Refusal(Exception):  # noqa: N818 - told to the user as it stands
    """The command cannot do what is asked. The message is one line."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command and leave with its exit status. Of the process that it is given, it makes its own."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if "editor" not in given:  # which runs for days
        # a review makes millions of objects that live to its end; looking through them for cycles again and again
        # costs a quarter of its time
        gc.set_threshold(1_000_000, 50, 1000)
    status = run(given)
    gc.freeze()  # the system takes everything back at once: Python need not look through it first
    sys.exit(status)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit status. Whatever goes wrong is told in one line."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    _tolerate_narrow_encodings()
    try:
        # not `main`, which would answer broken pipes and Ctrl-C in its own way
        with doorlint.make_context("doorlint", list(given)) as context:
            status = doorlint.invoke(context)
        return status if isinstance(status, int) else 0
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as misuse:
        misuse.show()
        return _BROKEN
    except (KeyboardInterrupt, click.Abort):
        _say("stopped")
        return _STOPPED
    except SystemExit as leaving:  # doorlint itself never leaves this way; a rule that does must not read as clean
        _say(f"a package of rules left the program ({_last_line(leaving)}); nothing was reviewed")
        return _BROKEN
    except Exception as error:  # the last line of defence: a user never meets a traceback unasked
        return _told(error, trace="--trace" in given)


def _last_line(error: BaseException) -> str:
    import traceback

    where = traceback.extract_tb(error.__traceback__)[-1]
    return f"line {where.lineno} of {Path(where.filename).name}"


def _told(error: Exception, *, trace: bool) -> int:
    from .report.text import plain

    if isinstance(error, Refusal) or _is_told(error):
        _say(plain(str(error)))
        return _BROKEN
    if trace:
        import traceback

        with contextlib.suppress(OSError, ValueError):
            traceback.print_exception(error)
    what = plain(f"{type(error).__name__}: {error}".rstrip(": "))
    _say(
        f"doorlint itself broke ({what}); nothing was reviewed. "
        "Run it as `doorlint --trace ...` and report the text shown to doorlint's maintainers."
    )
    return _BROKEN


def _is_told(error: Exception) -> bool:
    """Whether the error's message is meant for the user. Looked up among what is loaded, so that nothing is
    imported to find out."""
    known = (
        ("doorlint.files", "FileProblem"),
        ("doorlint.reviewing", "SpecError"),
        ("doorlint.report.earlier", "NotOurs"),
        ("doorlint.intake.records", "IntakeProblem"),
        ("doorlint.cluster", "ClusterProblem"),
    )
    kinds = [getattr(sys.modules.get(module), name, None) for module, name in known]
    return any(isinstance(kind, type) and isinstance(error, kind) for kind in kinds)


def _say(message: str) -> None:
    """One line on standard error, if there is one (print would take standard output instead)."""
    if sys.stderr is None:
        return
    with contextlib.suppress(OSError, ValueError):
        print(f"doorlint: {message}", file=sys.stderr, flush=True)


def _tolerate_narrow_encodings() -> None:
    """A terminal that cannot show a character gets a substitute instead of a crash."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _drop_output() -> None:
    """Let what is still buffered go nowhere, after the reader of standard output has gone."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _put(text: str, output: str | None = None) -> None:
    """Hand the report over: to the file named, or to standard output. A reader of the pipe who leaves early
    has seen enough; the exit status still tells what the review found."""
    if output is not None:
        from .files import write_text

        write_text(output, text)
        return
    if sys.stdout is None:
        raise Refusal("standard output is closed; redirect it to a file")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
    except OSError as error:
        _drop_output()
        raise Refusal(f"standard output: not written: {(error.strerror or str(error)).lower()}") from error


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option("--trace", is_flag=True, help="If doorlint itself breaks, show where.")
@click.version_option(__version__, prog_name="doorlint", message="%(prog)s %(version)s")
def doorlint(trace: bool) -> None:  # `run` reads --trace itself, as it catches what every command raises
    """Review a YAML door specification for IP-based access control by computing.

    A design check: it does not replace the adopted codes, the authority having jurisdiction or a licensed
    professional.
    """


@doorlint.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option("--format", "form", type=click.Choice(["text", "json", "sarif", "junit", "html"]), default="text",
              show_default=True, help="How the report is written.")
@click.option("--output", metavar="FILE", help="Write the report to FILE, whole or not at all.")
@click.option("--earlier", metavar="FILE",
              help="A SARIF file of an earlier review: each outcome of a SARIF or JSON report then says whether it is "
                   "new, unchanged or updated, and what is gone is listed as absent.")
@click.option("--failing-level", type=click.Choice(["note", "warning", "error"]), default="warning",
              show_default=True, help="The lowest level of a finding that makes the exit status 1.")
@click.option("--show", type=click.Choice(_LISTED), multiple=True,
              help="What the text lists besides failures; may be repeated. Without it: open and review. "
                   "`fail` alone lists nothing else. JSON and SARIF always hold everything.")
@click.option("--only-specs", is_flag=True,
              help="Pass over files that are no part of a door spec (without a `doorlint:` key), as a commit hook "
                   "must.")
@click.option("--workers", type=click.IntRange(1, 61), metavar="N",
              help="How many processes judge (1 to 61). Without it: one for each processor from 64 unlike openings and "
                   "three processors on, else one alone, which is quicker. The report is the same with any.")
@click.option("--cluster", "scheduler", metavar="ADDRESS",
              help="Judge on the cluster of dask.distributed whose scheduler listens there (tcp://10.0.0.5:8786). It "
                   "has to be your own, with the same doorlint. Needs the extra `cluster`.")
@click.option("--fresh", is_flag=True,
              help="Take nothing that earlier reviews left in the user's cache folder (DOORLINT_CACHE names another "
                   "folder); what this one finds takes its place there.")
def review(
    paths: tuple[str, ...],
    form: str,
    output: str | None,
    earlier: str | None,
    failing_level: str,
    show: tuple[str, ...],
    only_specs: bool,
    workers: int | None,
    scheduler: str | None,
    fresh: bool,
) -> int:
    """Review the specs that the PATHs belong to, each once.

    A PATH is a spec's root file, a part of a spec, or a folder that holds root files. Exit status: 0 nothing
    at or above the failing level, 1 findings, 2 the input could not be read or a rule broke.
    """
    _spare_inputs(output, paths)
    before = _earlier(earlier, form)
    if only_specs:
        from .spec.files import is_spec_file

        paths = tuple(path for path in paths if is_spec_file(Path(path)))
        if not paths:
            return 0
    options = {"format": form, "failing": failing_level, "shown": sorted({*show})}

    def put(text: str) -> None:
        _put(_for_terminal(text) if output is None and form == "text" else text, output)

    # a report that is compared with an earlier one is asked for once
    store = _store(paths, fresh) if before is None else None
    if store is None:
        text, status, _ = _review(paths, output, before, options, workers, scheduler)
        put(text)
        return status
    from .store.report import Report, Run, find, keep

    asked = Run(paths, options)
    found = find(store, asked)
    if found is not None:
        _spare_inputs(output, found.names)
        put(found.text)
        return found.status
    text, status, results = _review(paths, output, None, options, workers, scheduler, store)
    put(text)
    keep(store, asked, results, Report(text, status, tuple(name for result in results for name in result.documents)))
    for result in results:
        if result.kept is not None and not result.broken:
            result.kept.store_families()
    return status


def _store(paths: tuple[str, ...], fresh: bool) -> Store | None:
    """Where earlier reviews have left what they found, if it is worth while to look."""
    from .store.worth import is_worth

    if not is_worth(paths):
        return None
    from .store.folder import at_user

    return at_user(fresh)


@contextlib.contextmanager
def _workplace(workers: int | None, scheduler: str | None) -> Iterator[tuple[Workplace, int]]:
    """Where like openings are judged, and by how many."""
    if scheduler is not None:
        from .cluster import cluster

        with cluster(scheduler) as (executor, count):
            yield executor, count
        return
    from .processes import processes

    with processes(workers) as place:
        yield place, place.count


def _review(
    paths: tuple[str, ...],
    output: str | None,
    before: tuple[Revision, ...] | None,
    options: Mapping[str, Any],
    workers: int | None,
    scheduler: str | None,
    store: Store | None = None,
) -> tuple[str, int, tuple[Result, ...]]:
    """The report on the specs that the paths belong to, worked out, with its exit status."""
    from .outcome import Level
    from .reviewing import review_all

    with _only_report():
        from .repair import with_cures

        # standard output may be a file while somebody watches standard error
        with _progress() as told, _workplace(workers, scheduler) as (place, count):
            found = review_all(list(paths), **told, store=store, executor=place, workers=count)
            results = tuple(with_cures(result, **told) for result in found)
    _note_parser()
    _spare_inputs(output, [name for result in results for name in result.documents])
    form, failing, show = options["format"], Level(options["failing"]), options["shown"]
    if form == "json":
        from .report import json_report

        text = json_report.render(results, before)
    elif form == "sarif":
        from .report import sarif

        text = sarif.render(results, before)
    elif form == "junit":
        from .report import junit

        text = junit.render(results, failing)
    elif form == "html":
        text = _html(results)
    else:
        from .report import text as text_report

        text = text_report.render(results, shown=frozenset(show) or text_report.SHOWN)
    status = max((result.status(failing) for result in results), default=_BROKEN)
    return text, status, results


@doorlint.command(short_help="Show which openings changed verdict between two revisions, and why.")
@click.argument("earlier")
@click.argument("later")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
              help="How the comparison is written.")
@click.option("--output", metavar="FILE", help="Write the comparison to FILE, whole or not at all.")
@click.option("--failing-level", type=click.Choice(["note", "warning", "error"]), default="warning",
              show_default=True, help="The lowest level of a new finding that makes the exit status 1.")
def compare(earlier: str, later: str, form: str, output: str | None, failing_level: str) -> int:
    """Show which openings changed verdict from EARLIER to LATER, and by which findings.

    Each is a spec (a root file, or a folder that holds one) or a SARIF file that doorlint wrote (its name ends in
    .sarif or .json). Exit status: 0 no new finding at or above the failing level, 1 new findings, 2 something could
    not be read or a review is incomplete.
    """
    from .outcome import Level
    from .report import comparison

    _spare_inputs(output, (earlier, later))
    (before, old), (after, new) = _revision(earlier, output), _revision(later, output)
    found = comparison.compare(before, after, before=old, after=new)
    _put(comparison.render_json(found) if form == "json" else comparison.render(found), output)
    if not (before.complete and after.complete):
        _say("one of the reviews is incomplete; `doorlint review` says where")
        return _BROKEN
    return 1 if found.worse(Level(failing_level)) else 0


@doorlint.command(short_help="Compare the spec at PATH with its building model (IFC).")
@click.argument("path")
@click.argument("building_model", metavar="MODEL")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
              help="How the differences are written.")
@click.option("--output", metavar="FILE", help="Write the differences to FILE, whole or not at all.")
@click.option("--failing-level", type=click.Choice(["note", "warning", "error"]), default="warning",
              show_default=True, help="The lowest level of a difference that makes the exit status 1.")
@click.option("--show", type=click.Choice(["fail", "open", "pass"]), multiple=True,
              help="What the text lists besides differences; may be repeated. Without it: open. JSON holds everything.")
def model(
    path: str, building_model: str, form: str, output: str | None, failing_level: str, show: tuple[str, ...]
) -> int:
    """Compare the spec at PATH with its building MODEL: IFC2x3, IFC4 or IFC4.3. A door of the model belongs to the
    opening that has its tag or its name as id.

    Each difference is shown with the place in the spec and that in the model; neither side is taken as right. What
    only one side states is open. Exit status: 0 no difference at or above the failing level, 1 differences, 2 the
    spec or the model could not be read whole.
    """
    from .intake.differences import compare as differences
    from .intake.models import read_doors
    from .outcome import Level
    from .report import model_differences as report
    from .report.text import SHOWN
    from .reviewing import review as read
    from .rulebook import Rulebook

    _spare_inputs(output, (path, building_model))
    # the spec is read, not judged: no rule has a say in what the two sides state
    result = read(path, rulebook=Rulebook())
    if result.spec is None:
        raise Refusal(f"{result.root}: the spec could not be read; `doorlint review` says why")
    _spare_inputs(output, result.documents)
    with _progress() as told:
        doors = read_doors(building_model, **told)
    found = differences(result.spec, doors, result.settings)
    if form == "json":
        made = report.render_json(result, doors, found)
    else:
        made = report.render(result, doors, found, frozenset(show) or SHOWN)
    _put(made, output)
    if result.broken:
        _say("the spec could not be read whole; `doorlint review` says where")
        return _BROKEN
    return 1 if report.failing(found, Level(failing_level)) else 0


@doorlint.command(short_help="Turn a door schedule or a building model into a spec, or merge it into one.")
@click.argument("file")
@click.option("--into", "folder", metavar="FOLDER",
              help="The folder of the spec, made where it does not exist. A spec that it holds already is merged with: "
                   "what you added stays. Without it: a folder named like FILE, beside it.")
@click.option("--columns", metavar="MAPPING",
              help="A mapping file that says what the columns mean. Without it: the one in FOLDER that the first "
                   "intake writes for you to edit, named like FILE with the ending .columns.yml.")
@click.option("--encoding", metavar="NAME", help="The encoding of a CSV file that is neither UTF-8 nor marked: cp1252.")
@click.option("--name", metavar="NAME", default="", help="The project's name in a new spec. Without it: the file's.")
@click.option("--source", metavar="NAME", default="",
              help="Which source of the spec FILE is an issue of, where FILE has another name than before. Without it: "
                   "the source of FILE's name; doorlint asks where it cannot tell a new issue from another source.")
@click.option("--settled", is_flag=True,
              help="Where FILE and the spec conflict, the spec is right: show it no more until FILE says something "
                   "new.")
def intake(
    file: str, folder: str | None, columns: str | None, encoding: str | None, name: str, source: str, settled: bool
) -> int:
    """Turn FILE, a door schedule (.xlsx, .ods, .csv) or a building model (.ifc), into a spec, or merge it into one.

    What FILE does not say is `unknown` in the spec, so that the review asks for it. Every cell that was not understood
    is listed. A value that both FILE and you changed is a conflict: it is shown, the spec keeps yours. Several sources
    may feed one spec. Exit status: 0 all taken in, 1 something was not understood or conflicts, 2 nothing could be
    taken in (then nothing is written).
    """
    from .intake.run import take_in

    with _only_report(), _progress() as told:
        text, clear = take_in(file, folder, columns, encoding, name, source=source, settled=settled, **told)
    _put(text)
    return 0 if clear else 1


@doorlint.command(short_help="Serve an editor by the Language Server Protocol.")
@click.option("--port", metavar="N", type=click.IntRange(1, 65535),
              help="Listen on this port of this machine, for one editor. Without it: standard input and output.")
@click.option("--debounce", metavar="MS", type=click.IntRange(0, 10_000), default=150, show_default=True,
              help="How long after the last change the review begins, in milliseconds.")
def editor(port: int | None, debounce: int) -> int:
    """Serve an editor that speaks the Language Server Protocol 3.17: findings while you write, hover, completion,
    definition, references, renaming, figures beside the lines, and repairs that were tried.

    Started by the editor; needs the extra `editor`. Exit status: 0 the editor said goodbye, 1 it left without.
    """
    try:
        from .editor.server import serve
    except ModuleNotFoundError as error:
        if error.name is None or error.name.partition(".")[0] not in ("pygls", "lsprotocol", "cattrs", "attrs", "attr"):
            raise
        raise Refusal("the editor server needs pygls, which is not installed: pip install 'doorlint[editor]'") from None
    try:
        return serve(port, debounce)
    except OSError as error:
        raise Refusal(f"the editor server stopped: {error.strerror or error}") from None


@doorlint.command(short_help="List what is open as questions, for each party that has to answer.")
@click.argument("path")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True,
              help="How the list is written.")
@click.option("--output", metavar="FILE", help="Write the list to FILE, whole or not at all.")
def questions(path: str, form: str, output: str | None) -> int:
    """List what is open in the spec at PATH as questions: one for each missing datum, for the party that furnishes the
    item (`furnished_by`), with what the answer would decide."""
    from .report import questions as report

    _spare_inputs(output, (path,))
    result = _reviewed(path)
    _spare_inputs(output, result.documents)
    made = {"text": report.render, "json": report.render_json, "csv": report.render_csv}[form](result)
    _put(made, output)
    return _completeness(result)


@doorlint.command(short_help="List the rules and the findings made while reading.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
              help="How the list is written.")
def rules(form: str) -> int:
    """List what doorlint finds: the rules, and the findings it makes while reading."""
    from .report import pages

    book = _rulebook()
    listed = _declared(book)
    _put(pages.table_json(listed) if form == "json" else pages.table(listed))
    return _BROKEN if book.troubles else 0


@doorlint.command(short_help="Write the rule book: all rules with ground, cases, cure and limits.")
@click.option("--output", metavar="FILE", help="Write the rule book to FILE, whole or not at all.")
def rulebook(output: str | None) -> int:
    """Write the rule book as Markdown: one section for each rule, an index, the parameters that a house standard may
    set, a bibliography, and what is from memory."""
    from .report import rulebook_page

    book = _rulebook()
    _put(rulebook_page.render(book), output)
    return _BROKEN if book.troubles else 0


@doorlint.command(short_help="Show the settings in effect for the spec at PATH.")
@click.argument("path")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
              help="How the settings are written.")
def house(path: str, form: str) -> int:
    """Show the settings in effect for the spec at PATH: each figure of practice with its value and where that comes
    from, each rule with its level, or the reason why a house standard switches it off."""
    from .report import house as report

    result = _reviewed(path)
    _put(report.render_json(result) if form == "json" else report.render(result))
    return _completeness(result)


@doorlint.command(short_help="Show why RULE is a rule, and on what ground.")
@click.argument("rule_id", metavar="RULE")
def basis(rule_id: str) -> int:
    """Show why RULE is a rule, on what ground, with its worked cases, its cure and its limits."""
    from .report import pages

    book = _rulebook()
    declared = {rule.id: rule for rule in _declared(book)}
    rule = declared.get(rule_id)
    if rule is None:
        raise Refusal(
            f"there is no rule {rule_id!r}{_nearest(rule_id, declared)} (`doorlint rules` lists them all)"
        )
    module = next((module for module in book.modules if module.RULE.id == rule_id), None)
    _put(pages.page(rule, pages.cases_of(module, rule_id)))
    return _BROKEN if book.troubles else 0


@doorlint.command(short_help="Show the calculation for OPENING of the spec at PATH.")
@click.argument("opening")
@click.argument("path")
def working(opening: str, path: str) -> int:
    """Show the calculation for OPENING of the spec at PATH: each quantity, formula, figures and ground."""
    result = _reviewed_with(opening, path)
    from .report.working import render

    _put(_ended(render(result, opening)))
    return _completeness(result)


@doorlint.command(short_help="Write the sequence of operation of OPENING of the spec at PATH.")
@click.argument("opening")
@click.argument("path")
def sequence(opening: str, path: str) -> int:
    """Write the sequence of operation of OPENING of the spec at PATH: what it does in each event by its wiring, in
    prose and as a table, and the shortest chain of events behind each finding that people are kept in or let in."""
    result = _reviewed_with(opening, path)
    from .report.sequence import render

    _put(_ended(render(result, opening)))
    return _completeness(result)


@doorlint.command()
@click.argument("path")
def budget(path: str) -> int:
    """Show the power and battery schedules of the spec at PATH."""
    result = _reviewed(path)
    if result.spec is None:
        raise Refusal(f"{result.root}: the spec could not be read; `doorlint review` says why")
    from .report.budget import render

    _put(_ended(render(result)))
    return _completeness(result)


@doorlint.command(short_help="Write the handover documents of the spec at PATH into a folder.")
@click.argument("path")
@click.option("--into", "folder", metavar="FOLDER", required=True,
              help="The folder to write into; made where it does not exist.")
@click.option("--only", "names", metavar="NAME", multiple=True,
              help="Write this document only; may be repeated. Names: hardware, sequence, power, battery, cables, "
                   "fire-alarm, commissioning, suppression, ports, questions.")
@click.option("--format", "form", type=click.Choice(["markdown", "csv", "xlsx"]), default="markdown",
              show_default=True, help="How they are written. CSV gives a file for each table.")
@click.option("--date", metavar="DATE", default="",
              help="The date in the documents, as 2027-06-30, or `today`. Without it they say that none was given, "
                   "and the same spec gives the same files on any day.")
def documents(path: str, folder: str, names: tuple[str, ...], form: str, date: str) -> int:
    """Write handover documents of the spec at PATH: schedules, interface and port lists, commissioning sheet,
    questions.

    Every figure is that of the review; what the spec does not tell says `open` and what it waits for. Exit status: 0
    all written, 2 something could not be written (then nothing is), or the review is incomplete.
    """
    from .documents import DOCUMENTS, build, files
    from .files import write_files

    wrong = next((name for name in names if name not in DOCUMENTS), None)
    if wrong is not None:
        raise Refusal(f"there is no document {wrong!r}{_nearest(wrong, DOCUMENTS) or '; see doorlint documents -h'}")
    dated = _date(date)
    result = _reviewed(path)
    # half a schedule reads like a whole one: a broken rule leaves the figures as they are, a broken file does not
    if result.context is None or result.files is None or result.files.unreadable:
        raise Refusal(f"{result.root}: the spec could not be read whole; `doorlint review` says why")
    with _only_report():
        made = files([build(name, result, dated) for name in dict.fromkeys(names or DOCUMENTS)], form)
    for name in made:
        _spare_inputs(str(Path(folder) / name), [path, *result.documents])
    write_files(folder, made)
    return _completeness(result)


def _date(text: str) -> str:
    import datetime

    if text == "today":
        from .today import today

        return today().isoformat()
    try:
        return datetime.date.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise Refusal(f"--date {text!r}: write it as 2027-06-30, or `today`") from None


@contextlib.contextmanager
def _progress() -> Iterator[dict[str, Any]]:
    """What to pass to a long review so that a terminal on standard error shows how far it is: nothing elsewhere."""
    from .report.terminal import bar

    with bar(sys.stderr) as told:
        yield {} if told is None else {"progress": told}


def _for_terminal(text: str) -> str:
    """The report in colour where standard output is a terminal that takes it; elsewhere as it is."""
    from .report import terminal

    if not terminal.wants_colour(sys.stdout):
        return text
    if not terminal.available():
        _say(f"note: {terminal.ADVICE}")
        return text
    return terminal.coloured(text.splitlines(), sys.stdout)


def _html(results: Sequence[Result]) -> str:
    try:
        from .report import html
    except ModuleNotFoundError as error:
        if error.name not in ("jinja2", "markupsafe"):
            raise
        raise Refusal("the HTML report needs Jinja2, which is not installed: pip install 'doorlint[html]'") from None
    return html.render(results)


def _earlier(path: str | None, form: str) -> tuple[Revision, ...] | None:
    if path is None:
        return None
    if form not in ("sarif", "json"):
        raise Refusal(f"--earlier goes with --format sarif or json, not {form}; `doorlint compare` writes text")
    from .report.earlier import read

    return read(Path(path))


def _revision(path: str, output: str | None) -> tuple[Revision, Spec | None]:
    """What a side of a comparison says: a SARIF file read back, or a spec reviewed now."""
    from .report.earlier import is_sarif, read, revision

    if is_sarif(Path(path)) and not Path(path).is_dir():
        found = read(Path(path))
        if len(found) > 1:
            specs = ", ".join(one.spec for one in found[:6])
            raise Refusal(f"{path}: holds {len(found)} reviews ({specs}); give a SARIF file of one spec")
        return found[0], None
    result = _reviewed(path)
    _spare_inputs(output, result.documents)
    return revision(result), result.spec


def _reviewed(path: str) -> Result:
    from .reviewing import review

    with _only_report():
        result = review(path)
    _note_parser()
    return result


def _reviewed_with(opening: str, path: str) -> Result:
    """The review of the spec at `path`, which has this opening."""
    result = _reviewed(path)
    if result.spec is None:
        raise Refusal(f"{result.root}: the spec could not be read; `doorlint review` says why")
    if opening not in result.spec.openings:
        known = list(result.spec.openings)
        listed = ", ".join(known[:12]) + (" ..." if len(known) > 12 else "")
        hint = _nearest(opening, known) or f"; it has {listed or 'none'}"
        raise Refusal(f"{result.root} has no opening {opening!r}{hint}")
    return result


def _completeness(result: Result) -> int:
    if result.broken:
        _say("the spec could not be read whole, or a rule broke; `doorlint review` says where")
        return _BROKEN
    return 0


def _ended(text: str) -> str:
    return text if text.endswith("\n") else f"{text}\n"


def _only_report() -> contextlib.redirect_stdout[Any]:
    """A rule of somebody's package that prints must not spoil the report."""
    return contextlib.redirect_stdout(sys.stderr)


def _note_parser() -> None:
    from .document import HAVE_LIBYAML

    if not HAVE_LIBYAML:
        _say("note: PyYAML was built without libyaml; reading is several times slower, the result the same")


def _spare_inputs(output: str | None, inputs: Iterable[str]) -> None:
    """Refuse an output that would overwrite a file of the spec."""
    if output is None:
        return
    for name in inputs:
        with contextlib.suppress(OSError, ValueError):
            if Path(name).samefile(output):
                raise Refusal(f"{output}: not written: it is a file of the spec; name another for the report")


def _rulebook() -> Rulebook:
    from .rulebook import collect

    with _only_report():
        book = collect()
    for trouble in book.troubles:
        _say(trouble.message)
    return book


def _declared(book: Rulebook) -> list[Rule]:
    from .format_rules import FORMAT_RULES
    from .model_rules import MODEL_RULES

    return sorted([*book.rules, *FORMAT_RULES.values(), *MODEL_RULES.values()], key=lambda rule: rule.id)


def _nearest(word: str, known: Iterable[str]) -> str:
    import difflib

    names = list(known)
    found = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    # somebody may have written the name without its topic
    found = found or [name for name in names if word and name.partition("/")[2] == word]
    return f"; did you mean {found[0]!r}?" if found else ""
