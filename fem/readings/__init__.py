"""What meters showed on the bench, and what each of them would have shown on the machine as it is described."""
