"""What one decides by, as data: a screen and a printed sheet are made from it and say the same."""
