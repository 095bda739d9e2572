"""The ``libcure`` command. Bad input is one line on stderr and exit code 2."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextlib import ExitStack
from functools import wraps
from pathlib import Path
from typing import Annotated, ParamSpec, TypeVar

import typer
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

import libcure
from libcure import changes, documents, models, rendering
from libcure.errors import INTERRUPTED, CureError, input_error, one_line
from libcure.result import ZERO_CELSIUS
from libcure.verdict_view import PLAIN

P = ParamSpec("P")
R = TypeVar("R")

RESIN_FORMATS = ("libcure/resin/1", "libcure/resin-blend/1")

app = typer.Typer(
    help="When an ambient-cured pipe liner is workable, gelled, and safe to release.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _one_line_errors(command: Callable[P, R]) -> Callable[P, R]:
    @wraps(command)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except CureError as error:
            print(f"libcure: {one_line(str(error))}", file=sys.stderr)
            raise typer.Exit(2) from None
        except KeyboardInterrupt:
            print("libcure: interrupted", file=sys.stderr)
            raise typer.Exit(INTERRUPTED) from None

    return guarded


def _console() -> Console:
    """Standard output; letters that it cannot show are replaced, never an error."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")
    return Console(highlight=False)


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"libcure {libcure.__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and leave.")
    ] = False,
) -> None:
    """When an ambient-cured pipe liner is workable, gelled, and safe to release."""


CaseArgument = Annotated[Path, typer.Argument(metavar="CASE.json", help="A case file, or - for standard input.")]


SetOption = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="Change the case, e.g. ground.temperature_C=6; may be repeated."),
]


def _load(path: Path, changed: list[str] | None) -> libcure.Case:
    if str(path) == "-":
        text = documents.decode(sys.stdin.buffer.read(), "standard input")
        case = libcure.Case(text, beside=Path.cwd(), name="standard input")
    else:
        case = libcure.load_case(path)
    return changes.changed(case, changed or [])


@app.command()
@_one_line_errors
def predict(
    case: CaseArgument,
    set_: SetOption = None,
    json: Annotated[
        Path | None, typer.Option(metavar="FILE.json", help="Also write the verdict as JSON; - prints only that.")
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE.png|svg|pdf", help="Also draw temperature and degree of cure.")
    ] = None,
    uncertain: Annotated[
        str | None,
        typer.Option(metavar="CHART.json|none", help="Whose ranges to take; the usual ones by default."),
    ] = None,
) -> None:
    """Predict working, gel and release times of a case with their ranges, and show the verdict."""
    only_json = json is not None and str(json) == "-"
    json_target = None if json is None or only_json else documents.output_path(json, "--json", (".json",))
    plot_target = None if plot is None else documents.output_path(plot, "--plot", rendering.PICTURES)
    if json_target is not None and json_target in (plot_target, case.resolve()):
        raise input_error("--json", f'"{json}"', "a file of its own")
    result = libcure.predict(_load(case, set_), uncertain=uncertain)
    document = {**result.verdict, **result.case.said_changes()}
    # Both files appear only when both are complete.
    with ExitStack() as files:
        if json_target is not None:
            temporary = files.enter_context(documents.replacing(json_target))
            temporary.write_text(documents.to_json(document), encoding="utf-8")
        if plot_target is not None:
            temporary = files.enter_context(documents.replacing(plot_target))
            rendering.write_picture(rendering.figure(result), temporary, plot_target.suffix)
    if only_json:
        sys.stdout.write(documents.to_json(document))
    else:
        _console().print(result)


