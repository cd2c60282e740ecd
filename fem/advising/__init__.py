"""Which measurement to make next: what each would tell of what matters, against its trouble and its danger."""
