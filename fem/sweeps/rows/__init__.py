"""The rows of a sweep, kept on disk while it runs."""
