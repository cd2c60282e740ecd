"""The first job file by question and answer: what is asked, and what is written."""
