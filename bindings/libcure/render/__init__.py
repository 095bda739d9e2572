"""Who shows what: the renderer of each type and form. Each is loaded, with the library it draws by, when first asked for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libcure import rendering

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import RenderableType

    from libcure.advising import Advice
    from libcure.charting import ChartResult
    from libcure.fitting import Isoconversional, LawFit, ModelFree, Run, Study
    from libcure.following import FollowResult
    from libcure.result import Prediction
    from libcure.validation import Report


@rendering.page.register("libcure.result.Prediction")
def _(result: Prediction) -> RenderableType:
    from libcure.render.verdict_view import VerdictView

    return VerdictView(result)


@rendering.html.register("libcure.result.Prediction")
def _(result: Prediction) -> str:
    from libcure.render import verdict_view

    return verdict_view.html(result)


@rendering.figure.register("libcure.result.Prediction")
def _(result: Prediction) -> Figure:
    from libcure.render import section_plot

    return section_plot.draw(result)


@rendering.write_picture.register("matplotlib.figure.Figure")
def _(figure: Figure, target: Any, suffix: str) -> None:
    from libcure.render import plot

    plot.save(figure, target, suffix)


@rendering.page.register("libcure.advising.result.Advice")
def _(result: Advice) -> RenderableType:
    from libcure.render.advice_view import AdviceView

    return AdviceView(result)


@rendering.html.register("libcure.advising.result.Advice")
def _(result: Advice) -> str:
    from libcure.render import advice_view

    return advice_view.html(result)


@rendering.page.register("libcure.following.result.FollowResult")
def _(result: FollowResult) -> RenderableType:
    from libcure.following.view import FollowView

    return FollowView(result)


@rendering.html.register("libcure.following.result.FollowResult")
def _(result: FollowResult) -> str:
    from libcure.following import view

    return view.html(result)


@rendering.figure.register("libcure.following.result.FollowResult")
def _(result: FollowResult) -> Figure:
    from libcure.following import figure

    return figure.draw(result)


@rendering.html.register("libcure.charting.result.ChartResult")
def _(result: ChartResult) -> str:
    from libcure.render import chart_page as page

    return page.fragment(result)


@rendering.document.register("libcure.charting.result.ChartResult")
def _(result: ChartResult) -> str:
    from libcure.render import chart_page as page

    return page.html(result)


@rendering.figure.register("libcure.charting.result.ChartResult")
def _(result: ChartResult) -> Figure:
    from libcure.render import chart_sheet as sheet

    return sheet.draw(result)


@rendering.publication.register("libcure.charting.result.ChartResult")
def _(result: ChartResult, kit: bool) -> dict[str, Callable[[], bytes]]:
    from libcure.render import chart_kit

    return chart_kit.files(result, kit)


@rendering.write_picture.register("libcure.render.chart_canvas.SheetFigure")
def _(figure: Figure, target: Any, suffix: str) -> None:
    from libcure.render import chart_sheet as sheet

    sheet.save(figure, target, suffix)


@rendering.report.register("libcure.fitting.study.Study")
def _(study: Study, folder: Path) -> tuple[Path, Path]:
    from libcure.render import fit_report as report

    return report.write_report(study, folder)


@rendering.html.register("libcure.fitting.run.Run")
@rendering.html.register("libcure.fitting.law_fit.LawFit")
@rendering.html.register("libcure.fitting.isoconversional.Isoconversional")
@rendering.html.register("libcure.fitting.model_free.analysis.ModelFree")
@rendering.html.register("libcure.fitting.study.Study")
def _(shown: Run | LawFit | Isoconversional | ModelFree | Study) -> str:
    from libcure.render import fit_report as report

    return report.part(shown)


@rendering.figure.register("libcure.fitting.run.Run")
def _(run: Run) -> Figure:
    from libcure.render import fit_figures as figures

    return figures.styled(figures.baselines, [run])


@rendering.figure.register("libcure.fitting.law_fit.LawFit")
def _(fit: LawFit) -> Figure:
    from libcure.render import fit_figures as figures

    return figures.styled(figures.curves, fit)


@rendering.figure.register("libcure.fitting.isoconversional.Isoconversional")
def _(free: Isoconversional) -> Figure:
    from libcure.render import fit_figures as figures

    return figures.styled(figures.energies, free)


@rendering.figure.register("libcure.fitting.study.Study")
def _(study: Study) -> Figure:
    from libcure.render import fit_pictures
    from libcure.render.fit_figures import styled

    return styled(fit_pictures.overview, study)


@rendering.figure.register("libcure.fitting.model_free.analysis.ModelFree")
def _(free: ModelFree) -> Figure:
    from libcure.render.fit_figures import styled
    from libcure.render.model_free_figures import without_law

    return styled(without_law, free)


@rendering.report.register("libcure.validation.Report")
def _(found: Report, folder: Path) -> tuple[Path, Path]:
    from libcure.render import validation_report

    return validation_report.write(found, folder)
