"""The ``libcure`` command. Bad input is one line on stderr and exit code 2."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import libcure
from libcure.cli import guard
from libcure.cli.guard import console, one_line_errors
from libcure.cli.loading import load
from libcure.errors import EXIT_CODES, input_error
from libcure.interrupt import INTERRUPTED

app = typer.Typer(
    help="When an ambient-cured pipe liner is workable, gelled, and safe to release.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"libcure {libcure.__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Show the version and leave.")
    ] = False,
    quiet: Annotated[
        bool, typer.Option("--quiet", help="Print no page: only what --json - asks for, files and the exit code tell.")
    ] = False,
) -> None:
    """When an ambient-cured pipe liner is workable, gelled, and safe to release."""
    guard.quiet = quiet


CaseArgument = Annotated[Path, typer.Argument(metavar="CASE.json", help="A case file, or - for standard input.")]


SetOption = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="Change the case, e.g. ground.temperature_C=6; may be repeated."),
]


ModelsOnlyOption = Annotated[
    Path | None,
    typer.Option(metavar="FOLDER", help="Documents may name models by id or in this folder, no others."),
]


OwnModelsOption = Annotated[
    list[Path] | None,
    typer.Option("--models", metavar="FOLDER", help="Ids are looked up in this folder too; may be repeated."),
]


ChannelOption = Annotated[
    str, typer.Option(metavar="NAME|NUMBER", help="Column of temperatures of the log, where there are several.")
]
MixedAtOption = Annotated[
    str, typer.Option(metavar="H:MM", help="Time of day of mixing by the logger's clock, for a log with times of day.")
]


@app.command(epilog="Example: libcure predict job.json --set ground.temperature_C=6 --plot job.png")
@one_line_errors
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
    within: Annotated[
        float | None,
        typer.Option(metavar="MIN", help="Refine mesh and steps until the release's numerical error is within this."),
    ] = None,
    exit_code: Annotated[
        bool,
        typer.Option(
            "--exit-code",
            help=f"End with the answer: 0 ok, {EXIT_CODES['wait']} wait (it works with what is said beside it), {EXIT_CODES['stop']} stop. "
            f"Always: 2 bad input, {INTERRUPTED} Ctrl-C.",
        ),
    ] = False,
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Predict working, gel and release times of a case with their ranges, and show the verdict."""
    from libcure.cli.predict import run

    if within is not None:
        set_ = [*(set_ or ()), f'accuracy={{"release_min": {within:g}}}']
    status = run(case, set_, json=json, plot=plot, uncertain=uncertain)
    if exit_code and status != "ok":
        raise typer.Exit(EXIT_CODES[status])


