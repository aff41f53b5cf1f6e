"""Files in and out: job and shop files, cut lists, plan files, and writing whole or not at all."""

from sequencer.files.job_file import load_job
from sequencer.files.output import write_whole
from sequencer.files.plan_file import read_plan

__all__ = ["load_job", "read_plan", "write_whole"]
