"""Results as files, whole or not at all."""
