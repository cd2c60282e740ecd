"""How far to believe a number, and what to mind."""
