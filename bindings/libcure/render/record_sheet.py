"""The record on paper, with room to sign."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from libcure.job.said import clock_words
from libcure.recording.record import Record
from libcure.recording.site import EVENTS, TEXTS
from libcure.render import plot
from libcure.render.page_look import HTML_COLOURS
from libcure.render.pages import DIM, INK, LINE, UPRIGHT, Pages
from libcure.result import ZERO_CELSIUS
from libcure.words.rounding import duration

__all__ = ["draw", "save"]

MARGIN, POINTS = 16.0, 9.0
LABEL = 42.0  # mm, of headings beside texts


def save(record: Record, target: Path) -> None:
    """Writes the pages as a PDF; the same record gives the same bytes."""
    with plot.style():
        _Sheet(record).save(target, f"Record: {record.prediction.case.title}")


def draw(record: Record) -> list[Figure]:
    """The pages."""
    with plot.style():
        return _Sheet(record).pages


class _Sheet(Pages):
    def __init__(self, record: Record) -> None:
        super().__init__(UPRIGHT, MARGIN, POINTS)
        self.record = r = record
        self.line("Record of a liner's cure", 15.0, bold=True, gap=3.0)
        self.line(f"{r.prediction.case.title}, {r.site.day.isoformat()}", 10.5, gap=2.0)
        self._answer()
        self._times()
        self.heading("What was written down")
        for key, title in TEXTS.items():
            if key in r.site.texts:
                self.pair(title, r.site.texts[key], LABEL)
        for number, decision in enumerate(r.site.decisions, 1):
            self.pair(f"Decision {number}", decision, LABEL)
        if r.followed is not None or r.site.pressure is not None:
            self._charts()
        self._cautions()
        self._inputs()
        self._signatures()
        self.foot(f"libcure {r.document['version']}, sha256 {r.document['sha256']}")

    def _answer(self) -> None:
        r = self.record
        answer = r.prediction.answer
        self.line(answer.headline, 11.5, HTML_COLOURS[answer.status], bold=True, gap=1.0)
        basis = "95 % side of many such jobs" if answer.basis == "range" else "one simulation, times the case's safety factor"
        self.line(f"As planned, before the job. Basis: {basis}.", gap=1.0)
        if r.followed is not None:
            out = "none" if r.release_min is None else duration(r.release_min, up=True)
            trusted = "are relied on" if r.followed.relied_on else "are NOT relied on"
            color = INK if r.followed.relied_on else HTML_COLOURS["stop"]
            self.line(f"With the readings: bladder out at {out} after mixing; the readings {trusted}.", 11.5, color, bold=True, gap=1.0)
            for reason in (*r.followed.reasons, *r.followed.faults):
                self.line(reason.text, gap=0.3)
        early = r.early_min()
        if early is not None:
            # A step of the clock is a minute.
            if early > 0.5:
                words, color = f"THE BLADDER WAS LET DOWN {duration(early, up=True)} BEFORE THE TIME TO USE.", HTML_COLOURS["stop"]
            else:
                words, color = f"The bladder was let down {duration(max(-early, 0.0), up=False)} after the time to use.", HTML_COLOURS["ok"]
            self.line(words, 11.5, color, bold=True)
        elif "released" in r.site.events:
            self.line("The bladder was let down, though there was no time to use.", 11.5, HTML_COLOURS["stop"], bold=True)

    def _times(self) -> None:
        self.heading("Times")
        columns = (0.0, 46.0, 88.0, 136.0)
        rows = [("", "planned", "to use", "as it was")]
        for row in self.record.document["times"]:
            latest = "at the latest " if row["event"] == "in_place" else ""
            rows.append(
                (EVENTS[row["event"]], self._moment(row["planned_min"]), self._moment(row["recommended_min"], latest, up=row["event"] == "released"),
                 self._moment(row["actual_min"], missing="not written down"))
            )  # fmt: skip
        for i, cells in enumerate(rows):
            self.room(LINE * POINTS)
            for x, cell in zip(columns, cells, strict=True):
                self.text(MARGIN + x, self.y, cell, POINTS, DIM if i == 0 else INK, bold=i > 0 and x == 0.0)
            self.y += LINE * POINTS

    def _moment(self, minutes: float | None, before: str = "", missing: str = "", *, up: bool = False) -> str:
        if minutes is None:
            return missing
        mixed = self.record.site.mixed_at
        if mixed is None:
            return before + duration(minutes, up=up).partition(" (")[0]
        return before + clock_words(mixed + minutes, up=up)

    def _charts(self) -> None:
        """Readings over what they should be, and the pressure."""
        r = self.record
        if r.followed is not None:
            axes = self._chart("Temperature in the wall", "°C")
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
            axes = self._chart("Pressure in the bladder", "bar above the air's")
            axes.plot(r.site.pressure.time_min, r.site.pressure.pressure_bar, color=INK, lw=1.0)
            axes.set_ylim(bottom=0.0)

    def _chart(self, heading: str, unit: str) -> Axes:
        """A chart under its heading, with the moment at which the bladder was let down."""
        height = 46.0
        self.room(height + 16.0)
        self.heading(heading)
        axes = self.axes(height, 12.0, 2.0)
        released = self.record.site.events.get("released")
        if released is not None:
            axes.axvline(released, color=DIM, lw=1.0, ls="--")
        axes.set_xlabel("minutes from mixing" + ("; dashed: bladder let down" if released is not None else ""), fontsize=8)
        axes.set_ylabel(unit, fontsize=8)
        axes.tick_params(labelsize=8)
        return axes

    def _cautions(self) -> None:
        self.heading("Cautions")
        reasons = {reason.code for reason in self.record.prediction.answer.reasons}
        for reason in self.record.prediction.answer.reasons:
            self.line(reason.text, color=HTML_COLOURS[reason.status], gap=0.4)
        for caution in self.record.prediction.verdict["cautions"]:
            if caution["code"] not in reasons:
                self.line(caution["text"], 8.0, gap=0.4)

    def _inputs(self) -> None:
        self.heading("What it rests on")
        r = self.record
        case = r.prediction.case.document
        T = case.get("initial_temperature_C", {})
        said = ", ".join(f"{name} {value:g} °C" for name, value in T.items() if isinstance(value, int | float))
        pipe, liner = case["pipe"], case["liner"]
        self.pair("Resin model", r.prediction.case.resin.title + (", ESTIMATED MODEL" if r.prediction.case.resin.estimated else ""), LABEL)
        self.pair("Pipe, liner", f"{pipe['material']}, bore {pipe['inner_diameter_mm']:g} mm; liner {liner['thickness_mm']:g} mm thick, "
                   f"{liner['length_mm']:g} mm long", LABEL)  # fmt: skip
        self.pair("Temperatures", said or "by default", LABEL)
        if r.prediction.ranges is not None:
            self.pair("Not known exactly", r.prediction.ranges.uncertain, LABEL)
        for name, digest in r.document["models"].items():
            self.pair(name.partition("/")[2], f"sha256 {digest[:32]}…", LABEL)

    def _signatures(self) -> None:
        self.room(30.0)
        self.y += 16.0
        page = self.page
        for i, who in enumerate(("Crew", "Engineer", "Client")):
            left = MARGIN + i * 62.0
            height = 1.0 - self.y / self.height
            page.add_artist(Line2D([left / self.width, (left + 54.0) / self.width], [height, height], transform=page.transFigure, color=DIM, lw=0.6))
            self.text(left, self.y + 4.5, f"{who}: name, date, signature", 7.5, DIM)
        self.y += 8.0
