"""Job files and short scripts of a shop that brazes bandsaw blades: invented, and free to start from."""
