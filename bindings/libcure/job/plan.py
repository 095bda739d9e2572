"""From a crew's answers to a case and its ranges, by the core, and the answer to it by the clock."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from libcure import _core
from libcure.case import Case
from libcure.documents import Folders, with_models
from libcure.job.facts import Said
from libcure.job.places import PLACES, Place
from libcure.sampling import UncertainInput

__all__ = ["Job", "job_of"]


@dataclass
class Job:
    """A case with its ranges, as a crew's answers make it."""

    case: Case
    ranges: tuple[UncertainInput, ...]
    place: Place
    taken: list[str]
    """What was not known, and what stands for it."""
    mixed_at: float | None
    """Minutes after midnight; None: not known, so that times count from mixing."""
    planned_min: float
    """From mixing until in place, as planned."""


def job_of(said: Mapping[str, Said], *, title: str = "", file: str = "", models: Folders = None) -> Job:
    """The job that answers describe.

    Args:
        said: answers by key, understood and without doubt; what is missing is not known.
        title: of the case.
        file: where the answers come from, for messages.
        models: folders of models of one's own, in which the resin is looked up too; the job's case keeps them.

    Raises:
        CureError: the resin is not known, or the answers together make no case.
    """
    values = json.dumps({key: answer.value for key, answer in said.items()})
    found = json.loads(_core.plan_job(values, title, file))
    ranges = tuple(
        UncertainInput(i["name"], i["title"], tuple(i["moves"]), i["distribution"], i.get("sd", i.get("half_width"))) for i in found["uncertain"]["inputs"]
    )
    with with_models(models):
        case = Case.from_dict(found["case"])
    return Job(case, ranges, PLACES[found["place"]], found["taken"], found["mixed_at"], found["planned_min"])
