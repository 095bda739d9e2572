"""Which figures a study has, in the order of its report."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from matplotlib.figure import Figure

from libcure.fitting.study import Study
from libcure.render import fit_figures as figures
from libcure.render.model_free_figures import forecasts, without_law

__all__ = ["first", "overview", "rest"]


def overview(study: Study) -> Figure:
    """The one picture of a study: data over the best law, or what there is before that."""
    if study.fits and study.best.runs:
        return figures.curves(study.best)
    if study.runs:
        return figures.baselines(study.runs)
    if study.isoconversional is None:
        raise ValueError("no picture without runs or peaks")
    return figures.energies(study.isoconversional)


Makers = list[tuple[str, Callable[[], Figure]]]


def first(study: Study, size: figures.Size = figures.WIDE) -> Iterator[tuple[str, Figure]]:
    """What is said without a law, with captions: a report shows it before its numbers."""
    energies, free = study.isoconversional, study.model_free
    makers: Makers = []
    if energies is not None:
        makers.append(("Activation energy without a law", lambda: figures.energies(energies, size)))
    if free is not None:
        makers.append(("E, A and master plots without a law", lambda: without_law(free, size)))
    if study.predictions:
        makers.append(("Times foretold without a law, and by the law", lambda: forecasts(study.predictions, size)))
    return _made(makers)


def rest(study: Study, size: figures.Size = figures.WIDE) -> Iterator[tuple[str, Figure]]:
    """Records and laws, with captions."""
    makers: Makers = []
    if study.runs:
        makers.append(("Records and baselines", lambda: figures.baselines(study.runs, size)))
    if study.fits and study.runs:
        makers.append((f"Data over fit: {study.best.law.label}", lambda: figures.curves(study.best, size)))
    if len(study.fits) > 1 and study.runs:
        # Not each with all its curves: these took half of the time of a report.
        makers.append(("The other laws", lambda: figures.misses(study.fits[1:], size)))
    if study.fits:
        makers.append((f"Profile likelihoods, {study.best.law.label}", lambda: figures.profiles(study, size)))
    if study.fits and study.gel_times:
        makers.append(("Gel times", lambda: figures.gel_times(study, size)))
    if study.fits:
        makers.append((f"Correlation of the constants, {study.best.law.label}", lambda: figures.correlation(study.best, size)))
    return _made(makers)


def _made(makers: Makers) -> Iterator[tuple[str, Figure]]:
    return ((caption, figures.styled(make)) for caption, make in makers)
