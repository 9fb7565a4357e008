"""The bodies of the job sheet's seven lines. Each shows the job by ``refresh`` and wishes through the bench."""
