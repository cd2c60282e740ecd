"""The branch circuit up to the primary: its impedance and what opens it."""
