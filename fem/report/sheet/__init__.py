"""The bench sheet: two printed pages of one estimate, to lie beside the work and to write readings on."""
