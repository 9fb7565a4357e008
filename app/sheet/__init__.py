"""The printed job sheet: drawings, pictures and pages made from what ``core.job.sheet`` tells. Needs no display."""
