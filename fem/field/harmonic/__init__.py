"""Eddy currents in conductors at one frequency, in two dimensions."""
