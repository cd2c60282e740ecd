"""The machine as lumps of metal that currents heat."""
