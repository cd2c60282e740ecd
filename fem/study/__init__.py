"""Job files, the estimate of one design, cautions and bands."""
