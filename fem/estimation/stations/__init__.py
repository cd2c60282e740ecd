"""The sections of an estimate, one after the other."""
