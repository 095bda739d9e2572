"""One job from what a crew knows: questions in its own words, a case with wider ranges where it does not know, answers by the clock."""

from libcure.job.facts import FACTS, Fact, Said, read_answer
from libcure.job.page import JobPage
from libcure.job.plan import Job, job_of
from libcure.job.places import PLACES, Place

__all__ = ["FACTS", "PLACES", "Fact", "Job", "JobPage", "Place", "Said", "job_of", "read_answer"]
