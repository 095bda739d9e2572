"""The answer for a crew: times of day, each with its band, and what they rest on."""

from __future__ import annotations

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from libcure.job.plan import Job
from libcure.job.said import clock_words
from libcure.render.page_look import COLOURS, words_for
from libcure.render.panel import Titled
from libcure.result import Prediction

__all__ = ["JobPage", "headline", "moments"]

WIDEST = 100


def headline(job: Job, prediction: Prediction) -> str:
    """The decision in a sentence, with the time of day where it is known; the words of the answer where there is no time."""
    return prediction.by_the_clock(job.mixed_at, job.planned_min)[0]


def moments(job: Job, prediction: Prediction) -> list[tuple[str, str, str]]:
    """Name, moment and band of each thing that a crew waits for or must be before; moments by the clock where it is known."""
    return prediction.by_the_clock(job.mixed_at, job.planned_min)[1]


class JobPage:
    """The page that rich can print."""

    def __init__(self, job: Job, prediction: Prediction) -> None:
        self.job, self.prediction = job, prediction

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width = min(options.max_width, WIDEST)
        yield from console.render(self._page(options.ascii_only), options.update(width=width))

    def _page(self, ascii_only: bool) -> Group:
        job, prediction = self.job, self.prediction
        colour = COLOURS[prediction.answer.status]

        def text(words: str, style: str = "") -> Text:
            return Text(words_for(words, ascii_only), style)

        mixed = "" if job.mixed_at is None else f", mixed at {clock_words(job.mixed_at, up=False)}"
        head = Titled(text(headline(job, prediction), f"bold {colour}"), text(job.case.title + mixed, "bold"), colour)
        clock = "By the clock" if job.mixed_at is not None else "From mixing"
        times = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        for name in (" ", clock, prediction.page.headings.likely):
            times.add_column(text(name))
        for name, moment, band in moments(job, prediction):
            style = f"bold {colour}" if name.isupper() else ""
            times.add_row(text(f" {name}", style), text(moment, style), text(band))
        notes = Table.grid(padding=(0, 1))
        notes.add_column(justify="right", width=3)
        notes.add_column()
        reasons = [(r.text, f"bold {COLOURS[r.status]}") for r in prediction.answer.reasons]
        # What comes after the release is no part of these stages.
        others = [(c.text, "") for c in prediction.page.cautions if c.code != "service_not_reached"]
        for number, (words, style) in enumerate([*reasons, *others], 1):
            notes.add_row(text(f"{number}.", style), text(words, style))
        notes.add_row("", text(prediction.page.at_any_job))
        parts: list[RenderableType] = [head, times, Text(), text(" Cautions", "bold"), notes]
        if job.taken:
            unknown = "; ".join(job.taken)
            parts += [Text(), Padding(text(f"Not known, so taken with a wider range (assumptions): {unknown}."), (0, 1))]
        return Group(*parts)
