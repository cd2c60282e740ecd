"""Where the fields of an estimate come from: solved, or kept."""
