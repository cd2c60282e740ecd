"""What the user describes, frozen and validated, and the job file it stands in."""
