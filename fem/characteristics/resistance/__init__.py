"""Resistance of windings and leads, with direct and with alternating current."""
