"""One design in, everything the tool knows about it out."""
