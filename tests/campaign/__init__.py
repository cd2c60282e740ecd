"""Many random job files, command lines and designs, judged by what must hold for any of them.

`python -m tests.campaign --help` runs a part of any size and goes on where it stopped; `--show SEED` prints a design.
"""
