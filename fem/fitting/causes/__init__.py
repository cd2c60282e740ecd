"""What may be wrong with a machine, each a small change of the model, ranked by what the readings say."""
