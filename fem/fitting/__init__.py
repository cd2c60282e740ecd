"""What readings say of a machine: all that is in doubt of it, fitted to what meters showed."""
