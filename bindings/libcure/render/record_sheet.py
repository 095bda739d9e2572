"""The record on paper: A4 pages drawn in millimetres, with room to sign."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from libcure.job.said import clock_words
from libcure.recording.record import Record
from libcure.recording.site import EVENTS, TEXTS
from libcure.render import plot
from libcure.render.chart_paper import FONT, wrapped
from libcure.render.verdict_view import HTML_COLOURS
from libcure.result import ZERO_CELSIUS
from libcure.words.rounding import duration

__all__ = ["draw", "save"]

WIDTH, HEIGHT, MARGIN = 210.0, 297.0, 16.0
INK, DIM = "#1d1d1f", "#66666a"
POINTS, LINE = 9.0, 4.4
LABEL = 42.0  # mm, of headings beside texts


def save(record: Record, target: Path) -> None:
    """Writes the pages as a PDF; the same record gives the same bytes."""
    title = f"Record: {record.prediction.case.title}"
    metadata = {"Title": title, "CreationDate": None, "ModDate": None, "Creator": None, "Producer": None}
    with plot._style(), PdfPages(target, metadata=metadata) as pdf:
        for page in draw(record):
            pdf.savefig(page)


def draw(record: Record) -> list[Figure]:
    """The pages."""
    return _Pages(record).run()


class _Pages:
    def __init__(self, record: Record) -> None:
        self.record = record
        self.pages: list[Figure] = []
        self.y = 0.0

    def run(self) -> list[Figure]:
        r = self.record
        self._page()
        self._line("Record of a liner's cure", 15.0, bold=True, gap=3.0)
        self._line(f"{r.prediction.case.title}, {r.site.day.isoformat()}", 10.5, gap=2.0)
        self._answer()
        self._times()
        self._heading("What was written down")
        for key, title in TEXTS.items():
            if key in r.site.texts:
                self._pair(title, r.site.texts[key])
        for number, decision in enumerate(r.site.decisions, 1):
            self._pair(f"Decision {number}", decision)
        if r.followed is not None or r.site.pressure is not None:
            self._charts()
        self._cautions()
        self._inputs()
        self._signatures()
        for number, page in enumerate(self.pages, 1):
            self._text(page, WIDTH - MARGIN, HEIGHT - 9.0, f"{number} of {len(self.pages)}", 7.5, DIM, right=True)
            self._text(page, MARGIN, HEIGHT - 9.0, f"libcure {r.document['version']}, sha256 {r.document['sha256']}", 6.4, DIM)
        return self.pages

    def _page(self) -> None:
        self.pages.append(Figure(figsize=(WIDTH / 25.4, HEIGHT / 25.4)))
        self.y = MARGIN + 4.0

    def _room(self, height: float) -> None:
        """Turns the page where that much does not fit [mm]."""
        if self.y + height > HEIGHT - MARGIN - 2.0:
            self._page()

    def _text(self, page: Figure, x: float, y: float, words: str, points: float, color: str, *, bold: bool = False, right: bool = False) -> None:
        page.text(
            x / WIDTH, 1.0 - y / HEIGHT, words, family=FONT, size=points, color=color, weight="bold" if bold else "normal", va="baseline",
            ha="right" if right else "left", parse_math=False,
        )  # fmt: skip

    def _line(self, words: str, points: float = POINTS, color: str = INK, *, bold: bool = False, gap: float = 0.0, indent: float = 0.0) -> None:
        """A paragraph, wrapped, and a gap below [mm]."""
        step = LINE * points / POINTS
        # A larger line stands higher over its foot.
        self.y += max(points - POINTS, 0.0) * 0.35
        for line in wrapped(words, WIDTH - 2.0 * MARGIN - indent, points, bold=bold, bullet=""):
            self._room(step)
            self._text(self.pages[-1], MARGIN + indent, self.y, line, points, color, bold=bold)
            self.y += step
        self.y += gap

    def _heading(self, words: str) -> None:
        self._room(14.0)
        self.y += 3.0
        self._line(words, 10.5, bold=True, gap=0.8)

    def _pair(self, title: str, words: str) -> None:
        self._room(LINE)
        self._text(self.pages[-1], MARGIN, self.y, title, POINTS, DIM)
        self._line(words, indent=LABEL)

    def _answer(self) -> None:
        r = self.record
        answer = r.prediction.answer
        self._line(answer.headline, 11.5, HTML_COLOURS[answer.status], bold=True, gap=1.0)
        basis = "95 % side of many such jobs" if answer.basis == "range" else "one simulation, times the case's safety factor"
        self._line(f"As planned, before the job. Basis: {basis}.", gap=1.0)
        if r.followed is not None:
            out = "none" if r.release_min is None else duration(r.release_min, up=True)
            trusted = "are relied on" if r.followed.relied_on else "are NOT relied on"
            color = INK if r.followed.relied_on else HTML_COLOURS["stop"]
            self._line(f"With the readings: bladder out at {out} after mixing; the readings {trusted}.", 11.5, color, bold=True, gap=1.0)
            for reason in (*r.followed.reasons, *r.followed.faults):
                self._line(reason.text, gap=0.3)
        early = r.early_min()
        if early is not None:
            # A step of the clock is a minute.
            if early > 0.5:
                words, color = f"THE BLADDER WAS LET DOWN {duration(early, up=True)} BEFORE THE TIME TO USE.", HTML_COLOURS["stop"]
            else:
                words, color = f"The bladder was let down {duration(max(-early, 0.0), up=False)} after the time to use.", HTML_COLOURS["ok"]
            self._line(words, 11.5, color, bold=True)
        elif "released" in r.site.events:
            self._line("The bladder was let down, though there was no time to use.", 11.5, HTML_COLOURS["stop"], bold=True)

    def _times(self) -> None:
        self._heading("Times")
        columns = (0.0, 46.0, 88.0, 136.0)
        rows = [("", "planned", "to use", "as it was")]
        for row in self.record.document["times"]:
            latest = "at the latest " if row["event"] == "in_place" else ""
            rows.append(
                (EVENTS[row["event"]], self._moment(row["planned_min"]), self._moment(row["recommended_min"], latest, up=row["event"] == "released"),
                 self._moment(row["actual_min"], missing="not written down"))
            )  # fmt: skip
        for i, cells in enumerate(rows):
            self._room(LINE)
            for x, cell in zip(columns, cells, strict=True):
                self._text(self.pages[-1], MARGIN + x, self.y, cell, POINTS, DIM if i == 0 else INK, bold=i > 0 and x == 0.0)
            self.y += LINE

    def _moment(self, minutes: float | None, before: str = "", missing: str = "", *, up: bool = False) -> str:
        if minutes is None:
            return missing
        mixed = self.record.site.mixed_at
        if mixed is None:
            return before + duration(minutes, up=up).partition(" (")[0]
        return before + clock_words(mixed + minutes, math.ceil if up else math.floor)

    def _charts(self) -> None:
        """Readings over what they should be, and the pressure."""
        r = self.record
        if r.followed is not None:
            axes = self._axes("Temperature in the wall", "°C")
            band, log = r.followed.band_after, r.followed.readings
            used = log.used
            time, T = log.time / 60.0, log.temperature - ZERO_CELSIUS
            axes.fill_between(band.time / 60.0, band.p5 - ZERO_CELSIUS, band.p95 - ZERO_CELSIUS, color="#9db8d6", lw=0, label="likely, 5 to 95 %")
            axes.plot(time[used], T[used], ".", ms=3, color=INK, label="readings that count")
            low, high = axes.get_ylim()
            if (~used).any():
                # What cannot be the wall's may stand far outside: it is marked at the edge.
                shown = np.clip(T[~used], low, high)
                axes.plot(time[~used], shown, "x", ms=4, color=HTML_COLOURS["stop"], label="left out", clip_on=False)
            axes.set_ylim(low, high)
            axes.legend(fontsize=7, frameon=False)
        if r.site.pressure is not None:
            axes = self._axes("Pressure in the bladder", "bar above the air's")
            axes.plot(r.site.pressure.time_min, r.site.pressure.pressure_bar, color=INK, lw=1.0)
            axes.set_ylim(bottom=0.0)

    def _axes(self, heading: str, unit: str) -> Axes:
        """A chart under its heading, with the moment at which the bladder was let down."""
        height = 46.0
        self._room(height + 16.0)
        self._heading(heading)
        left, across = MARGIN + 12.0, WIDTH - 2.0 * MARGIN - 14.0
        box = (left / WIDTH, 1.0 - (self.y + height) / HEIGHT, across / WIDTH, height / HEIGHT)
        axes = self.pages[-1].add_axes(box)
        released = self.record.site.events.get("released")
        if released is not None:
            axes.axvline(released, color=DIM, lw=1.0, ls="--")
        axes.set_xlabel("minutes from mixing" + ("; dashed: bladder let down" if released is not None else ""), fontsize=8)
        axes.set_ylabel(unit, fontsize=8)
        axes.tick_params(labelsize=8)
        self.y += height + 13.0
        return axes

    def _cautions(self) -> None:
        self._heading("Cautions")
        reasons = {reason.code for reason in self.record.prediction.answer.reasons}
        for reason in self.record.prediction.answer.reasons:
            self._line(reason.text, color=HTML_COLOURS[reason.status], gap=0.4)
        for caution in self.record.prediction.verdict["cautions"]:
            if caution["code"] not in reasons:
                self._line(caution["text"], 8.0, gap=0.4)

    def _inputs(self) -> None:
        self._heading("What it rests on")
        r = self.record
        case = r.prediction.case.document
        T = case.get("initial_temperature_C", {})
        said = ", ".join(f"{name} {value:g} °C" for name, value in T.items() if isinstance(value, int | float))
        pipe, liner = case["pipe"], case["liner"]
        self._pair("Resin model", r.prediction.case.resin.title + (", ESTIMATED MODEL" if r.prediction.case.resin.estimated else ""))
        self._pair("Pipe, liner", f"{pipe['material']}, bore {pipe['inner_diameter_mm']:g} mm; liner {liner['thickness_mm']:g} mm thick, "
                   f"{liner['length_mm']:g} mm long")  # fmt: skip
        self._pair("Temperatures", said or "by default")
        if r.prediction.ranges is not None:
            self._pair("Not known exactly", r.prediction.ranges.uncertain)
        for name, digest in r.document["models"].items():
            self._pair(name.partition("/")[2], f"sha256 {digest[:32]}…")

    def _signatures(self) -> None:
        self._room(30.0)
        self.y += 16.0
        page = self.pages[-1]
        for i, who in enumerate(("Crew", "Engineer", "Client")):
            left = MARGIN + i * 62.0
            height = 1.0 - self.y / HEIGHT
            page.add_artist(Line2D([left / WIDTH, (left + 54.0) / WIDTH], [height, height], transform=page.transFigure, color=DIM, lw=0.6))
            self._text(page, left, self.y + 4.5, f"{who}: name, date, signature", 7.5, DIM)
        self.y += 8.0