@app.command(epilog="Example: libcure job --like winter-road --resin fast --wall 4 --mixed-at 9:12")
@one_line_errors
def job(
    like: Annotated[
        str | None,
        typer.Option(metavar="PLACE", help="Place whose usual values stand in: winter-road, spring-garden, summer-road, house, anywhere."),
    ] = None,
    pipe: Annotated[str | None, typer.Option(metavar="WHAT", help="What the pipe is made of, e.g. pvc, clay, cast iron.")] = None,
    bore: Annotated[str | None, typer.Option(metavar="LENGTH", help="Its inner diameter, e.g. 150 mm or 6 in.")] = None,
    depth: Annotated[str | None, typer.Option(metavar="LENGTH", help="Its depth, e.g. 1.2 m or 4 ft.")] = None,
    wall: Annotated[str | None, typer.Option(metavar="TEMPERATURE", help="Measured at the defect, e.g. 6 C or 43 F.")] = None,
    water: Annotated[str | None, typer.Option(metavar="WHAT", help="Groundwater seen: dry, damp, seeping, running.")] = None,
    hot_water: Annotated[
        str | None, typer.Option(metavar="T MIN", help="Hot water lately: its temperature and how many minutes ago it ended, or none.")
    ] = None,
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
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Ask what a crew knows of a job, and answer by its clock."""
    from libcure.cli import job as command

    facts = {
        "like": like, "pipe": pipe, "bore": bore, "depth": depth, "wall": wall, "water": water, "hot_water": hot_water, "thickness": thickness,
        "length": length, "resin": resin, "resin_temperature": resin_temperature, "packer": packer, "air": air, "fill": fill,
        "in_place": in_place, "mixed_at": mixed_at,
    }  # fmt: skip
    command.run(facts, console(), file=file, ask=ask, units=units, save=save, json=json)


@app.command(epilog="Example: libcure page --out page.html")
@one_line_errors
def page(
    out: Annotated[Path | None, typer.Option(metavar="FILE.html", help="Write the page: one file that opens without network.")] = None,
    serve: Annotated[bool, typer.Option("--serve", help="Serve it on localhost until stopped; it then can be installed.")] = False,
    port: Annotated[int, typer.Option(metavar="N", min=0, max=65535, help="Port of localhost; 0 takes a free one.")] = 8000,
    resin: Annotated[list[Path] | None, typer.Option(metavar="RESIN.json", help="A resin model of one's own to carry; may be repeated.")] = None,
    chart: Annotated[list[Path] | None, typer.Option(metavar="CHART.json", help="A computed chart to carry, of libcure chart; may be repeated.")] = None,
) -> None:
    """Make the page for a phone: asks as job does, and computes in the browser."""
    from libcure.cli import page as command

    command.run(console(), out=out, serve=serve, port=port, resins=resin or [], charts=chart or [])


@app.command(epilog="Example: libcure follow job.json logger.csv --mixed-at 9:12")
@one_line_errors
def follow(
    case: CaseArgument,
    log: Annotated[Path, typer.Argument(metavar="LOG.csv", help="Readings; a heading such as time_min,temperature_C.")],
    set_: SetOption = None,
    channel: ChannelOption = "",
    mixed_at: MixedAtOption = "",
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
    watch: Annotated[
        bool,
        typer.Option(
            "--watch",
            help=f"Follow a log that grows until the bladder may come out (ends with 0), or the log stops ({EXIT_CODES['wait']}), or Ctrl-C.",
        ),
    ] = False,
    until_quiet: Annotated[
        float, typer.Option(metavar="MIN", help="With --watch: how long the log may stand still before the watch ends.")
    ] = 30.0,
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Update the release of a job that runs with the readings of a thermocouple in its wall."""
    from libcure.cli import follow as command

    job = command.Job(load(case, set_), case, log, channel, mixed_at, at, now, uncertain, json, plot)
    if not watch:
        command.run(job, console())
    elif not command.run_watch(job, console(), until_quiet):
        raise typer.Exit(EXIT_CODES["wait"])


@app.command(epilog="Example: libcure advise job.json --json advice.json")
@one_line_errors
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
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Say what to change: how cold the resin, which hardener, how warm the fill, how long the hold."""
    from libcure.cli import advise as command

    command.run(
        load(case, set_), console(), file=case, json=json, working=working, reserve=reserve, release_by=release_by,
        resins=resins, coldest_resin=coldest_resin, hottest_fill=hottest_fill, longest_hold=longest_hold,
        uncertain=uncertain, samples=samples,
    )  # fmt: skip


@app.command(epilog="Example: libcure record site.json --case job.json --log logger.csv --out record")
@one_line_errors
def record(
    site: Annotated[
        Path, typer.Argument(metavar="SITE.json", help="What was written down at the job; with --verify, a record.json to check.")
    ],
    case: Annotated[Path | None, typer.Option(metavar="CASE.json", help="The case as it was planned.")] = None,
    uncertain: Annotated[
        Path | None, typer.Option(metavar="CHART.json", help="Take what is uncertain from this document, such as job.ranges.json.")
    ] = None,
    log: Annotated[Path | None, typer.Option(metavar="LOG.csv", help="Readings of a thermocouple in the wall.")] = None,
    channel: ChannelOption = "",
    mixed_at: MixedAtOption = "",
    at: Annotated[str, typer.Option(metavar="PLACE", help="Where it lay, as for follow.")] = "liner outer face",
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for record.pdf and record.json.")] = None,
    verify: Annotated[bool, typer.Option("--verify", help="Compute a record again from the inputs in it, and compare.")] = False,
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Make the record of a job to sign: plan, answer, readings, times, hashes. Or check one."""
    from libcure.cli import record as command

    if verify:
        good = command.check(site, console())
        if not good:
            raise typer.Exit(1)
        return
    command.run(site, console(), case=case, uncertain=uncertain, log=log, channel=channel, mixed_at=mixed_at, at=at, out=out)


@app.command(epilog="Example: libcure chart chart.json --out charts")
@one_line_errors
def chart(
    document: Annotated[Path, typer.Argument(metavar="CHART.json", help="A chart document; with --new, the one to write.")],
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for chart.pdf, .svg, .html, .csv and .json.")] = None,
    samples: Annotated[
        int | None, typer.Option(metavar="N", help="Samples a cell, a power of two, instead of the document's.")
    ] = None,
    threads: Annotated[int | None, typer.Option(metavar="N", min=1, help="Threads; all cores by default.")] = None,
    kit: Annotated[bool, typer.Option("--kit", help="Also write poster.pdf and labels.pdf, a label for each pail.")] = False,
    new: Annotated[bool, typer.Option("--new", help="Write a commented starting document from a few answers; asks on a terminal.")] = False,
    answer: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=VALUE", help="An answer for --new, such as \"liner=5 mm\" or \"walls=40 to 66 °F\"; repeat."),
    ] = None,
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Compute a cure chart to print and to read on a screen. A stopped run goes on where it was."""
    from libcure.cli import chart as command
    from libcure.cli import chart_new
    from libcure.errors import input_error

    if new:
        for option, value in (("--out", out), ("--samples", samples), ("--threads", threads), ("--kit", kit or None)):
            if value is not None:
                raise input_error(option, "given", "without --new")
        chart_new.run(document, answer, console())
        return
    if answer:
        raise input_error("--answer", "given", "with --new")
    if out is None:
        raise input_error("--out", "missing", "a folder for the chart")
    command.run(document, out, samples, threads, kit, console())


@app.command(epilog="Example: libcure check job.json")
@one_line_errors
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A case, chart, fit, study, site, resin, material, ground or result (.json), or an export of "
                                        "a calorimeter (.csv, .txt).")],
    set_: SetOption = None,
    save: Annotated[
        Path | None, typer.Option(metavar="FILE.json", help="Also write the case, with what --set has changed, to a new file.")
    ] = None,
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Check a document, or what is understood of a calorimeter's export; says what is wrong first."""
    from libcure.cli.check import run

    run(file, set_, save, console())


