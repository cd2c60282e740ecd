"""The circuit: plain SI numbers and curves in, currents and voltages out."""
