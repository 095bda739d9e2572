"""One job from what a crew knows: questions in its own words, a case with wider ranges where it does not know, answers by the clock."""

from libcure.job.facts import FACTS, Fact, Said, read_answer
from libcure.job.places import PLACES, Place
from libcure.job.plan import Job, job_of

__all__ = ["FACTS", "PLACES", "Fact", "Job", "Place", "Said", "job_of", "read_answer"]
