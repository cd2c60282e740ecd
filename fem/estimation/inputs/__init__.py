"""What the physics takes, made from what the user described: the only place where turns meet the field."""
