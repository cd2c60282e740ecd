"""Helpers shared by the tests: laws, meshes and sections built by hand, published values, an independent solver."""
