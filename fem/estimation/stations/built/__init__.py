"""What is built, and what the field says of it."""
