"""Machines whose numbers are known by other routes than the tool's, and jobs of what a shop would read of them."""
