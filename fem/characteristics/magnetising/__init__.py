"""Flux against ampere-turns of one energised winding."""