@app.command()
@_one_line_errors
def job(
    like: Annotated[str | None, typer.Option(metavar="PLACE", help="Place whose usual values stand in: winter-road, spring-garden, summer-road, house, anywhere.")] = None,
    pipe: Annotated[str | None, typer.Option(metavar="WHAT", help="What the pipe is made of, e.g. pvc, clay, cast iron.")] = None,
    bore: Annotated[str | None, typer.Option(metavar="LENGTH", help="Its inner diameter, e.g. 150 mm or 6 in.")] = None,
    depth: Annotated[str | None, typer.Option(metavar="LENGTH", help="Its depth, e.g. 1.2 m or 4 ft.")] = None,
    wall: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Measured at the defect, e.g. 6 C or 43 F.")] = None,
    water: Annotated[str | None, typer.Option(metavar="WHAT", help="Groundwater seen: dry, damp, seeping, running.")] = None,
    hot_water: Annotated[str | None, typer.Option(metavar="T MIN", help="Hot water lately: its temperature and how many minutes ago it ended, or none.")] = None,
    thickness: Annotated[str | None, typer.Option(metavar="LENGTH", help="Of the liner.")] = None,
    length: Annotated[str | None, typer.Option(metavar="LENGTH", help="Of the liner.")] = None,
    resin: Annotated[str | None, typer.Option(metavar="ID", help="Resin and hardener: an id, a part of it, or a file.")] = None,
    resin_temperature: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="When mixed.")] = None,
    packer: Annotated[str | None, typer.Option(metavar="TEMPERATURE|WHERE", help="Of the packer, or where it lay: shade, sun, van, heated.")] = None,
    air: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Where the liner is wetted out.")] = None,
    fill: Annotated[str | None, typer.Option(metavar="air|water T", help="What fills the bladder, e.g. water 35 C.")] = None,
    in_place: Annotated[str | None, typer.Option(metavar="MIN", help="From mixing until the packer is inflated in place, as planned.")] = None,
    mixed_at: Annotated[str | None, typer.Option(metavar="H:MM", help="Time of day of mixing; answers then are times of day.")] = None,
    file: Annotated[Path | None, typer.Option(metavar="JOB.json", help="Answers from a file; options have precedence.")] = None,
    ask: Annotated[bool | None, typer.Option("--ask/--no-ask", help="Ask for what is missing; else it is not known.")] = None,
    units: Annotated[str | None, typer.Option(metavar="metric|us", help="Of numbers without a unit; metric by default.")] = None,
    save: Annotated[Path | None, typer.Option(metavar="CASE.json", help="Also write the case, and its ranges beside it.")] = None,
    json: Annotated[Path | None, typer.Option(metavar="FILE.json", help="Also write the answer as JSON.")] = None,
) -> None:
    """Ask what a crew knows of a job, and answer by its clock."""
    from libcure.job import command

    facts = {
        "like": like, "pipe": pipe, "bore": bore, "depth": depth, "wall": wall, "water": water, "hot_water": hot_water, "thickness": thickness,
        "length": length, "resin": resin, "resin_temperature": resin_temperature, "packer": packer, "air": air, "fill": fill,
        "in_place": in_place, "mixed_at": mixed_at,
    }  # fmt: skip
    command.run(facts, _console(), file=file, ask=ask, units=units, save=save, json=json)


@app.command()
@_one_line_errors
def follow(
    case: CaseArgument,
    log: Annotated[Path, typer.Argument(metavar="LOG.csv", help="Readings; a heading such as time_min,temperature_C.")],
    set_: SetOption = None,
    at: Annotated[
        str, typer.Option(metavar="PLACE", help="Where the probe lies: liner inner face, liner middle, liner outer face.")
    ] = "liner outer face",
    now: Annotated[
        float | None, typer.Option(metavar="MIN", help="Minutes since mixing by a clock that is right; the last row's by default.")
    ] = None,
    uncertain: Annotated[
        Path | None, typer.Option(metavar="CHART.json", help="Take what is uncertain from this chart document.")
    ] = None,
    json: Annotated[
        Path | None, typer.Option(metavar="FILE.json", help="Also write the result as JSON; - prints only that.")
    ] = None,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.png|svg|pdf", help="Also draw readings and release.")] = None,
) -> None:
    """Update the release of a job that runs with the readings of a thermocouple in its wall."""
    from libcure.following import command

    command.run(_load(case, set_), case, log, at, now, uncertain, json, plot, _console())


