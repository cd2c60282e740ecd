"""Turns, resistances and curves to currents: plain SI numbers in and out."""
