"""Results as figures."""