@app.command()
@_one_line_errors
def advise(
    case: CaseArgument,
    set_: SetOption = None,
    working: Annotated[
        str | None, typer.Option(metavar="MIN|H:MM", help="Latest moment from mixing at which the crew may hold the liner.")
    ] = None,
    reserve: Annotated[
        float | None, typer.Option(metavar="MIN", help="Or: working time in hand after the planned moment; 10 by default.")
    ] = None,
    release_by: Annotated[
        str | None,
        typer.Option(metavar="MIN|H:MM", help="Deadline from mixing for the release; the end of the planned hold by default."),
    ] = None,
    resins: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Resin models to compare; those alike by default.")
    ] = None,
    coldest_resin: Annotated[float | None, typer.Option(metavar="C", help="Coldest mix to look at [°C]; 2 by default.")] = None,
    hottest_fill: Annotated[float | None, typer.Option(metavar="C", help="Hottest fill to look at [°C]; 60 by default.")] = None,
    longest_hold: Annotated[
        str | None, typer.Option(metavar="MIN|H:MM", help="Longest hold to look at; 72:00 by default.")
    ] = None,
    uncertain: Annotated[
        str | None,
        typer.Option(metavar="CHART.json|none", help="Whose ranges to take; the usual ones by default."),
    ] = None,
    samples: Annotated[int | None, typer.Option(metavar="N", help="Samples a case, a power of two; 128 by default, 16 with a section.")] = None,
    json: Annotated[
        Path | None, typer.Option(metavar="FILE.json", help="Also write the advice as JSON; - prints only that.")
    ] = None,
) -> None:
    """Say what to change: how cold the resin, which hardener, how warm the fill, how long the hold."""
    from libcure.advising import command

    command.run(
        _load(case, set_), _console(), file=case, json=json, working=working, reserve=reserve, release_by=release_by,
        resins=resins, coldest_resin=coldest_resin, hottest_fill=hottest_fill, longest_hold=longest_hold,
        uncertain=uncertain, samples=samples,
    )  # fmt: skip


@app.command()
@_one_line_errors
def record(
    site: Annotated[
        Path, typer.Argument(metavar="SITE.json", help="What was written down at the job; with --verify, a record.json to check.")
    ],
    case: Annotated[Path | None, typer.Option(metavar="CASE.json", help="The case as it was planned.")] = None,
    uncertain: Annotated[
        Path | None, typer.Option(metavar="CHART.json", help="Take what is uncertain from this document, such as job.ranges.json.")
    ] = None,
    log: Annotated[Path | None, typer.Option(metavar="LOG.csv", help="Readings of a thermocouple in the wall.")] = None,
    at: Annotated[str, typer.Option(metavar="PLACE", help="Where it lay, as for follow.")] = "liner outer face",
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for record.pdf and record.json.")] = None,
    verify: Annotated[bool, typer.Option("--verify", help="Compute a record again from the inputs in it, and compare.")] = False,
) -> None:
    """Make the record of a job to sign: plan, answer, readings, times, hashes. Or check one."""
    from libcure.recording import command

    if verify:
        good = command.check(site, _console())
        if not good:
            raise typer.Exit(1)
        return
    command.run(site, _console(), case=case, uncertain=uncertain, log=log, at=at, out=out)


@app.command()
@_one_line_errors
def chart(
    document: Annotated[Path, typer.Argument(metavar="CHART.json", help="A chart document.")],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for chart.pdf, .svg, .html, .csv and .json.")],
    samples: Annotated[
        int | None, typer.Option(metavar="N", help="Samples a cell, a power of two, instead of the document's.")
    ] = None,
    threads: Annotated[int | None, typer.Option(metavar="N", min=1, help="Threads; all cores by default.")] = None,
) -> None:
    """Compute a cure chart to print and to read on a screen. A stopped run goes on where it was."""
    from libcure.charting import command

    command.run(document, out, samples, threads, _console())


@app.command()
@_one_line_errors
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE.json", help="A case, chart, resin, material, ground or verdict.")],
    set_: SetOption = None,
    save: Annotated[
        Path | None, typer.Option(metavar="FILE.json", help="Also write the case, with what --set has changed, to a new file.")
    ] = None,
) -> None:
    """Check a document; says what is wrong first."""
    save_target = None if save is None else documents.output_path(save, "--save", (".json",))
    if save_target is not None and save_target == file.resolve():
        raise input_error("--save", f'"{save}"', "a file of its own")
    kind = documents.format_of(file)
    facts: list[tuple[str, str]] = []
    is_case = kind not in documents.formats() or kind == "libcure/case/1"
    for option, given in (("--set", set_), ("--save", save)):
        if given and not is_case:
            raise input_error(option, "given", "with a case only", str(file))
    if is_case:
        case = _load(file, set_)
        count = len(case.defaults)
        document = case.document
        facts = case.core.facts
        described = f"{case.title or 'case'} ({case.resin.id}, {count} value{'s' * (count != 1)} by default)"
        if "section" in document:
            described += f"; section {case.core.section_words}"
    elif kind == "libcure/chart/1":
        from libcure.charting.paper import paper_of

        chart_document = libcure.read_chart(file)
        paper_of(chart_document)
        described = f"{chart_document.title} ({len(chart_document.cases)} cells)"
        document = documents.read_object(file)
    else:
        described = f"resin {models.read_resin(file).id}" if kind in RESIN_FORMATS else str(kind)
        document = documents.read_object(file)
    documents.validate(document, str(file))
    if save_target is not None:
        changes.save(case, save_target)
    console = _console()
    console.print(Text(f"{file}: valid: {one_line(described)}"), soft_wrap=True)
    for heading, words in facts:
        line = one_line(f"{heading}: {words}")
        console.print(Padding(Text(line.translate(PLAIN) if console.options.ascii_only else line, "dim"), (0, 0, 0, 2)))


