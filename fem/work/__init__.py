"""The piece between the lead ends, in one dimension, up into the melt."""