@app.command("models", epilog="Example: libcure models epoxy-amine-slow --plot slow.png")
@one_line_errors
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
    models: OwnModelsOption = None,
) -> None:
    """List the models that come with libcure, or show one resin."""
    from libcure.cli.models import run

    run(model, plot, temperatures, console())


@app.command(epilog="Example: libcure validate --out report")
@one_line_errors
def validate(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="Folder of sources; the source tree's by default.")
    ] = None,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for validation.html and validation.pdf.")] = Path("."),
) -> None:
    """Compare libcure with published results, and write the report."""
    from libcure.cli.validate import run

    if not run(folder, out, console()):
        raise typer.Exit(1)


@app.command(epilog="Example: libcure fit fit.json --out fitted")
@one_line_errors
def fit(
    file: Annotated[Path, typer.Argument(metavar="FIT.json", help="Runs, gel times, laws, and the model to write.")],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for model file and report; made if missing.")],
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Fit cure laws to calorimeter runs and gel times; write a model file and a report."""
    from libcure.cli.fit import run

    run(file, out, console())


@app.command(epilog="Example: libcure study --protocol epoxy-amine --jobs 5,10,20")
@one_line_errors
def study(
    file: Annotated[Path | None, typer.Argument(metavar="[STUDY.json]", help="Measurements of any kind of one resin.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Folder for model file, report and result.")] = None,
    protocol: Annotated[
        str | None, typer.Option(metavar="FAMILY", help="Print what to measure: epoxy-amine, unsaturated-polyester, vinyl-ester, polyurethane.")
    ] = None,
    jobs: Annotated[str, typer.Option(metavar="T,T,...", help="Temperatures of the jobs, for the protocol [°C].")] = "5,10,20",
    models_only: ModelsOnlyOption = None,
    models: OwnModelsOption = None,
) -> None:
    """Make a resin model of one's own from data sheet, cups, films and a thermometer; say what is not known."""
    from libcure.cli import study as command

    if protocol is not None:
        command.print_protocol(protocol, jobs, console())
        return
    if file is None or out is None:
        raise input_error("STUDY.json" if file is None else "--out", "missing", "a study document" if file is None else "a folder")
    command.run_study(file, out, console())