@app.command("models")
@_one_line_errors
def list_models(
    model: Annotated[
        str | None, typer.Argument(metavar="[ID]", help="Show one resin model: constants, basis, sources.")
    ] = None,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="FILE", help="Draw its rate, cure, Tg and viscosity (.png, .svg, .pdf)."),
    ] = None,
    temperatures: Annotated[
        str, typer.Option(metavar="T,T,...", help="Temperatures to draw [°C]; spread over its validity by default.")
    ] = "",
) -> None:
    """List the models that come with libcure, or show one resin."""
    console = _console()
    if model is not None:
        from libcure import model_view

        if plot is not None:
            model_view.plot(model, plot, temperatures)
        console.print(model_view.describe(model))
        return
    if plot is not None or temperatures:
        raise input_error("ID", "missing", "the id of a resin model, to draw it")
    degree = "C" if console.options.ascii_only else "°C"
    for name in models.ids("resins"):
        resin = models.load_resin(name)
        low, high = resin.temperature_min - ZERO_CELSIUS, resin.temperature_max - ZERO_CELSIUS
        basis = "ESTIMATED constants" if resin.estimated else "published constants"
        console.print(Text.assemble((name, "bold"), f"  {basis}, valid {low:.0f} to {high:.0f} {degree}"))
        console.print(Padding(Text(one_line(resin.title), "dim"), (0, 0, 0, 2)))
        console.print(Padding(Text(f"rate constants: {models.rate_sources(name)}", "dim"), (0, 0, 0, 2)))
    console.print()
    for heading, folder, kind in (
        ("Pipe materials", "materials", "pipe"),
        ("Bladder materials", "materials", "bladder"),
        ("Fibres", "materials", "fibre"),
        ("Grounds", "grounds", "ground"),
    ):
        names = ", ".join(m.id for m in models.materials(folder) if kind in m.kinds)
        console.print(Text.assemble((f"{heading}: ", "dim"), names))


@app.command()
@_one_line_errors
def validate(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of sources; the source tree's by default.")
    ] = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for validation.html and validation.pdf.")] = Path("."),
) -> None:
    """Compare libcure with published results, and write the report."""
    from libcure import validation

    with Console(stderr=True).status("") as status:

        def show(source: str, done: int, count: int) -> None:
            status.update(f"{done + 1} of {count}: {source}")

        good, said = validation.write_report(folder, out, show)
    _console().print(Text(said), soft_wrap=True)
    if not good:
        raise typer.Exit(1)


@app.command()
@_one_line_errors
def fit(
    file: Annotated[Path, typer.Argument(metavar="FIT.json", help="Runs, gel times, laws, and the model to write.")],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for model file and report; made if missing.")],
) -> None:
    """Fit cure laws to calorimeter runs and gel times; write a model file and a report."""
    from libcure import fitting
    from libcure.fitting.command import run_with_progress, summary

    console = _console()
    if os.path.exists(out) and not os.path.isdir(out):
        raise input_error("--out", f'"{out}"', "a folder")
    study = fitting.load(file)
    run_with_progress(study, console)
    written = fitting.write(study, documents.output_folder(out))
    console.print(summary(study, written))


@app.command()
@_one_line_errors
def study(
    file: Annotated[Path | None, typer.Argument(metavar="[STUDY.json]", help="Measurements of any kind of one resin.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Folder for model file, report and result.")] = None,
    protocol: Annotated[
        str | None, typer.Option(metavar="FAMILY", help="Print what to measure: epoxy-amine, unsaturated-polyester, vinyl-ester, polyurethane.")
    ] = None,
    jobs: Annotated[str, typer.Option(metavar="T,T,...", help="Temperatures of the jobs, for the protocol [°C].")] = "5,10,20",
) -> None:
    """Make a resin model of one's own from data sheet, cups, films and a thermometer; say what is not known."""
    from libcure.studying import command

    if protocol is not None:
        command.print_protocol(protocol, jobs, _console())
        return
    if file is None or out is None:
        raise input_error("STUDY.json" if file is None else "--out", "missing", "a study document" if file is None else "a folder")
    command.run_study(file, out, _console())
