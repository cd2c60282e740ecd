"""What the circuit does: idle, shorted, loaded, switched on."""
